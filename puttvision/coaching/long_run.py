"""Where the misses of a player's stroke come from in the long run, at the spot he putted from most.

A session's misses are few, and say little; its spreads rest on all its putts. They are carried to the hole
(`propagate.py`), and the misses they would give are shared out by start line, pace and read.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from puttvision.coaching.attempts import Attempt, sessions
from puttvision.coaching.causes import SPOT_M, USUAL_STIMP_FT, break_shape, explain
from puttvision.coaching.propagate import AtTheHole, Spot, at_the_hole
from puttvision.coaching.shown import number, whole
from puttvision.coaching.summary import line_spread
from puttvision.physics import deceleration_from_stimp, feet, slope_acceleration

ENOUGH = 10
"""Putts from one spot in one session, each with line, pace and offset, below which nothing is said (common
practice, no source)."""
STEEPEST = 0.02
"""Cross slope up to which `propagate` was held against rolled putts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LongRun:
    """A session's stroke at one spot and what it does at the hole."""

    spot: Spot
    at_hole: AtTheHole
    n: int
    """Putts it rests on."""

    @property
    def by_pace(self) -> bool:
        """Whether pace costs more putts than the start line."""
        return self.at_hole.miss_by_pace > self.at_hole.miss_by_line

    @property
    def says(self) -> str:
        """``from 10 ft 38 of 100 putts would miss: 24 by start line, 12 by pace, 2 by read (20 putts)``."""
        found = self.at_hole
        shares = (found.miss_by_line, found.miss_by_pace, found.miss_by_read)
        parts = zip(whole([100 * share for share in shares]), ("start line", "pace", "read"), strict=True)
        each = ", ".join(f"{n} by {name}" if n >= 0 else f"{-n} fewer by {name}" for n, name in parts)
        missed, far = number(100 * found.miss_chance), number(feet(self.spot.distance_m))
        return f"from {far} ft {missed} of 100 putts would miss: {each} ({self.n} putts)"


def long_run(session: Sequence[Attempt]) -> LongRun | None:
    """The stroke of one session; None where no spot has `ENOUGH` putts or its slope is beyond the model."""
    split = {part.number: part for part in explain(session).parts}
    spots: dict[tuple[int, str], list[Attempt]] = {}
    for one in session:
        if one.distance_m is not None and one.putt.run_out_m.value is not None:
            spots.setdefault((round(one.distance_m / SPOT_M), one.side), []).append(one)
    if not spots:
        return None
    paced = max(spots.values(), key=len)
    mine = [one for one in paced if one.putt.number in split]
    line = line_spread(mine)
    if len(mine) < ENOUGH or not line or not line.player.value:
        return None
    runs = [one.putt.run_out_m.value or 0.0 for one in paced]
    mean = math.fsum(runs) / len(runs)
    scatter = math.sqrt(math.fsum((run - mean) ** 2 for run in runs) / (len(runs) - 1))
    distance_m = math.fsum(one.distance_m or 0.0 for one in mine) / len(mine)
    stimp_ft, read_m = mine[0].stimp_ft or USUAL_STIMP_FT, split[mine[0].putt.number].read_mm / 1000
    slope = _cross_slope(mine, distance_m, read_m, stimp_ft)
    if mean <= 0 or not scatter or abs(slope) > STEEPEST:
        return None
    spot = Spot(
        distance_m=distance_m,
        stimp_ft=stimp_ft,
        cross_slope=slope,
        start_spread_deg=line.player.value,
        run_out_m=mean,
        run_out_spread_m=scatter,
        read_m=read_m,
    )
    return LongRun(spot=spot, at_hole=at_the_hole(spot), n=len(paced))


def newest(all_: Sequence[Attempt]) -> LongRun | None:
    """That of the newest session which gives one."""
    return next((found for mine in reversed(sessions(all_)) if (found := long_run(mine))), None)


def _cross_slope(mine: Sequence[Attempt], distance_m: float, read_m: float, stimp_ft: float) -> float:
    """The even cross slope that gives these putts their mean break; falls to the right where positive."""
    start_m = [(one.distance_m or 0.0) * math.sin(math.radians(one.start_line.value or 0.0)) for one in mine]
    shape_m = [break_shape(distance_m, max(one.putt.run_out_m.value or 0.0, 0.0)) for one in mine]
    k = (read_m * len(mine) - math.fsum(start_m)) / math.fsum(shape_m)
    return k * 2 * deceleration_from_stimp(stimp_ft) / (slope_acceleration(0.01) / 0.01)
