"""What to practise next: drills set so that this player succeeds about as often as the coach asks.

The player's chances come from his own putts: the stroke from measured start lines and lengths, else fitted
to what he holed by distance; where enough putts from a drill's distance are known, the make rate itself. The
drill's own odds (`drill.target`) then say what to set.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from puttvision.coaching.attempts import Attempt, by, distance_band, sessions
from puttvision.coaching.long_run import newest
from puttvision.coaching.shown import number, percent
from puttvision.coaching.summary import length_spread, line_spread, share
from puttvision.drill import catalogue
from puttvision.drill.chances import Player, distances
from puttvision.drill.make_tables import Row
from puttvision.drill.options import with_options
from puttvision.drill.rules import Rules
from puttvision.drill.stroke import Stroke, distance_for_chance
from puttvision.drill.target import Aim, propose
from puttvision.drill.target_distance import farthest
from puttvision.drill.words import several
from puttvision.errors import DrillError
from puttvision.physics import feet

NEEDED = 20
"""Putts below which a spread is known to worse than 1.5 times (chi-square) and nothing is proposed."""
NEWEST = 300
"""Only the newest putts count: a player changes."""
USUAL_S = 25.0
"""Seconds a putt where no clip tells; common practice, no source."""
NEAR = 0.2
"""How far the chance that a setting leaves may lie from the one asked for: whole numbers seldom hit it."""
FARTHEST_FT = 60.0
"""Beyond it a stroke seen from a few feet says nothing (common practice, no source)."""
LINE_DRILLS = (
    "ball-gate-points",
    "narrowing-gate",
    "head-gate-streak",
    "race-to-ten",
    "break-pairs",
    "nine-six-three",
)
PACE_DRILLS = ("head-gate-streak", "break-pairs", "race-to-ten", "ball-gate-points", "nine-six-three")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One drill to do."""

    drill: str
    title: str
    minutes: float
    says: tuple[str, ...]
    """What to set, with the chance it leaves."""
    rests_on: str
    """The figure of the player it rests on."""
    sets_gate: bool = False
    """Whether a gate's width is among what can be set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What to do next, or what to record first."""

    choices: tuple[Choice, ...]
    notes: tuple[str, ...]


def advise(attempts: Sequence[Attempt], *, chance: float = 1 / 3, minutes: float = 20.0) -> Advice:
    """Two or three drills fitted into ``minutes``, each left to succeed with at least about ``chance``."""
    recent = list(attempts)[-NEWEST:]
    lined = sum(1 for one in recent if one.start_line)
    spots = [one for one in recent if one.holed is not None and one.distance_m is not None]
    if max(lined, len(spots)) < NEEDED:
        short = NEEDED - max(lined, len(spots))
        return Advice(
            choices=(),
            notes=(
                f"too little to go by: {several(len(recent), 'putt')} on record; "
                f"{NEEDED} from a known distance are needed",
                f"record first: ball-gate-points, {max(short, 10)} putts from 10 ft, filmed if the player "
                "agrees (start line, pace and gate), else scored by hand with `puttvision card`",
            ),
        )
    stroke, rests_on = _stroke(recent, spots, lined)
    seconds = _seconds(recent)
    usual = newest(recent)
    order = PACE_DRILLS if usual is None or usual.by_pace else LINE_DRILLS
    n_drills = 2 if minutes < 30 else 3
    each = minutes / n_drills
    choices: list[Choice] = []
    for name in order:
        if len(choices) == n_drills:
            break
        if name == "narrowing-gate" and any(one.sets_gate for one in choices):
            continue  # one drill with a gate set to this player is enough
        made = _choice(name, stroke, spots, chance, each, seconds, rests_on)
        if made:
            choices.append(made)
    far = distance_for_chance(stroke, chance)
    notes = []
    if feet(far) <= FARTHEST_FT:
        notes.append(
            f"one putt is holed {_percent(chance)} of the time from about {feet(far):.0f} ft ({far:.1f} m)"
        )
    notes.append(
        f"{seconds:.0f} s a putt {'as filmed' if seconds != USUAL_S else 'taken as usual'}; "
        f"newest {several(len(recent), 'putt')}"
    )
    if usual is not None:
        worst = "pace" if usual.by_pace else "the start line"
        notes.insert(0, f"drills for {worst} come first: {usual.says}")
    if not choices:
        notes.insert(0, f"no drill leaves a chance of {_percent(chance)} in {minutes:g} minutes: allow more")
    return Advice(choices=tuple(choices), notes=tuple(notes))


def _as_it_is(rules: Rules) -> str:
    """``The drill is putted from 10 ft through a ball gate 65 mm wide.``"""
    gate = ""
    if rules.gate is not None:
        wide = f" {rules.gate.width_mm:g} mm wide" if rules.gate.width_mm is not None else ""
        gate = f" through a {rules.gate.kind} gate{wide}"
    return f"The drill is putted from {', '.join(map(str, distances(rules)))}{gate}."


def _either(says: Iterable[str]) -> list[str]:
    """Each thing that can be set instead of the first begins with "or"."""
    first, *others = says
    return [
        first,
        *(text if text.startswith("Or ") else f"Or {text[0].lower()}{text[1:]}" for text in others),
    ]


def _percent(chance: float) -> str:
    return f"{100 * chance:.0f} %"


def measured(attempts: Sequence[Attempt]) -> tuple[Stroke, float | None, str] | None:
    """Stroke, seconds a putt (None: not known) and what they rest on; None below `NEEDED` putts."""
    lined = sum(1 for one in attempts if one.start_line)
    spots = [one for one in attempts if one.holed is not None and one.distance_m is not None]
    if max(lined, len(spots)) < NEEDED:
        return None
    stroke, rests_on = _stroke(attempts, spots, lined)
    seconds = _seconds(attempts)
    return stroke, None if seconds == USUAL_S else seconds, rests_on


def _stroke(recent: Sequence[Attempt], spots: Sequence[Attempt], lined: int) -> tuple[Stroke, str]:
    pace = length_spread(recent)
    paced = pace.player.value if pace and pace.observed.n >= NEEDED and 0 < pace.player.value < 1 else None
    spread = line_spread(recent)
    if lined >= NEEDED and spread and spread.told:
        own = spread.player
        text = (
            f"start-line spread {number(own.value, 2)}° ({number(own.low, 2)} to {number(own.high, 2)}) of "
            f"{own.n} putts, the film's own scatter taken out, aim taken as right"
        )
        if paced:
            text += f"; pace spread {100 * paced:.0f} % of the length"
        return Stroke(min(own.value, 44.0), paced), text
    from puttvision.drill.stroke_fit import fit_direction  # its optimiser takes a third of a second to load

    rows = [
        Row(float(name.split()[0]), len(mine), sum(bool(one.holed) for one in mine))
        for name, mine in by("distance", spots).items()
    ]
    fit, seen = fit_direction(rows), share(one.holed for one in spots)
    return (
        Stroke(min(max(fit.values[0], 0.05), 44.0), None),
        f"holed {percent(seen) if seen else 'none'} of {len(spots)} putts: as a start-line spread of "
        f"about {fit.values[0]:.1f}° would, all misses taken as line",
    )


def _seconds(recent: Sequence[Attempt]) -> float:
    gaps: list[float] = []
    for mine in sessions(recent):
        times = [one.putt.start_s.value for one in mine if one.putt.start_s.value is not None]
        gaps += [b - a for a, b in pairwise(times) if 1 < b - a < 180]
    return median(gaps) if len(gaps) >= 5 else USUAL_S


def _choice(
    name: str,
    stroke: Stroke,
    spots: Sequence[Attempt],
    chance: float,
    minutes: float,
    seconds: float,
    rests_on: str,
) -> Choice | None:
    rules = catalogue.load(name)
    make, seen = [], []
    for distance in distances(rules):
        mine = [one for one in spots if distance_band(one.distance_m or 0) == distance_band(distance.metres)]
        rate = share(one.holed for one in mine)
        if rate and rate.n >= NEEDED and 0 < rate.value < 1:
            make.append((str(distance), rate.value))
            seen.append(f"holed {percent(rate)} of {rate.n} from {distance}")
    player = Player(make=tuple(make), stroke=stroke)
    aim = Aim(chance=chance, minutes=minutes, seconds_per_putt=seconds)
    try:
        if "putts" in rules.may_change and aim.limit is not None:  # so many as the time allows
            rules = with_options(rules, replace(rules.options, putts=aim.limit))
        found = [*propose(rules, player, aim).proposals, farthest(rules, Player(stroke=stroke), aim)]
    except DrillError:
        return None
    fitting = [one for one in found if one and one.what != "within" and abs(one.chance - chance) <= NEAR]
    if not fitting:
        return None
    return Choice(
        drill=name,
        title=rules.title,
        minutes=minutes,
        says=(_as_it_is(rules), *_either(one.says for one in fitting)),
        rests_on="; ".join([*seen, rests_on]),
        sets_gate=any(one.what == "gate_mm" for one in fitting),
    )
