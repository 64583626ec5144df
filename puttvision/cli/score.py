"""``puttvision score``: putts.json (or a clip, measured first) and a drill in, scorecard.json out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.clip_options import CaptureRate, Gate, Hole, NoGate, SheetCorners, parse_options
from puttvision.cli.drill_choice import choose, drill_options
from puttvision.cli.keeping import Keeping, PlayedAt, PlayedOn, Player
from puttvision.cli.players import Store
from puttvision.drill.scorecard import score as score_putts
from puttvision.errors import PuttvisionError
from puttvision.files import write_json
from puttvision.putts import PuttSheet, load

if TYPE_CHECKING:
    from puttvision.putt.measure import Options as ClipOptions

SCORECARD_FILE = "scorecard.json"

Target = Annotated[
    int | None, typer.Option("--target", metavar="N", help="How many to make, or points to reach.")
]
Putts = Annotated[int | None, typer.Option("--putts", metavar="N", help="How many putts the drill has.")]
Strict = Annotated[bool, typer.Option("--strict", help="The drill's stricter points.")]
Seed = Annotated[int | None, typer.Option("--seed", metavar="N", help="Another random order.")]
Players = Annotated[
    str | None,
    typer.Option("--players", metavar="A,B", help="Names of the two players, first to putt first."),
]
DrillName = Annotated[
    str,
    typer.Option("--drill", metavar="NAME", help="A drill of `puttvision drills`, or your own FILE.toml."),
]


def score(
    source: Annotated[
        Path, typer.Argument(help="A putts.json, or a clip to measure first.", show_default=False)
    ],
    drill: DrillName,
    target: Target = None,
    putts: Putts = None,
    strict: Strict = False,
    seed: Seed = None,
    players: Players = None,
    out: Annotated[Path, typer.Option(help="Folder for scorecard.json; made where it is missing.")] = Path(
        "score-out"
    ),
    as_json: Annotated[
        bool, typer.Option("--json", help="Print scorecard.json instead of the table.")
    ] = False,
    hole: Hole = None,
    gate: Gate = None,
    no_gate: NoGate = False,
    sheet: SheetCorners = None,
    capture_rate: CaptureRate = None,
    player: Player = None,
    date: PlayedOn = None,
    place: PlayedAt = None,
    store: Store = None,
) -> None:
    """Score a drill: what each putt did, where the drill stands, what comes next.

    SOURCE is a putts.json that `puttvision measure` or `puttvision card` wrote, or was written by
    hand; a clip is measured first, and --hole, --gate, --no-gate, --sheet and --capture-rate go with it
    as with `puttvision measure`. A putt whose end was not seen is set aside and the drill waits.
    """
    rules = choose(drill, drill_options(target, putts, strict, seed, players))
    options = None
    if any((hole, gate, no_gate, sheet, capture_rate is not None)):
        if source.suffix.lower() == ".json":
            raise typer.BadParameter(
                "--hole, --gate, --no-gate, --sheet and --capture-rate go with a clip, not with a putts.json"
            )
        options = parse_options(hole, gate, no_gate, capture_rate, sheet)
    keeping = Keeping.of(player, source, date, store, place)
    found = read_putts(source, out, quiet=as_json, options=options)
    card = score_putts(rules, found.putts)
    data = card.to_json()
    write_json(out / SCORECARD_FILE, data)
    scene = (source.parent if source.suffix.lower() == ".json" else out) / "scene.json"
    told = keeping.keep(found, card, drill, scene) if keeping else ""
    if as_json:
        typer.echo(json.dumps(data, indent=1, ensure_ascii=False))
        return
    from puttvision.cli.score_table import print_scorecard

    print_scorecard(card)
    typer.echo(f"written: {out / SCORECARD_FILE}")
    if told:
        typer.echo(told)


def read_putts(source: Path, out: Path, *, quiet: bool, options: ClipOptions | None = None) -> PuttSheet:
    """The putts of ``source``: a putts.json, or a clip measured into ``out``."""
    if source.is_dir():
        raise PuttvisionError(f"{source} is a folder: give the putts.json or the clip in it")
    if source.suffix.lower() == ".json":
        return load(source)
    if not source.exists():
        raise PuttvisionError(f"there is no file {source}: give a putts.json or a clip")
    from puttvision.cli.measure import measure_to

    return measure_to(source, out, quiet=quiet, options=options)
