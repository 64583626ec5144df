"""One putt with how it was played, flat: what all statistics are made from.

Metres, degrees, millimetres; right of the line and past the hole are positive. What is not known is
None or an empty text, and a statistic that needs it leaves the putt out and counts without it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from typing import TYPE_CHECKING

from puttvision.drill import catalogue
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options, Rules
from puttvision.errors import DrillError
from puttvision.physics import feet
from puttvision.putts import Figure, Putt

if TYPE_CHECKING:
    from puttvision.journal.history import Played

LAST = 5
"""Putts that count as the last of a streak, where the target is ten or more; else half the target."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """A putt in its session and its drill."""

    session: int
    day: date
    putt: Putt
    at: float = 0.0
    """Where in its session it was played, 0 the first to 1 the last."""
    drill: str = ""
    made: bool | None = None
    """As the drill counts it; None where no drill counted it."""
    asked_m: float | None = None
    grip: str = ""
    side: str = ""
    """Which way it breaks, in the drill's words."""
    slope: str = ""
    gate_mm: float | None = None
    stimp_ft: float | None = None
    target: int | None = None
    """Made in a row that the drill's stage asks for; None: it asks for no streak."""
    streak: int = 0
    """Made in a row before this putt, in its stage."""

    @property
    def holed(self) -> bool | None:
        return None if self.putt.outcome == "unseen" else self.putt.outcome == "holed"

    @property
    def distance_m(self) -> float | None:
        """As measured, else as the drill asks."""
        return self.putt.hole_distance_m.value if self.putt.hole_distance_m else self.asked_m

    @property
    def start_line(self) -> Figure:
        """Start direction in degrees, to the hole: what the player's aim and stroke made of it."""
        return self.putt.start_direction_to_hole_deg

    @property
    def through(self) -> bool | None:
        """Through the ball gate; None where there was none."""
        return None if self.putt.gate_result == "none" else self.putt.gate_result != "outside"

    @property
    def near_the_end(self) -> bool:
        """Among the last putts of a streak that the drill asks for."""
        return self.target is not None and self.target - self.streak <= last_of(self.target)


def last_of(target: int) -> int:
    """How many putts count as the last of a streak of ``target``."""
    return min(LAST, target // 2)


def attempts(played: Iterable[Played]) -> list[Attempt]:
    """The journal's putts in the order played; a putt counts in the first drill scored from it."""
    out: list[Attempt] = []
    session: int | None = None
    mine: list[Played] = []
    for one in played:
        if one.session.id != session:
            out += _of_session(mine)
            session, mine = one.session.id, []
        mine.append(one)
    return out + _of_session(mine)


def _of_session(played: Sequence[Played]) -> list[Attempt]:
    out = []
    streak, stage = 0, None
    for place, one in enumerate(played):
        facts, line = one.session, one.line
        attempt = Attempt(
            session=facts.id,
            day=facts.day,
            putt=one.putt,
            at=place / max(len(played) - 1, 1),
            gate_mm=facts.gate.width_mm.value if facts.gate else None,
            stimp_ft=facts.stimp_ft.value,
        )
        if line is not None:
            if line.stage != stage:
                streak, stage = 0, line.stage
            card = next((card for card in facts.cards if card.id == line.card_id), None)
            attempt = replace(
                attempt,
                drill=line.drill,
                made=line.made,
                asked_m=line.distance_m,
                grip=line.grip,
                side=line.side,
                slope=line.slope,
                gate_mm=line.gate_mm if attempt.gate_mm is None else attempt.gate_mm,
                target=streak_target(line.drill, card.options.get("target") if card else None, line.stage),
                streak=streak,
            )
            streak = streak + 1 if line.made else 0
        out.append(attempt)
    return out


@cache
def streak_target(drill: str, asked: int | None, stage: int) -> int | None:
    """Made in a row that a drill of one stage asks for, a miss setting it back to none; None: it does not, or
    it is none of the catalogue's."""
    if drill not in catalogue.names():
        return None
    rules: Rules = catalogue.load(drill)
    try:
        rules = with_options(rules, Options(target=asked))
    except DrillError:
        return None
    if not 1 <= stage <= len(rules.stages):
        return None
    here = rules.stages[stage - 1]
    in_a_row = len(rules.stages) == 1 and here.make is not None and here.on_fault == "count back"
    return here.make if in_a_row and not here.misses_allowed else None


# --- by what they are told apart -------------------------------------------------------------


def distance_band(distance_m: float) -> int:
    """Nearest foot up to 12, then nearest 5 feet: how putts of like distance are put together."""
    in_feet = feet(distance_m)
    return max(round(in_feet), 1) if in_feet < 12.5 else 5 * round(in_feet / 5)


def _distance(attempt: Attempt) -> str:
    return "" if attempt.distance_m is None else f"{distance_band(attempt.distance_m)} ft"


def _gate(attempt: Attempt) -> str:
    if attempt.gate_mm is None or attempt.through is None:
        return ""
    return f"{5 * round(attempt.gate_mm / 5)} mm"


def _time(attempt: Attempt) -> str:
    return "first third" if attempt.at < 1 / 3 else "last third" if attempt.at > 2 / 3 else ""


def _under_streak(attempt: Attempt) -> str:
    if attempt.target is None:
        return ""
    if attempt.near_the_end:
        return "last putts of a streak"
    return "first putts of a streak" if attempt.streak < last_of(attempt.target) else ""


KEYS: dict[str, Callable[[Attempt], str]] = {
    "drill": lambda attempt: attempt.drill,
    "distance": _distance,
    "grip": lambda attempt: attempt.grip,
    "break": lambda attempt: attempt.side,
    "gate": _gate,
    "time": _time,
    "streak": _under_streak,
}
"""What putts can be told apart by; an empty text leaves a putt out."""


def by(key: str, all_: Iterable[Attempt]) -> dict[str, list[Attempt]]:
    """Attempts told apart by a key of `KEYS`; numbers rise, else in the order first met."""
    found: dict[str, list[Attempt]] = {}
    for attempt in all_:
        name = KEYS[key](attempt)
        if name:
            found.setdefault(name, []).append(attempt)
    if key in ("distance", "gate"):
        return dict(sorted(found.items(), key=lambda item: float(item[0].split()[0])))
    return found


def sessions(all_: Iterable[Attempt]) -> list[list[Attempt]]:
    """Attempts session by session, in the order played."""
    found: dict[int, list[Attempt]] = {}
    for attempt in all_:
        found.setdefault(attempt.session, []).append(attempt)
    return list(found.values())
