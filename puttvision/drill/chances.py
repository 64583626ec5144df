"""What a player holes and gets through the gate, putt by putt of a drill.

A `Player` is chances as the coach gives them (one for every putt, or by stage, distance or player's
name), a stroke (see `stroke.py`), or both: a chance that is given goes before one that the stroke
would give. Putts are taken as independent of each other: no streak makes the next putt easier.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from puttvision.drill.reader import nearest
from puttvision.drill.rules import GATE_WORDS, Distance, Rules, Setting
from puttvision.drill.stroke import Stroke, gate_chance, make_and_gate_chance, make_chance
from puttvision.errors import DrillError
from puttvision.putts import Putt

EVERY = ""
"""The key of a chance that holds for every putt."""

_HOLE_WORDS = frozenset({"holed", "missed", "short", "past", "left", "right"})
_FEET = re.compile(r"(?P<value>\d+(?:\.\d+)?) ?(?P<unit>ft|m)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One player's chances. ``make``: (key, chance) pairs; a key is `EVERY`, a stage's number or title,
    a distance such as ``6 ft``, or in a drill for two a player's name."""

    make: tuple[tuple[str, float], ...] = ()
    gate: float | None = None
    """Chance of going through the gate."""
    gate_if_holed: float | None = None
    """The same of a putt that is holed; None: as of any other."""
    stroke: Stroke | None = None
    gate_wider_mm: float = 0.0
    """How much wider the gate is set than the drill says; only a stroke sees it."""

    def __post_init__(self) -> None:
        for name, chance in (*self.make, ("gate", self.gate), ("gate_if_holed", self.gate_if_holed)):
            if chance is not None and not 0 <= chance <= 1:
                raise DrillError(
                    f"a chance from 0 to 1 was due{f' for {name}' if name else ''}, got {chance:g}"
                )


class PuttChances(NamedTuple):
    """Chances of the four things a putt can do; they sum to 1. ``through``: through the gate."""

    holed_through: float
    holed_outside: float
    missed_through: float
    missed_outside: float

    @property
    def holed(self) -> float:
        return self.holed_through + self.holed_outside


EVENTS = (
    Putt(number=1, outcome="holed", gate_result="clear"),
    Putt(number=1, outcome="holed", gate_result="outside"),
    Putt(number=1, outcome="missed", gate_result="clear"),
    Putt(number=1, outcome="missed", gate_result="outside"),
)
"""The putts that `PuttChances` weighs, in its order."""
EVENTS_WITHOUT_GATE = (Putt(number=1, outcome="holed"), Putt(number=1, outcome="missed"))


def every(chance: float) -> Player:
    """A player with one chance of holing every putt."""
    return Player(make=((EVERY, chance),))


def gate_counts(rules: Rules, player: Player) -> bool:
    """Whether the gate is reckoned with: the rules read it and the player's chance of passing is known."""
    return rules.uses_gate and (player.gate is not None or _stroke_sees_gate(rules, player))


def hole_counts(rules: Rules) -> bool:
    """Whether holing a putt matters at all."""
    return bool(rules.measures) or any(
        stage.play_out or any(_HOLE_WORDS.intersection(condition.words) for condition in stage.conditions)
        for stage in rules.stages
    )


def events(rules: Rules, player: Player) -> tuple[Putt, ...]:
    """The putts to tell apart; `event_chances` gives their chances in the same order."""
    return EVENTS if gate_counts(rules, player) else EVENTS_WITHOUT_GATE


def event_chances(rules: Rules, player: Player, stage: int, how: Setting, side: int = 0) -> tuple[float, ...]:
    """Chances of `events`, in the same order; arguments and errors as `putt_chances`."""
    chances = putt_chances(rules, player, stage, how, side)
    return tuple(chances) if gate_counts(rules, player) else (chances.holed, 1 - chances.holed)


def reads_stroke(rules: Rules, player: Player) -> bool:
    """Whether chances are not enough: the rules read measures, or the next putt lies where the last ended."""
    return bool(rules.measures) or (player.stroke is not None and any(s.play_out for s in rules.stages))


def putt_chances(rules: Rules, player: Player, stage: int, how: Setting, side: int = 0) -> PuttChances:
    """The chances of one putt: ``stage`` counts from 0, ``side`` is 1 for the second player.

    Where both are given, not modelled, holing and the gate are taken as independent; ``gate_if_holed``
    says otherwise. Raises DrillError where a chance is lacking.
    """
    given = given_chance(rules, player, stage, how, side)
    gate = gate_of(rules, how, player)
    stroke = player.stroke
    modelled = make_chance(stroke, how.distance.metres) if stroke and how.distance else None
    if given is None and modelled is None:
        if hole_counts(rules):
            raise DrillError(_lacking(rules, player, stage, how))
        given = 0.0
    make = given if given is not None else modelled or 0.0
    if player.gate is not None:
        through = player.gate
        if_holed = player.gate if player.gate_if_holed is None else player.gate_if_holed
        return _split(make, make * if_holed, (1 - make) * through)
    if stroke is None or gate is None:
        return _split(make, 0.0, 0.0)
    through = gate_chance(stroke, *gate)
    if modelled is None or how.distance is None:
        return _split(make, make * through, (1 - make) * through)
    both = make_and_gate_chance(stroke, how.distance.metres, *gate)
    both = make * (both / modelled if modelled > 0 else through)
    return _split(make, both, min(max(through - both, 0.0), 1 - make))


def _split(make: float, holed_through: float, missed_through: float) -> PuttChances:
    return PuttChances(
        holed_through, make - holed_through, missed_through, max(1 - make - missed_through, 0.0)
    )


def gate_of(rules: Rules, how: Setting, player: Player) -> tuple[float, float] | None:
    """(metres ahead, opening in mm) of the ball gate; None where the drill does not say."""
    gate = rules.gate
    if gate is None or gate.kind != "ball" or gate.ahead_m is None:
        return None
    width = how.gate_mm if how.gate_mm is not None else gate.width_mm
    return None if width is None else (gate.ahead_m, max(width + player.gate_wider_mm, 1.0))


def _stroke_sees_gate(rules: Rules, player: Player) -> bool:
    return player.stroke is not None and rules.gate is not None and rules.gate.ahead_m is not None


# --- chances by key --------------------------------------------------------------------------


def given_chance(rules: Rules, player: Player, stage: int, how: Setting, side: int) -> float | None:
    """The chance given for this putt; the narrowest key that fits goes first."""
    by_key = dict(player.make)
    names = rules.two_players.names if rules.two_players else ()
    keys = [str(how.distance)] if how.distance else []
    keys += [str(stage + 1), rules.stages[stage].title]
    keys += [names[side]] if names else []
    for key in keys:
        if key and key in by_key:
            return by_key[key]
    return by_key.get(EVERY)


def with_keys(rules: Rules, make: Iterable[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    """Chances with their keys as this drill writes them (``6ft`` becomes ``6 ft``).

    Raises DrillError that names what the drill has, where a key fits no putt of it.
    """
    fit = _fitting_keys(rules)
    out: dict[str, float] = {}
    for key, chance in make:
        found = _FEET.fullmatch(key)
        plain = str(Distance(float(found["value"]), "ft" if found["unit"] == "ft" else "m")) if found else key
        if plain != EVERY and plain not in fit:
            raise DrillError(
                f"{rules.name} has no stage, distance or player {key}{nearest(key, fit)}; "
                f"it has: {', '.join(fit)}"
            )
        if plain in out:
            raise DrillError(f"two chances were given for {plain or 'every putt'}: one was due")
        out[plain] = chance
    return tuple(out.items())


def _fitting_keys(rules: Rules) -> list[str]:
    keys = [str(number) for number in range(1, len(rules.stages) + 1)]
    keys += [stage.title for stage in rules.stages if stage.title]
    keys += list(rules.two_players.names) if rules.two_players else []
    return keys + [str(distance) for distance in distances(rules)]


def distances(rules: Rules) -> tuple[Distance, ...]:
    """Every distance a putt of the drill starts from, once each, in the order of the drill."""
    found: dict[Distance, None] = {}
    for stage in rules.stages:
        turned = False
        for turn in stage.turns:
            if turn.of in ("distance_ft", "distance_m"):
                turned = True
                unit = "ft" if turn.of == "distance_ft" else "m"
                found |= {Distance(float(value), "ft" if unit == "ft" else "m"): None for value in turn.each}
        if stage.distance and not turned:
            found[stage.distance] = None
    return tuple(found)


def _lacking(rules: Rules, player: Player, stage: int, how: Setting) -> str:
    where = f" ({how.distance})" if how.distance else ""
    which = f"stage {stage + 1}{where}" if len(rules.stages) > 1 else f"the putts{where}"
    if player.stroke and not how.distance:
        return f"{rules.name} does not say how far {which} of it are: give --make P"
    key = str(stage + 1) if len(rules.stages) > 1 else str(how.distance).replace(" ", "")
    mend = f"--make {key}=P" if player.make and (how.distance or len(rules.stages) > 1) else "--make P"
    return f"no chance is given for {which} of {rules.name}: add {mend}, or the stroke by --start-spread DEG"


def needs_gate(rules: Rules, player: Player) -> bool:
    """Whether the drill cannot be reckoned without the gate: nothing is made, or counts, without it."""
    if not rules.uses_gate or gate_counts(rules, player):
        return False
    made = any(all(GATE_WORDS.intersection(c.words) for c in stage.made_when) for stage in rules.stages)
    return made or rules.options.strict
