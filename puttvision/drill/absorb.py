"""Absorbing Markov chains: how long until the end, and which end; plain linear algebra, no golf.

Rows are states a chain passes through, ``q[i, j]`` the chance of going from i to j, ``ends[i, e]``
that of ending in e from i; a run begins in state 0. Means come from an LU of I - Q, whose
inverse is the fundamental matrix (Kemeny and Snell, *Finite Markov Chains*, ch. III); the distribution
from stepping the chain until what is left of it keeps its shape, from when on it shrinks by the same
factor for ever. Where the end is so rare that I - Q is singular to rounding, the means are summed
along the second way, which never subtracts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from puttvision.drill.transitions import (
    Array,
    Matrix,
    cut,
    entries,
    matrix,
    reached,
    transposed,
    visits_solver,
)

SETTLED = 1e-10
"""Relative change of every state's share from cycle to cycle at which the shape is taken as settled."""
OVER = 1e-14
"""A run that is still going with less chance than this is taken as over."""
MOST_STEPS, MOST_WORK = 150_000, 600_000_000
"""Steps, and steps times states, that are about three seconds; beyond them the distribution is not known."""
CYCLE = 12
"""Steps between comparisons: a chain with a period of 1, 2, 3, 4, 6 or 12 comes back to its shape."""
LU_GOOD_TO = 1e6
"""Mean up to which ten digits of an LU solution are left."""


@dataclass(frozen=True)
class Absorbing:
    """A chain in which every state leads to an end, sooner or later."""

    q: Matrix
    """Shape (n, n)."""
    ends: Array
    """Shape (n, n_ends)."""
    kept: NDArray[np.intp]
    """Which states of the chain it was made from its rows are."""

    @property
    def n(self) -> int:
        return int(self.q.shape[0])

    @cached_property
    def _solve(self) -> Callable[[Array, bool], Array]:
        return visits_solver(self.q)

    def expected(self, reward: Array) -> Array:
        """Mean sum of ``reward`` (a number a state, each time it is left) from each state on; shape (n,)."""
        return self._solve(np.asarray(reward, dtype=float), False)

    def visits(self, begun: Array) -> Array:
        """Mean number of visits to each state where a run begins with chances ``begun``; shape (n,)."""
        return self._solve(np.asarray(begun, dtype=float), True)


def absorbing(q: Matrix, ends: Array) -> Absorbing:
    """The part of a chain that can be met from state 0; what never ends goes to a further end, the last.

    State 0 itself must lead to an end; `ever_ends` tells.
    """
    met = reached(q, 0)
    ending = _ending(q, ends)
    kept = np.flatnonzero(met & ending)
    never = np.asarray(cut(q, kept, np.flatnonzero(met & ~ending)).sum(axis=1)).ravel()
    return Absorbing(cut(q, kept, kept), np.column_stack([ends[kept], never]), kept)


def ever_ends(q: Matrix, ends: Array) -> bool:
    """Whether an end can be reached from state 0 at all."""
    return bool(_ending(q, ends)[0])


def _ending(q: Matrix, ends: Array) -> NDArray[np.bool_]:
    """Which states can reach an end: a walk back from the ends, joined to one further state."""
    n = q.shape[0]
    tips = np.flatnonzero(ends.sum(axis=1) > 0)
    rows, columns = entries(q)
    back = np.concatenate([columns, np.full(len(tips), n)]), np.concatenate([rows, tips])
    return reached(matrix(np.ones(len(back[0])), *back, n + 1), n)[:n]


@dataclass(frozen=True)
class Course:
    """How a run goes on, step by step: exact to its last step, and beyond it where it settled.

    ``alive[k]`` is the chance that a run is not over after k steps, ``ended[k, e]`` that it ended in e
    at step k (row 0 is zero), ``visits`` the mean number of visits to each state, the tail included.
    """

    alive: Array
    ended: Array
    visits: Array
    shrink: float | None
    """1 - factor by which what is left shrinks in a cycle; None where it has not settled."""
    is_whole: bool
    """Nothing of note is left after the last step, or the tail is known."""

    @cached_property
    def _summed(self) -> Array:
        return np.cumsum(self.ended, axis=0)

    @property
    def n_steps(self) -> int:
        return len(self.alive) - 1

    def ended_within(self, n: int, end: int = 0) -> float:
        """Chance of having ended in ``end`` within n steps; nan beyond what is known."""
        last = self.n_steps
        if n <= last:
            return min(float(self._summed[max(n, 0), end]), 1.0)
        if self.shrink is None:
            return min(float(self._summed[last, end]), 1.0) if self.is_whole else math.nan
        cycles, rest = divmod(n - last, CYCLE)
        log_left = cycles * math.log1p(-self.shrink) if self.shrink < 1 else -math.inf
        a_cycle, a_part = self._per_cycle(CYCLE, end), self._per_cycle(rest, end)
        more = a_cycle * -math.expm1(log_left) / self.shrink + math.exp(log_left) * a_part
        return min(float(self._summed[last, end] + more), 1.0)

    def ended_at_last(self, end: int = 0) -> float:
        """Chance of ending in ``end`` at all; nan where it is not known."""
        total = float(self._summed[-1, end])
        if self.shrink is not None:
            total += self._per_cycle(CYCLE, end) / self.shrink
        return min(total, 1.0) if self.is_whole else math.nan

    def _per_cycle(self, steps: int, end: int) -> float:
        """Ended in the first ``steps`` steps after the last one: as a cycle ago, shrunk once."""
        factor = 1 - (self.shrink or 0.0)
        at = self.n_steps - CYCLE
        return factor * float(self.ended[at + 1 : at + 1 + steps, end].sum())

    def mean(self) -> float:
        """Mean number of steps; nan where it is not known."""
        return self._moments()[0]

    def variance(self) -> float:
        """Variance of the number of steps; nan where it is not known."""
        mean, twice = self._moments()
        return max(twice + mean - mean**2, 0.0)

    def _moments(self) -> tuple[float, float]:
        """E[T] and E[T (T - 1)]: sums of alive[k], and of 2 k alive[k]."""
        if not self.is_whole:
            return math.nan, math.nan
        k = np.arange(self.n_steps)
        mean, twice = float(self.alive[:-1].sum()), float(2 * (k * self.alive[:-1]).sum())
        if self.shrink is None:
            return mean, twice
        keep = 1 - self.shrink
        last = np.arange(CYCLE) + self.n_steps
        left = keep * self.alive[self.n_steps - CYCLE : self.n_steps]
        mean += float(left.sum()) / self.shrink
        twice += 2 * float((left * (last / self.shrink + CYCLE * keep / self.shrink**2)).sum())
        return mean, twice

    def first_with(self, chance: float, end: int = 0) -> int | None:
        """Smallest n with at least this chance to have ended in ``end`` within n steps; None: no such n."""
        goal = chance - 1e-12
        at = int(np.searchsorted(self._summed[:, end], goal))
        if at <= self.n_steps:
            return at
        if self.shrink is None or not self.ended_at_last(end) > goal:
            return None
        low, high = self.n_steps, 2 * self.n_steps
        while self.ended_within(high, end) < goal:
            low, high = high, 2 * high
            if high > 10**18:
                return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self.ended_within(middle, end) < goal else (low, middle)
        return high


def course(chain: Absorbing, horizon: int | None = None) -> Course:
    """Step a chain from state 0: to ``horizon`` steps, or until it is over or what is left has settled."""
    back = transposed(chain.q)
    v = np.zeros(chain.n)
    v[0] = 1.0
    alive, ended = [1.0], [np.zeros(chain.ends.shape[1])]
    visits = np.zeros(chain.n)
    recent: list[Array] = []
    affordable = max(MOST_WORK // (chain.n + 4000), chain.n + 1)
    for k in range(min(affordable, MOST_STEPS) if horizon is None else horizon):
        visits += v
        recent.append(v)
        ended.append(v @ chain.ends)
        v = np.asarray(back @ v)
        alive.append(float(v.sum()))
        if alive[-1] < OVER and horizon is None:
            return Course(np.array(alive), np.array(ended), visits, None, True)
        if horizon is None and k % CYCLE == CYCLE - 1:
            if k >= 2 * CYCLE and _same_shape(v, recent[0]):
                shrink = float(sum(e.sum() for e in ended[-CYCLE:])) / alive[-1 - CYCLE]
                if shrink > 0:
                    visits += (1 - shrink) * np.sum(recent, axis=0) / shrink
                return Course(np.array(alive), np.array(ended), visits, shrink or None, shrink > 0)
            recent.clear()
    return Course(np.array(alive), np.array(ended), visits, None, horizon is not None)


def _same_shape(now: Array, before: Array) -> bool:
    """Every state's share is what it was; states too rare for floating point aside."""
    total, total_before = now.sum(), before.sum()
    share, share_before = now / total, before / total_before
    seen = np.maximum(share, share_before) > 1e-290
    return bool(np.all(np.abs(share - share_before)[seen] <= SETTLED * share_before[seen]))
