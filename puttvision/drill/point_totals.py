"""How a drill's points scatter, from its Markov chain; hundredths of a point."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from puttvision.drill.absorb import Absorbing
from puttvision.drill.chain import Chain

Array = NDArray[np.float64]

MOST_WORK = 60_000_000
"""Additions for a table, each step of a state counted as `CALL` at least: about a second; beyond it, none."""
CALL = 64
LONGEST = 10_000
"""Putts after which a drill without a fixed length is as good as over, or too long for a table."""
NEGLIGIBLE = 1e-13


def points_table(chain: Chain, horizon: int | None = None) -> dict[int, float] | None:
    """Chance of each total when the drill is over, or after ``horizon`` putts; None: too much work."""
    unit = int(np.gcd.reduce(np.abs(chain.points[chain.chance > 0]), initial=0)) or 1
    moves = _moves(chain, unit)
    live: dict[int, _Totals] = {0: _Totals(0, np.ones(1))}
    over = _Totals(0, np.zeros(1))
    work = 0
    for _ in range(LONGEST if horizon is None else horizon):
        after: dict[int, _Totals] = {}
        for state, totals in live.items():
            for to, points, chance in moves[state]:
                work += max(len(totals.chance), CALL)
                if to >= 0:
                    before = after.get(to)
                    after[to] = totals.moved(points, chance) if before is None else before
                    if before is not None:
                        before.take(totals, points, chance)
                else:
                    over.take(totals, points, chance)
        live = after
        if work > MOST_WORK:
            return None
        if sum(float(totals.chance.sum()) for totals in live.values()) < NEGLIGIBLE:
            break
    else:
        if horizon is None:
            return None
        for totals in live.values():
            over.take(totals, 0, 1.0)
    return {
        unit * (over.low + i): float(chance) for i, chance in enumerate(over.chance) if chance > NEGLIGIBLE
    }


class _Totals:
    """Chances of the totals ``low``, ``low`` + 1, ... in units of the drill's points."""

    __slots__ = ("chance", "low")

    def __init__(self, low: int, chance: Array) -> None:
        self.low, self.chance = low, chance

    def moved(self, points: int, share: float) -> _Totals:
        """These with ``points`` more, times ``share``; the tips that no longer count are cut off."""
        found = np.flatnonzero(self.chance > 1e-30)
        if not len(found):
            return _Totals(self.low + points, np.zeros(1))
        first, last = int(found[0]), int(found[-1]) + 1
        return _Totals(self.low + points + first, share * self.chance[first:last])

    def take(self, other: _Totals, points: int, share: float) -> None:
        """Add ``other`` with ``points`` more, times ``share``."""
        low, high = other.low + points, other.low + points + len(other.chance)
        before, behind = max(self.low - low, 0), max(high - self.low - len(self.chance), 0)
        if before or behind:
            self.chance = np.pad(self.chance, (before, behind))
            self.low -= before
        self.chance[low - self.low : high - self.low] += share * other.chance


def _moves(chain: Chain, unit: int) -> list[list[tuple[int, int, float]]]:
    """(next state, points in ``unit``, chance) of each state."""
    return [
        [
            (int(to), int(points) // unit, float(chance))
            for to, points, chance in zip(chain.to[:, i], chain.points[:, i], chain.chance[:, i], strict=True)
            if chance > 0
        ]
        for i in range(chain.n)
    ]


def sd_points(chain: Chain, part: Absorbing, mean: float) -> float:
    """Spread of the sum: E[W^2] from each state is E[r^2 + 2 r W'], W' the sum from the next state on."""
    later = np.zeros(chain.n)
    later[part.kept] = part.expected(chain.reward(chain.points)[part.kept])
    after = np.where(chain.to >= 0, later[np.maximum(chain.to, 0)], 0.0)
    squares = (chain.chance * (chain.points.astype(float) ** 2 + 2 * chain.points * after)).sum(axis=0)
    return math.sqrt(max(float(part.expected(squares[part.kept])[0]) - mean**2, 0.0))
