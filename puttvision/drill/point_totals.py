"""How a drill's points scatter, from its Markov chain; hundredths of a point."""

from __future__ import annotations

import math

import numpy as np

from puttvision.drill.absorb import Absorbing
from puttvision.drill.chain import Chain

MOST_WORK = 300_000
"""States with a total carried along, over all putts: about a second; beyond it there is no table."""
LONGEST = 10_000
"""Putts after which a drill without a fixed length is as good as over, or too long for a table."""
NEGLIGIBLE = 1e-13


def points_table(chain: Chain, horizon: int | None = None) -> dict[int, float] | None:
    """Chance of each total when the drill is over, or after ``horizon`` putts; None: too much work."""
    live: dict[tuple[int, int], float] = {(0, 0): 1.0}
    over: dict[int, float] = {}
    moves = [
        [
            (int(to), int(points), float(chance))
            for to, points, chance in zip(chain.to[:, i], chain.points[:, i], chain.chance[:, i], strict=True)
            if chance > 0
        ]
        for i in range(chain.n)
    ]
    work = 0
    for _ in range(LONGEST if horizon is None else horizon):
        after: dict[tuple[int, int], float] = {}
        for (state, total), weight in live.items():
            for to, points, chance in moves[state]:
                if to >= 0:
                    key = (to, total + points)
                    after[key] = after.get(key, 0.0) + weight * chance
                else:
                    over[total + points] = over.get(total + points, 0.0) + weight * chance
        work += len(live)
        live = after
        if work > MOST_WORK:
            return None
        if sum(live.values()) < NEGLIGIBLE:
            break
    else:
        if horizon is None:
            return None
        for (_, total), weight in live.items():
            over[total] = over.get(total, 0.0) + weight
    return {total: chance for total, chance in over.items() if chance > NEGLIGIBLE}


def sd_points(chain: Chain, part: Absorbing, mean: float) -> float:
    """Spread of the sum: E[W^2] from each state is E[r^2 + 2 r W'], W' the sum from the next state on."""
    later = np.zeros(chain.n)
    later[part.kept] = part.expected(chain.reward(chain.points)[part.kept])
    after = np.where(chain.to >= 0, later[np.maximum(chain.to, 0)], 0.0)
    squares = (chain.chance * (chain.points.astype(float) ** 2 + 2 * chain.points * after)).sum(axis=0)
    return math.sqrt(max(float(part.expected(squares[part.kept])[0]) - mean**2, 0.0))
