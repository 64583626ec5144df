"""How a player's chances are given on the command line, for every command that reckons with them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from puttvision.drill.chances import EVERY, Player, with_keys
from puttvision.drill.rules import Rules
from puttvision.drill.stroke import Stroke

Make = Annotated[
    list[str] | None,
    typer.Option(
        "--make",
        metavar="P | WHERE=P",
        help="Chance of holing a putt: for all (0.8), for a stage (2=0.8), a distance (6ft=0.8), "
        "or one of two players (Ines=0.8).",
    ),
]
GateChance = Annotated[
    float | None, typer.Option("--gate", metavar="P", help="Chance of going through the gate.")
]
GateIfHoled = Annotated[
    float | None,
    typer.Option("--gate-holed", metavar="P", help="The same for putts that are holed; else as --gate."),
]
StartSpread = Annotated[
    float | None,
    typer.Option(
        "--start-spread", metavar="DEG", help="How much the start line scatters (standard deviation)."
    ),
]
StartBias = Annotated[
    float, typer.Option("--start-bias", metavar="DEG", help="Mean start line; right of the hole is positive.")
]
PaceSpread = Annotated[
    float | None,
    typer.Option(
        "--pace-spread", metavar="SHARE", help="How much the pace scatters, as a share of the length: 0.08."
    ),
]
SecondsPerPutt = Annotated[
    float | None,
    typer.Option(
        "--seconds-per-putt", metavar="S", min=0.5, max=3600, help="How long a putt takes this player."
    ),
]
Minutes = Annotated[
    float | None,
    typer.Option("--minutes", metavar="T", min=0.01, max=1e6, help="Chance within so many minutes."),
]


Measured = Annotated[
    Path | None,
    typer.Option(
        "--measured",
        metavar="PUTTS.JSON",
        help="Take start line, pace and seconds a putt from measured putts.",
    ),
]


def chance(text: str, option: str) -> float:
    """A chance as people write it: 0.8, 80%, 1/3; typer.BadParameter where it is none."""
    try:
        if text.endswith("%"):
            value = float(text[:-1]) / 100
        elif "/" in text:
            part, whole = text.split("/")
            value = float(part) / float(whole)
        else:
            value = float(text)
    except (ValueError, ZeroDivisionError):
        value = -1.0
    if not 0 <= value <= 1:
        raise typer.BadParameter(f"a chance such as 0.8, 80% or 4/5 was due, got {text}", param_hint=option)
    return value


def stroke_of(spread_deg: float | None, pace: float | None, bias_deg: float) -> Stroke | None:
    """The stroke the options give, or None; typer.BadParameter where it cannot be one."""
    if spread_deg is None:
        if pace is not None or bias_deg:
            name = "--pace-spread" if pace is not None else "--start-bias"
            raise typer.BadParameter("it needs --start-spread DEG beside it", param_hint=name)
        return None
    try:
        return Stroke(spread_deg, pace, bias_deg)
    except ValueError as err:
        raise typer.BadParameter(str(err), param_hint="--start-spread, --pace-spread") from err


def player_of(
    rules: Rules, make: list[str] | None, gate: float | None, gate_holed: float | None, stroke: Stroke | None
) -> Player:
    """The player the options describe, in the words of this drill. Raises DrillError, typer.BadParameter."""
    pairs = []
    for text in make or ():
        where, _, value = text.rpartition("=")
        pairs.append((where.strip() or EVERY, chance(value.strip(), "--make")))
    if gate is None and gate_holed is not None:
        raise typer.BadParameter("it needs --gate P beside it", param_hint="--gate-holed")
    return Player(make=with_keys(rules, pairs), gate=gate, gate_if_holed=gate_holed, stroke=stroke)


def measured_stroke(path: Path, given: Stroke | None) -> tuple[Stroke, float | None]:
    """Stroke and seconds a putt (None: not known) of a putts.json; says what they rest on.

    Raises PuttsError for a file that is none, PuttvisionError where it has too few putts.
    """
    if given is not None:
        raise typer.BadParameter("it says the stroke: leave --start-spread away", param_hint="--measured")
    from datetime import date

    from puttvision.coaching.attempts import Attempt
    from puttvision.coaching.next_drills import NEEDED, measured
    from puttvision.errors import PuttvisionError
    from puttvision.putts import load

    putts = load(path).putts
    found = measured([Attempt(session=0, day=date.min, putt=putt) for putt in putts])
    if found is None:
        raise PuttvisionError(
            f"{path} has {len(putts)} putts: {NEEDED} with a start line are needed to tell a stroke"
        )
    stroke, seconds, rests_on = found
    typer.echo(f"measured: {rests_on}", err=True)
    return stroke, seconds
