"""``puttvision measure``: a clip in, putts.json out."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.files import check_place, write_json, write_text
from puttvision.putts import PuttSheet, to_json
from puttvision.scene import to_text

if TYPE_CHECKING:
    from puttvision.putt.measure import Options

PUTTS_FILE = "putts.json"
SCENE_FILE = "scene.json"


def measure(
    clip: Annotated[Path, typer.Argument(help="The clip, as the phone wrote it.", show_default=False)],
    out: Annotated[Path, typer.Option(help="Folder for the results; made where it is missing.")] = Path(
        "putts-out"
    ),
    hole: Annotated[
        str | None,
        typer.Option(
            metavar="U,V", help="The hole's middle, in pixels of the upright picture, where it is not found."
        ),
    ] = None,
    gate: Annotated[
        tuple[str, str] | None,
        typer.Option(
            metavar="U,V U,V", help="The feet of the ball gate's two posts, in pixels, where not found."
        ),
    ] = None,
    no_gate: Annotated[
        bool, typer.Option("--no-gate", help="No ball gate stands, whatever looks like one.")
    ] = False,
    sheet: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ID:U,V U,V U,V U,V",
            help="A sheet's corners, in quotes: top left, top right, bottom right, bottom left.",
        ),
    ] = None,
    capture_rate: Annotated[
        float | None,
        typer.Option(
            metavar="HZ", help="Frames a second the phone took, where a slow-motion file plays slower."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print putts.json instead of the table.")] = False,
) -> None:
    """Measure every putt in a CLIP: start line, pace, gate and outcome.

    The clip shows the whole putt from a tripod, with one or more printed sheets flat on the green
    (`puttvision sheet`) and the hole in the picture. Every figure comes with its 95 % interval.
    """
    options = parse_options(hole, gate, no_gate, capture_rate, sheet or [])
    found = measure_to(clip, out, quiet=as_json, options=options)
    if as_json:
        typer.echo(json.dumps(to_json(found), indent=1, ensure_ascii=False))
        return
    from puttvision.cli.table import print_putts

    print_putts(found)
    typer.echo(f"written: {out / PUTTS_FILE}")


def measure_to(clip: Path, out: Path, *, quiet: bool, options: Options | None = None) -> PuttSheet:
    """Measure ``clip``, write ``out``/putts.json and scene.json, each whole or not at all; return the putts.

    A progress bar is shown on a terminal unless ``quiet``. Raises PuttvisionError.
    """
    from puttvision.cli.progress import clip_progress
    from puttvision.putt.measure import measure_clip

    check_place(out)  # an hour's clip is not measured for a folder that cannot be written
    with clip_progress(clip.name, quiet=quiet) as told:
        measurement = measure_clip(clip, options, told)
    write_text(out / SCENE_FILE, to_text(measurement.scene))
    write_json(out / PUTTS_FILE, to_json(measurement.sheet))
    return measurement.sheet


def parse_options(
    hole: str | None,
    gate: tuple[str, str] | None,
    no_gate: bool,
    capture_rate: float | None,
    sheets: list[str],
) -> Options:
    """Turn the words of the command line into options; a wrong word is a usage error (exit code 2)."""
    from puttvision.putt.measure import Options

    if gate is not None and no_gate:
        raise typer.BadParameter("--gate and --no-gate exclude each other")
    if capture_rate is not None and not 1 <= capture_rate <= 2000:
        raise typer.BadParameter(f"--capture-rate: frames a second, 1 to 2000, got {capture_rate:g}")
    return Options(
        hole_px=None if hole is None else pixel(hole, "--hole"),
        gate_px=None if gate is None else (pixel(gate[0], "--gate"), pixel(gate[1], "--gate")),
        sheet_px=dict(sheet_corners(text) for text in sheets),
        no_gate=no_gate,
        capture_rate_hz=capture_rate,
    )


def sheet_corners(text: str) -> tuple[int, tuple[tuple[float, float], ...]]:
    """``"3:10,20 90,20 90,80 10,80"`` to (3, its four corners)."""
    number, colon, rest = text.partition(":")
    corners = rest.split()
    if not colon or number not in {str(i) for i in range(10)} or len(corners) != 4:
        raise typer.BadParameter(
            "--sheet: a sheet's number and four corners were due, such as "
            f"'3:10,20 90,20 90,80 10,80', got {text}"
        )
    return int(number), tuple(pixel(corner, "--sheet") for corner in corners)


def pixel(text: str, option: str) -> tuple[float, float]:
    """``"1312,655"`` to (1312.0, 655.0)."""
    parts = text.split(",")
    try:
        u, v = (float(part) for part in parts)
        if not (math.isfinite(u) and math.isfinite(v)):
            raise ValueError
    except ValueError:
        due = f"{option}: two numbers with a comma were due, such as 1312,655, got {text}"
        raise typer.BadParameter(due) from None
    return u, v
