"""How far away a ball stopped, told by one key: the rules' own limits divide the ground into zones.

A coach who has laid a string 45 cm behind the hole sees whether a ball lies before or behind it, not
that it lies at 31 cm. So a key names a zone. Its figure in putts.json is the zone's middle, and its
u95 that of a ball that may lie anywhere in the zone with equal chance: 95 % of them lie within 0.95
of the half-width. Metres; below 0 is short of the hole.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

from puttvision.drill.rules import Stage
from puttvision.putts import Figure

_LEAST_OPEN_M = 0.9
"""An open zone (``further``) is taken as twice as wide as its limit is far, and at least this. No source."""


class Zone(NamedTuple):
    """Ground between two distances; infinite where it is open."""

    low_m: float
    high_m: float

    @property
    def figure(self) -> Figure:
        """The distance of a ball of which no more is known than that it lies here."""
        low, high = self.low_m, self.high_m
        if math.isinf(high):
            high = low + max(2 * abs(low), _LEAST_OPEN_M)
        elif math.isinf(low):
            low = high - max(2 * abs(high), _LEAST_OPEN_M)
        return Figure(round((low + high) / 2, 4), round(0.95 * (high - low) / 2, 4))

    def words(self, past: bool) -> str:
        """``0 to 45 cm``; ``past``: measured along the line, so that it may be short of the hole."""
        low, high = (f"{abs(100 * value):g}" for value in self)
        if math.isinf(self.high_m):
            return f"over {low} cm"
        if self.high_m <= 0 and past:
            return f"over {high} cm short" if math.isinf(self.low_m) else f"{low} to {high} cm short"
        if self.low_m < 0 and past:
            start = "anything short" if math.isinf(self.low_m) else f"{low} cm short"
            return f"{start} to {high} cm past"
        return f"{low} to {high} cm" if self.low_m > 0 else f"up to {high} cm"


def run_out_zones(stage: Stage) -> tuple[Zone, ...]:
    """Zones along the line that the stage's rules tell apart, from short to far past; () for none.

    A first zone that ends at the hole is left out: its key is ``short``.
    """
    limits = {limit for c in stage.conditions if c.run_out_m for limit in c.run_out_m if math.isfinite(limit)}
    if not limits:
        return ()
    if any({"short", "past"}.intersection(c.words) for c in stage.conditions):
        limits.add(0.0)
    edges = [-math.inf, *sorted(limits), math.inf]
    zones = tuple(Zone(low, high) for low, high in pairwise(edges))
    return zones[1:] if zones[0].high_m == 0 else zones


def leave_zones(stage: Stage) -> tuple[Zone, ...]:
    """Zones round the hole that the stage's rules tell apart, nearest first; () for none."""
    limits = {limit for c in stage.conditions if c.leave_m for limit in c.leave_m if math.isfinite(limit)}
    edges = [0.0, *sorted(limits - {0.0}), math.inf]
    return tuple(Zone(low, high) for low, high in pairwise(edges)) if limits else ()
