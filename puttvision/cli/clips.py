"""``puttvision clips``: what was measured, drawn on the film, a putt at a time and as a whole."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.drill_choice import choose, drill_options
from puttvision.cli.score import Players, Putts, Seed, Strict, Target
from puttvision.errors import PuttvisionError
from puttvision.files import check_place
from puttvision.putts import PuttSheet, load

if TYPE_CHECKING:
    from puttvision.drill.rules import Rules
    from puttvision.scene import Scene

Drill = Annotated[
    str | None,
    typer.Option(
        "--drill",
        metavar="NAME",
        help="Keep the score of a drill of `puttvision drills`, or of your own FILE.toml.",
    ),
]


def clips(
    clip: Annotated[Path, typer.Argument(help="The clip, as the phone wrote it.", show_default=False)],
    measured: Annotated[
        Path | None,
        typer.Option(
            metavar="PUTTS.JSON",
            help="What `puttvision measure` wrote of this clip, with scene.json beside it; else it is "
            "measured first.",
        ),
    ] = None,
    drill: Drill = None,
    target: Target = None,
    putts: Putts = None,
    strict: Strict = False,
    seed: Seed = None,
    players: Players = None,
    out: Annotated[Path, typer.Option(help="Folder for the clips; made where it is missing.")] = Path(
        "clips-out"
    ),
    only: Annotated[
        str | None,
        typer.Option("--only", metavar="1,4,7", help="Only these putts, and no clip of the whole drill."),
    ] = None,
    capture_rate: Annotated[
        float | None,
        typer.Option(
            metavar="HZ", help="Frames a second the phone took, where a slow-motion file plays slower."
        ),
    ] = None,
) -> None:
    """Write the CLIP anew with what was measured drawn on the green.

    One clip a putt, in real time and then at a quarter of the pace (putt-01.mp4 and so on), and one of the
    whole drill without what lies between the putts (drill.mp4). They show start line, path and pace, the
    gate, the hole and why it was called so, and the score.
    """
    from puttvision.cli.progress import clip_progress
    from puttvision.clip.source import open_clip
    from puttvision.review.clips.make import DRILL_FILE, Studio, write_drill, write_putt

    rules = rules_of(drill, target, putts, strict, seed, players)
    numbers = _numbers(only)
    check_place(out)
    sheet, scene = measured_clip(clip, measured, out, capture_rate)
    with open_clip(clip, capture_rate_hz=scene.capture_rate_hz) as source:
        studio = Studio(source, sheet, scene, rules)
        if not studio.filmed:
            raise PuttvisionError(f"no putt of {clip.name} was filmed: there is nothing to draw")
        missing = sorted(set(numbers or ()) - {item.putt.number for item in studio.filmed})
        if missing:
            raise PuttvisionError(f"--only: there is no filmed putt {missing[0]} in {clip.name}")
        for item in studio.filmed:
            if numbers is None or item.putt.number in numbers:
                path = out / f"putt-{item.putt.number:02d}.mp4"
                with clip_progress(path.name, quiet=False, doing="drawing") as told:
                    write_putt(studio, item, path, told)
                typer.echo(f"written: {path}")
        if numbers is None:
            with clip_progress(DRILL_FILE, quiet=False, doing="drawing") as told:
                write_drill(studio, out / DRILL_FILE, told)
            typer.echo(f"written: {out / DRILL_FILE}")


def measured_clip(
    clip: Path, measured: Path | None, out: Path, capture_rate: float | None
) -> tuple[PuttSheet, Scene]:
    """Putts and scene of a clip: as they lie on disk, or measured into ``out``."""
    from puttvision import scene as scenes
    from puttvision.cli.clip_options import parse_options
    from puttvision.cli.measure import PUTTS_FILE, SCENE_FILE, measure_to

    if measured is None:
        sheet = measure_to(clip, out, quiet=False, options=parse_options(None, None, False, capture_rate, []))
        return sheet, scenes.load(out / SCENE_FILE)
    if measured.is_dir():
        measured = measured / PUTTS_FILE
    sheet = load(measured)
    if sheet.clip is None:
        raise PuttvisionError(f"{measured} was entered by hand: there is no film to draw on")
    return sheet, scenes.load(measured.parent / SCENE_FILE)


def rules_of(
    drill: str | None,
    target: int | None,
    putts: int | None,
    strict: bool,
    seed: int | None,
    players: str | None,
) -> Rules | None:
    options = drill_options(target, putts, strict, seed, players)
    if drill is None:
        if options != drill_options(None, None, False, None, None):
            raise typer.BadParameter("--target, --putts, --strict, --seed and --players go with --drill")
        return None
    return choose(drill, options)


def _numbers(text: str | None) -> tuple[int, ...] | None:
    if text is None:
        return None
    try:
        return tuple(int(part) for part in text.split(","))
    except ValueError:
        raise typer.BadParameter(f"--only: numbers of putts such as 1,4,7 were due, got {text}") from None
