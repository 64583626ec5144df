"""``puttvision target``: what to set this player, so that it is neither a gift nor out of reach."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from puttvision.cli.odds import rules_of
from puttvision.cli.player_options import (
    GateChance,
    GateIfHoled,
    Make,
    Measured,
    PaceSpread,
    SecondsPerPutt,
    StartBias,
    StartSpread,
    chance,
    measured_stroke,
    player_of,
    stroke_of,
)
from puttvision.cli.score import Putts, Strict, Target


def target(
    drill: Annotated[str, typer.Argument(help="A drill's name, or your own FILE.toml.", show_default=False)],
    wanted: Annotated[
        str,
        typer.Option("--chance", metavar="P", help="How often the player shall succeed: 1/3, 0.33 or 33%."),
    ] = "1/3",
    make: Make = None,
    gate: GateChance = None,
    gate_holed: GateIfHoled = None,
    within: Annotated[
        int | None, typer.Option("--within", metavar="N", min=1, help="To be done within N putts.")
    ] = None,
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", metavar="T", min=0.01, max=1e6, help="To be done within T minutes (20)."),
    ] = None,
    seconds_per_putt: SecondsPerPutt = None,
    points: Annotated[
        float | None, typer.Option("--points", metavar="N", help="Points to reach, in a set number of putts.")
    ] = None,
    now_target: Target = None,
    putts: Putts = None,
    strict: Strict = False,
    seed: Annotated[int | None, typer.Option("--seed", metavar="N", min=0, help="Of random orders.")] = None,
    start_spread: StartSpread = None,
    pace_spread: PaceSpread = None,
    start_bias: StartBias = 0.0,
    measured: Measured = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the proposals as JSON.")] = False,
) -> None:
    """Propose a target: streak, points, number of putts or gate width at which the player succeeds so often.

    Say how good the player is as in `puttvision odds`, and how long there is by --within or --minutes;
    a drill that ends when it is done is otherwise asked for within 20 minutes, at 20 s a putt.
    """
    asked = chance(wanted, "--chance")
    rules = rules_of(drill, now_target, putts, strict, seed, None)
    stroke = stroke_of(start_spread, pace_spread, start_bias)
    if measured is not None:
        stroke, seconds = measured_stroke(measured, stroke)
        seconds_per_putt = seconds_per_putt or seconds
    player = player_of(rules, make, gate, gate_holed, stroke)
    from puttvision.drill.target import Aim, propose, title, to_json

    aim = Aim(chance=asked, n_putts=within, minutes=minutes, seconds_per_putt=seconds_per_putt, points=points)
    found = propose(rules, player, aim, seed=1 if seed is None else seed)
    if as_json:
        typer.echo(json.dumps(to_json(found), indent=1, ensure_ascii=False))
        return
    typer.echo(f"{title(found)}:")
    for one in found.proposals:
        typer.echo(f"  {one.says}")
    for text in found.taken:
        typer.echo(f"({text})")
