"""Judging one putt by a stage's conditions: made or not, points, faults; or "cannot tell".

Three-valued: a condition holds, does not hold, or cannot be told because a measure is lacking
(``None``). What cannot be told is never counted; the putt is set aside, with the reason.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from puttvision.drill.rules import Condition, Stage, Word
from puttvision.putts import Figure, Putt

_LACKING = {
    "run_out_m": "its run-out was not measured",
    "leave_m": "where it came to rest was not measured",
    "start_line_deg": "its start line was not measured",
    "hole_offset_mm": "the side it passed the hole on was not seen",
}


class Judged(NamedTuple):
    """What the rules need to know of a putt; all else about it changes nothing."""

    holed: bool
    good: bool
    """The try counts as made."""
    points: int
    """Hundredths."""
    fault: int
    """Index into the stage's faults, -1 for none."""


class CannotTell(NamedTuple):
    """Stands where a judgement would be; the drill waits."""

    reason: str


def start_line(putt: Putt) -> Figure:
    """Start-line error: to the ball gate's centre where it was measured, else to the hole."""
    if putt.start_direction_to_gate_deg.value is not None:
        return putt.start_direction_to_gate_deg
    return putt.start_direction_to_hole_deg


def leave_m(putt: Putt) -> float | None:
    """Distance from the hole's centre to the ball at rest; 0 where holed, None where not measured."""
    if putt.outcome == "holed":
        return 0.0
    hole = putt.hole_distance_m.value
    if putt.rest is None or hole is None:
        return None
    along, right = putt.rest.along_m.value, putt.rest.right_m.value
    return None if along is None or right is None else math.hypot(along - hole, right)


def _short(putt: Putt) -> bool | None:
    if putt.outcome == "holed":
        return False
    if putt.run_out_m.value is not None:
        return putt.run_out_m.value < 0
    return None if putt.miss_length is None else putt.miss_length == "short"


def _left(putt: Putt) -> bool | None:
    if putt.outcome == "holed":
        return False
    if putt.hole_offset_mm.value is not None:
        return putt.hole_offset_mm.value < 0
    return None if putt.miss_side is None else putt.miss_side == "left"


def _not(known: bool | None, putt: Putt) -> bool | None:
    """The opposite, of a putt that was missed; holed putts are neither."""
    return False if putt.outcome == "holed" else None if known is None else not known


def word_holds(word: Word, putt: Putt) -> bool | None:
    """Whether one word of a drill file is true of a putt; None where that cannot be told."""
    gate = putt.gate_result
    match word:
        case "holed":
            return putt.outcome == "holed"
        case "missed":
            return putt.outcome == "missed"
        case "through the gate":
            return gate in ("clear", "touched")
        case "clear through the gate":
            return gate == "clear"
        case "touched the gate":
            return gate == "touched"
        case "outside the gate":
            return gate == "outside"
        case "lipped":
            return putt.lipped
        case "short":
            return _short(putt)
        case "past":
            return _not(_short(putt), putt)
        case "left":
            return _left(putt)
        case "right":
            return _not(_left(putt), putt)
        case "any putt":
            return True


def _inside(value: float | None, window: tuple[float, float] | None) -> bool | None:
    if window is None:
        return True
    return None if value is None else window[0] <= value <= window[1]


def _run_out_inside(putt: Putt, window: tuple[float, float] | None) -> bool | None:
    """As `_inside`; a putt scored by hand as short or long can at least be on the wrong side of the hole."""
    if window and putt.run_out_m.value is None and putt.outcome == "missed":
        if putt.miss_length == "short" and window[0] >= 0:
            return False
        if putt.miss_length == "long" and window[1] <= 0:
            return False
    return _inside(putt.run_out_m.value, window)


def holds(condition: Condition, putt: Putt, taken: int = 1) -> bool | CannotTell:
    """Whether a condition holds; ``taken``: putts the ball has taken, this one included."""
    lacking = ""
    for word in condition.words:
        known = word_holds(word, putt)
        if known is False:
            return False
        if known is None:
            lacking = "hole_offset_mm" if word in ("left", "right") else "run_out_m"
    if condition.putts_taken and not condition.putts_taken[0] <= taken <= condition.putts_taken[1]:
        return False
    for name, known in (
        ("run_out_m", _run_out_inside(putt, condition.run_out_m)),
        ("leave_m", _inside(leave_m(putt), condition.leave_m)),
        ("start_line_deg", _inside(_size(start_line(putt).value), condition.start_line_deg)),
    ):
        if known is False:
            return False
        if known is None:
            lacking = name
    return CannotTell(_LACKING[lacking]) if lacking else True


def _size(value: float | None) -> float | None:
    return None if value is None else abs(value)


def _first(conditions: list[Condition], putt: Putt, taken: int) -> int | CannotTell:
    """Index of the first condition that holds, -1 for none."""
    for index, condition in enumerate(conditions):
        known = holds(condition, putt, taken)
        if known is True:
            return index
        if known is not False:
            return known
    return -1


def judge(stage: Stage, putt: Putt, taken: int = 1) -> Judged | CannotTell:
    """Judge a putt that ends a try; ``taken``: putts its ball has taken, this one included."""
    if putt.outcome == "unseen":
        return CannotTell("its end was not seen")
    holed = putt.outcome == "holed"
    if stage.play_out:
        good = holed and taken <= stage.holed_within
    else:
        verdicts = [holds(condition, putt, taken) for condition in stage.made_when]
        good = True in verdicts
        unknown = [verdict for verdict in verdicts if isinstance(verdict, CannotTell)]
        if unknown and not good:
            return unknown[0]
    award = _first([a.when for a in stage.awards], putt, taken)
    if isinstance(award, CannotTell):
        return award
    fault = _first([f.when for f in stage.faults], putt, taken)
    if isinstance(fault, CannotTell):
        return fault
    return Judged(holed, good, stage.awards[award].points if award >= 0 else 0, fault)


def doubt(stage: Stage, putt: Putt) -> str:
    """Words where a limit that decided lies within the uncertainty of the putt's measure; else empty."""
    groups = (stage.made_when, [a.when for a in stage.awards], [f.when for f in stage.faults])
    for group in groups:
        for condition in group:
            if not all(word_holds(word, putt) for word in condition.words):
                continue
            if near := _near_a_limit(condition, putt):
                return f"{near} too near the limit to be sure"
            if holds(condition, putt) is True:
                break
    return ""


def _near_a_limit(condition: Condition, putt: Putt) -> str:
    """Name of a measure that is as near to the condition's limit as its u95; else empty."""
    line = start_line(putt)
    rest_u95 = None
    if putt.rest is not None and putt.outcome != "holed":
        rest_u95 = max(putt.rest.along_m.u95 or 0.0, putt.rest.right_m.u95 or 0.0)
    for name, window, value, u95 in (
        ("run-out", condition.run_out_m, putt.run_out_m.value, putt.run_out_m.u95),
        ("start line", condition.start_line_deg, _size(line.value), line.u95),
        ("distance left", condition.leave_m, leave_m(putt), rest_u95),
    ):
        if window is None or value is None or not u95:
            continue
        # a window that begins at no error and no distance has no limit there
        limits = window if name == "run-out" else [limit for limit in window if limit > 0]
        if any(math.isfinite(limit) and abs(value - limit) < u95 for limit in limits):
            return name
    return ""
