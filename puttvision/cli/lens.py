"""``puttvision lens``: measure a lens once, and every clip filmed with it is measured better."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from puttvision.cli.sheet import PaperName
from puttvision.files import replacing

if TYPE_CHECKING:
    from puttvision.cli.lens_store import Profile
    from puttvision.green.lens_clip import LensReading

lens_app = typer.Typer(
    name="lens", help="Measure a lens once: lens profiles of your phone.", no_args_is_help=True
)


@lens_app.command("board")
def print_board(
    paper: Annotated[
        PaperName, typer.Option(case_sensitive=False, help="Paper in the printer.")
    ] = PaperName.a4,
    out: Annotated[Path, typer.Option(help="PDF file to write.")] = Path("lens-board.pdf"),
) -> None:
    """Write the board to print, one page."""
    from puttvision.printing.board_pdf import board_pdf
    from puttvision.printing.paper import PAPERS

    if out.suffix.lower() != ".pdf":
        raise typer.BadParameter(f"{out} is no PDF: end the name in .pdf.", param_hint="'--out'")
    with replacing(out) as temporary:
        temporary.write_bytes(board_pdf(PAPERS[paper.value]))
    typer.echo(out)
    typer.echo(
        "Tape it flat; film it near, far, tilted each way, in every corner of the picture, with rests."
    )


@lens_app.command("make")
def make(
    clip: Annotated[Path, typer.Argument(help="A clip of the board, about 20 s.", show_default=False)],
    name: Annotated[
        str | None, typer.Option(help="Name of the profile; from phone, lens and mode as it comes.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the profile as JSON.")] = False,
) -> None:
    """Measure the lens of a CLIP of the printed board, or of sheets that were moved about, and keep it.

    Clips of the same phone, lens and video mode are then measured with it by themselves; for others say
    --lens NAME. Film with stabilisation off, no zoom.
    """
    from puttvision.cli.lens_store import Profile, default_name, save
    from puttvision.cli.progress import clip_progress
    from puttvision.green.lens_clip import lens_from_clip

    with clip_progress(clip.name, quiet=as_json) as told:
        reading = lens_from_clip(clip, told)
    facts, readout = reading.facts, reading.readout
    profile = Profile(
        name=name or default_name(facts),
        phone=facts.phone,
        focal_35mm=facts.focal_35mm,
        rate_hz=round(facts.nominal_rate_hz, 3),
        lens=reading.lens,
        readout_s=None if readout is None else round(readout.seconds, 6),
        u_readout_s=None if readout is None else round(readout.u_seconds, 6),
    )
    path = save(profile)
    meaning = in_degrees(profile)
    if as_json:
        typer.echo(json.dumps(_as_json(profile, meaning), indent=1, ensure_ascii=False))
        return
    for line in [*told_of_clip(reading), *in_words(profile, meaning)]:
        typer.echo(line)
    typer.echo(f"written: {path}")


@lens_app.command("list")
def list_lenses(
    as_json: Annotated[bool, typer.Option("--json", help="Print as JSON.")] = False,
) -> None:
    """List the lens profiles on this computer."""
    from puttvision.cli.lens_store import all_profiles

    profiles = all_profiles()
    if as_json:
        typer.echo(json.dumps([_as_json(p, None) for p in profiles], indent=1, ensure_ascii=False))
        return
    if not profiles:
        typer.echo("no lens profile yet: print a board with `puttvision lens board`, then `lens make CLIP`")
    for profile in profiles:
        lens = profile.lens
        of = profile.phone or "a phone without a name in its clips: use it by --lens"
        typer.echo(
            f"{profile.name}: {36 * lens.f_share:.1f} mm, {lens.width}x{lens.height} at "
            f"{profile.rate_hz:.0f}/s, fits to {lens.rms_px:.2f} px; {of}"
        )


@lens_app.command("show")
def show(name: Annotated[str, typer.Argument(help="Name of the profile.", show_default=False)]) -> None:
    """Say all of one profile."""
    from puttvision.cli.lens_store import load

    profile = load(name)
    for line in in_words(profile, in_degrees(profile)):
        typer.echo(line)


@lens_app.command("remove")
def remove_lens(
    name: Annotated[str, typer.Argument(help="Name of the profile.", show_default=False)],
) -> None:
    """Remove a profile."""
    from puttvision.cli.lens_store import remove

    remove(name)
    typer.echo(f"removed: lens profile {name}")


def in_degrees(profile: Profile) -> tuple[float, float]:
    """95 % half-width of a start line in a usual set-up, with one sheet: with the profile, and without.

    A 10 ft putt from 3 m to the side, 1.4 m up, with this lens.
    """
    import numpy as np

    from puttvision.putt.foresee import SetUp, start_line_u95_deg
    from puttvision.putt.known_lens import readout_prior

    lens = profile.lens
    if lens.width < lens.height:
        lens = replace(lens, width=lens.height, height=lens.width)
    setup = SetUp(
        camera=lens.camera(1.4, float(np.arctan2(1.4, 3.0))),
        sheets={0: (0.5, 2.6, 0.3)},
        lie_m=np.array([-1.52, 3.0]),
        hole_m=np.array([1.52, 3.0]),
        hole_cov_px2=np.eye(2) * 0.1**2,
        rate_hz=profile.rate_hz,
        readout_s=readout_prior(1 / profile.rate_hz).seconds,
    )
    return start_line_u95_deg(replace(setup, prior=lens.prior())), start_line_u95_deg(setup)


def told_of_clip(reading: LensReading) -> list[str]:
    """What the clip showed."""
    from puttvision.green.lens import remarks

    what = "frames with the board" if reading.material == "board" else "views of sheets"
    said = [f"{reading.n_seen} {what}, {reading.lens.n_views} that differ used"]
    return [*said, *(f"note: {text}" for text in remarks(reading.lens))]


def in_words(profile: Profile, meaning: tuple[float, float]) -> list[str]:
    """A profile in sentences."""
    lens = profile.lens
    u_mm = 36 * lens.u_f_share
    of = f"{profile.phone}, " if profile.phone else ""
    mode = f"{lens.width}x{lens.height} at {profile.rate_hz:.0f} frames a second"
    out = [
        f"lens profile {profile.name}: {of}{mode}",
        f"focal length {36 * lens.f_share:.2f} ± {1.96 * u_mm:.2f} mm (of a 36 mm picture), "
        f"distortion {lens.model}",
        f"the points fit to {lens.rms_px:.2f} px, out to {100 * min(lens.sees_share, 1):.0f} % of the way "
        "to the picture's corners",
        f"on the green: with one sheet, start lines of a 10 ft putt from 3 m to ± {meaning[0]:.2f}° "
        f"(± {meaning[1]:.2f}° without a profile)",
    ]
    if profile.readout_s is None or profile.u_readout_s is None:
        out.append(
            "read-out time: not told by this clip, the usual 4 to 10 ms is taken; swing the board to tell"
        )
    else:
        out.append(f"read-out time: {1000 * profile.readout_s:.1f} ± {1960 * profile.u_readout_s:.1f} ms")
    return out


def _as_json(profile: Profile, meaning: tuple[float, float] | None) -> dict[str, Any]:
    from dataclasses import asdict

    data = asdict(profile)
    if meaning is not None:
        data["start_line_u95_deg"] = {"with": round(meaning[0], 4), "without": round(meaning[1], 4)}
    return data
