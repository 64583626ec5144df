"""``puttvision measure``: a clip in, putts.json out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.clip_options import CaptureRate, Gate, Hole, NoGate, SheetCorners, parse_options
from puttvision.cli.keeping import Keeping, PlayedAt, PlayedOn, Player
from puttvision.cli.lens_choice import LensName, with_lens
from puttvision.cli.players import Store
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
    hole: Hole = None,
    gate: Gate = None,
    no_gate: NoGate = False,
    sheet: SheetCorners = None,
    capture_rate: CaptureRate = None,
    lens: LensName = None,
    player: Player = None,
    date: PlayedOn = None,
    place: PlayedAt = None,
    store: Store = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print putts.json instead of the table.")] = False,
) -> None:
    """Measure every putt in a CLIP: start line, pace, gate and outcome.

    The clip shows the whole putt from a tripod, with one or more printed sheets flat on the green
    (`puttvision sheet`) and the hole in the picture. Every figure comes with its 95 % interval.
    """
    options = with_lens(parse_options(hole, gate, no_gate, capture_rate, sheet), clip, lens)
    keeping = Keeping.of(player, clip, date, store, place)
    found = measure_to(clip, out, quiet=as_json, options=options)
    told = keeping.keep(found, scene=out / SCENE_FILE) if keeping else ""
    if as_json:
        typer.echo(json.dumps(to_json(found), indent=1, ensure_ascii=False))
        return
    from puttvision.cli.table import print_putts

    print_putts(found)
    typer.echo(f"written: {out / PUTTS_FILE}")
    if told:
        typer.echo(told)


def measure_to(clip: Path, out: Path, *, quiet: bool, options: Options | None = None) -> PuttSheet:
    """Measure ``clip``, write ``out``/putts.json and scene.json, each whole or not at all; return the putts.

    A progress bar is shown on a terminal unless ``quiet``. Raises PuttvisionError.
    """
    from puttvision.cli.progress import clip_progress
    from puttvision.putt.measure import Options, measure_clip

    check_place(out)  # an hour's clip is not measured for a folder that cannot be written
    options = with_lens(options or Options(), clip)
    with clip_progress(clip.name, quiet=quiet) as told:
        measurement = measure_clip(clip, options, told)
    write_text(out / SCENE_FILE, to_text(measurement.scene))
    write_json(out / PUTTS_FILE, to_json(measurement.sheet))
    return measurement.sheet
