"""``puttvision odds``: what a drill really costs this player, before it is set."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.drill_choice import choose, drill_options
from puttvision.cli.player_options import (
    GateChance,
    GateIfHoled,
    Make,
    Measured,
    Minutes,
    PaceSpread,
    SecondsPerPutt,
    StartBias,
    StartSpread,
    measured_stroke,
    player_of,
    stroke_of,
)
from puttvision.cli.score import Players, Putts, Strict, Target
from puttvision.drill.rules import Rules
from puttvision.drill.stroke import Stroke

if TYPE_CHECKING:
    from puttvision.drill.odds import Odds


def odds(
    drill: Annotated[
        str | None,
        typer.Option(
            "--drill", metavar="NAME", help="A drill of `puttvision drills`, or your own FILE.toml."
        ),
    ] = None,
    make: Make = None,
    gate: GateChance = None,
    gate_holed: GateIfHoled = None,
    target: Target = None,
    putts: Putts = None,
    strict: Strict = False,
    seed: Annotated[
        int | None, typer.Option("--seed", metavar="N", min=0, help="Another random order, or simulation.")
    ] = None,
    players: Players = None,
    within: Annotated[
        list[int] | None,
        typer.Option("--within", metavar="N", min=1, help="Chance of having finished within N putts."),
    ] = None,
    minutes: Minutes = None,
    seconds_per_putt: SecondsPerPutt = None,
    start_spread: StartSpread = None,
    pace_spread: PaceSpread = None,
    start_bias: StartBias = 0.0,
    measured: Measured = None,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", metavar="FILE", help="Also write a picture: FILE.svg or FILE.png."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the figures as JSON.")] = False,
) -> None:
    """Tell the odds of a drill: putts it takes, chance to finish in time, restarts, points.

    Say how good the player is by --make (and --gate), or by the stroke: --start-spread with
    --pace-spread, as measured on film. Without --drill the stroke's make chances by distance are told.
    """
    stroke = stroke_of(start_spread, pace_spread, start_bias)
    if measured is not None:
        stroke, seconds = measured_stroke(measured, stroke)
        seconds_per_putt = seconds_per_putt or seconds
    if drill is None:
        _stroke_alone(stroke, as_json)
        return
    if minutes is not None and seconds_per_putt is None:
        raise typer.BadParameter("it needs --seconds-per-putt S beside it", param_hint="--minutes")
    rules = rules_of(drill, target, putts, strict, seed, players)
    player = player_of(rules, make, gate, gate_holed, stroke)
    from puttvision.drill import odds_words
    from puttvision.drill.odds import odds as odds_of

    found = odds_of(rules, player, seconds_per_putt=seconds_per_putt, seed=1 if seed is None else seed)
    if plot is not None:
        from puttvision.cli.odds_plot import write_plot

        write_plot(found, plot, within or (), minutes)
    if as_json:
        out = odds_words.to_json(found, within or (), minutes)
        typer.echo(json.dumps(out, indent=1, ensure_ascii=False, allow_nan=False))
        return
    _print(found, within or [], minutes)
    if plot is not None:
        typer.echo(f"written: {plot}")


def rules_of(
    drill: str, target: int | None, putts: int | None, strict: bool, seed: int | None, players: str | None
) -> Rules:
    """The drill with its options in force; a seed it has no use for is the simulation's alone."""
    from puttvision.drill.options import with_options

    options = drill_options(target, putts, strict, None, players)
    rules = choose(drill, options)
    if seed is not None and "seed" in rules.may_change:
        return with_options(rules, replace(options, seed=seed))
    return rules


def _stroke_alone(stroke: Stroke | None, as_json: bool) -> None:
    if stroke is None:
        raise typer.BadParameter("a drill, or a stroke by --start-spread DEG, was due", param_hint="--drill")
    from puttvision.drill.odds_words import make_by_feet, make_lines

    if as_json:
        typer.echo(json.dumps({"make_by_feet": make_by_feet(stroke)}, indent=1))
        return
    for line in make_lines(stroke):
        typer.echo(line)


def _print(found: Odds, within: list[int], minutes: float | None) -> None:
    from puttvision.cli.odds_bars import bars
    from puttvision.drill import odds_words

    for line in odds_words.sentences(found, within, minutes):
        typer.echo(line)
    if found.player.stroke:
        for line in odds_words.make_lines(found.player.stroke):
            typer.echo(line)
    picture = bars(found, within)
    if picture:
        typer.echo("")
    for line in picture:
        typer.echo(line)
    typer.echo("")
    first = 1 if found.n_runs else 0  # why it is simulated goes before its standard error
    for text in (*found.notes[:first], odds_words.standing(found), *found.notes[first:]):
        typer.echo(f"({text})")
