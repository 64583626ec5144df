"""Why putts missed, in words: putt by putt, and for the session as a whole. Pure functions of its putts."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from puttvision.coaching.attempts import Attempt
from puttvision.coaching.causes import (
    CAUSES,
    FEWEST,
    SPOT_M,
    USUAL_STIMP_FT,
    Explained,
    break_shape,
    explain,
    why,
)
from puttvision.coaching.propagate import Spot, at_the_hole
from puttvision.coaching.summary import line_spread
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.words import several
from puttvision.physics import deceleration_from_stimp, feet, slope_acceleration
from puttvision.putts import Putt

ENOUGH = 10
"""Putts from one spot below which nothing is said of what this stroke would miss (common practice)."""
_STEEPEST = 0.02
"""Cross slope up to which `propagate` was held against rolled putts."""


@dataclass(frozen=True, slots=True)
class Why:
    """Causes of misses in words."""

    of_putt: dict[int, str]
    """By the number of each missed putt whose cause is told."""
    session: tuple[str, ...]
    """The session as a whole, a sentence each; what cannot be told is said."""


def why_missed(putts: Sequence[Putt], card: Scorecard | None, stimp_ft: float | None) -> Why:
    """Split the misses of one session by start line, pace and read.

    ``card`` gives distance and side where a putt was not measured; ``stimp_ft``: None where not measured.
    """
    played = attempts_of(putts, card, stimp_ft)
    missed = [one for one in played if one.holed is False]
    if not missed:
        return Why({}, ("No putt that was seen to its end missed.",) if played else ())
    found = explain(played)
    of_putt = {one.number: why(one) for one in found.parts if not one.holed}
    of_putt |= {number: "pace: stopped short of the hole" for _, number in found.short}
    return Why(dict(sorted(of_putt.items())), tuple(_session(played, found, len(missed) - len(of_putt))))


def attempts_of(putts: Sequence[Putt], card: Scorecard | None, stimp_ft: float | None) -> list[Attempt]:
    """The putts of one session as `coaching` takes them."""
    lines = {line.putt: line.step.setting for line in card.lines} if card else {}
    out = []
    for putt in putts:
        setting = lines.get(putt.number)
        out.append(
            Attempt(
                session=0,
                day=date.min,
                putt=putt,
                asked_m=setting.distance.metres if setting and setting.distance else None,
                side=setting.side if setting else "",
                stimp_ft=stimp_ft,
            )
        )
    return out


def _session(played: Sequence[Attempt], found: Explained, untold: int) -> list[str]:
    out = []
    told = sum(found.causes.values())
    if told:
        counts = ", ".join(f"{number} by {_named(cause)}" for cause, number in found.causes.items() if number)
        out.append(f"{told} {'miss' if told == 1 else 'misses'} explained: {counts}.")
    if untold:
        out.append(
            f"Too little to tell why {several(untold, 'putt')} missed: it takes {FEWEST} putts from one spot "
            "with start line, pace and where they passed the hole."
        )
    if found.shares:
        each = ", ".join(
            f"{_named(cause)} {_percent(part)}" for cause, part in zip(CAUSES, found.shares.all, strict=True)
        )
        out.append(
            f"What carried putts off the hole's middle, over {found.shares.n} putts, holed ones too: {each}."
        )
    elif told:
        out.append(
            f"Too few putts reached the hole to share it out: {found.shares.n}, and {FEWEST} are needed."
        )
    return out + _stroke(played, found)


def _percent(share: float) -> str:
    """A share below 0 pulled the other way: it carried nothing off."""
    return f"{100 * share:.0f} %" if share > 0.005 else "none"


def _named(cause: str) -> str:
    return {"the rest": "what is not told"}.get(cause, cause)


def _stroke(played: Sequence[Attempt], found: Explained) -> list[str]:
    """What this stroke would miss in the long run from the spot with most putts."""
    by_number = {one.putt.number: one for one in played}
    spots: defaultdict[int, list[int]] = defaultdict(list)
    for part in found.parts:
        spots[round((by_number[part.number].distance_m or 0) / SPOT_M)].append(part.number)
    if not spots:
        return []
    place, numbers = max(spots.items(), key=lambda item: len(item[1]))
    if len(numbers) < ENOUGH:
        return []
    mine = [by_number[number] for number in numbers]
    distance_m = math.fsum(one.distance_m or 0 for one in mine) / len(mine)
    paced = [
        one.putt.run_out_m.value
        for one in played
        if one.putt.run_out_m.value is not None
        and one.distance_m is not None
        and round(one.distance_m / SPOT_M) == place
    ]
    mean = math.fsum(paced) / len(paced)
    scatter = math.sqrt(math.fsum((run - mean) ** 2 for run in paced) / (len(paced) - 1))
    line = line_spread(mine)
    if mean <= 0 or not scatter or not line or not line.player.value:
        return []
    stimp_ft = mine[0].stimp_ft or USUAL_STIMP_FT
    read_m = next(part.read_mm for part in found.parts if part.number == numbers[0]) / 1000
    slope = _cross_slope(mine, distance_m, read_m, stimp_ft)
    if abs(slope) > _STEEPEST:
        return []
    there = at_the_hole(
        Spot(
            distance_m=distance_m,
            stimp_ft=stimp_ft,
            cross_slope=slope,
            start_spread_deg=line.player.value,
            run_out_m=mean,
            run_out_spread_m=scatter,
            read_m=read_m,
        )
    )
    return [
        f"With this stroke from {feet(distance_m):.0f} ft, {100 * there.miss_chance:.0f} of 100 putts would "
        f"miss: {100 * there.miss_by_line:.0f} by start line, {100 * there.miss_by_pace:.0f} by pace, "
        f"{100 * there.miss_by_read:.0f} by read ({len(mine)} putts; a guide, not a count)."
    ]


def _cross_slope(mine: Sequence[Attempt], distance_m: float, read_m: float, stimp_ft: float) -> float:
    """The even cross slope that gives these putts their mean break; falls to the right where positive."""
    start_m = math.fsum(
        (one.distance_m or 0) * math.sin(math.radians(one.start_line.value or 0)) for one in mine
    ) / len(mine)
    shape_m = math.fsum(break_shape(distance_m, max(one.putt.run_out_m.value or 0, 0)) for one in mine)
    k = (read_m - start_m) / (shape_m / len(mine))
    return k * 2 * deceleration_from_stimp(stimp_ft) / (slope_acceleration(0.01) / 0.01)
