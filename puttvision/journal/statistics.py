"""Intervals of make rate, start-line bias and spread: pure functions of lists of figures.

Every estimate carries its count and a 95 % interval; where there are too few putts to give one,
`TooFew` stands in its place and says how many are needed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

LEVEL = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A figure with its 95 % interval and the number of putts it rests on."""

    value: float
    low: float
    high: float
    n: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFew:
    """Stands where an estimate would be; false in a condition."""

    n: int
    needed: int

    def __bool__(self) -> bool:
        return False


def rate(made: int, tried: int) -> Estimate | TooFew:
    """Share of putts made, with Wilson's interval (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212).

    Putts are taken as independent and alike. Raises ValueError unless 0 <= made <= tried.
    """
    if not 0 <= made <= tried:
        raise ValueError(f"0 <= made <= tried was due, got {made} of {tried}")
    if tried == 0:
        return TooFew(n=0, needed=1)
    interval = stats.binomtest(made, tried).proportion_ci(LEVEL, method="wilson")
    return Estimate(value=made / tried, low=float(interval.low), high=float(interval.high), n=tried)


def bias(values: Sequence[float]) -> Estimate | TooFew:
    """Mean with Student's interval; same unit as ``values``, taken as independent and normal."""
    n = len(values)
    if n < 2:
        return TooFew(n=n, needed=2)
    mean = float(np.mean(values))
    half = float(stats.t.ppf((1 + LEVEL) / 2, n - 1) * np.std(values, ddof=1) / np.sqrt(n))
    return Estimate(value=mean, low=mean - half, high=mean + half, n=n)


def spread(values: Sequence[float]) -> Estimate | TooFew:
    """Standard deviation with its chi-square interval (NIST/SEMATECH e-Handbook 1.3.5.8).

    The spread of the figures as measured: the measurement's own scatter is in it.
    """
    n = len(values)
    if n < 2:
        return TooFew(n=n, needed=2)
    low, high = spread_factors(n)
    deviation = float(np.std(values, ddof=1))
    return Estimate(value=deviation, low=low * deviation, high=high * deviation, n=n)


def spread_factors(n: int) -> tuple[float, float]:
    """What a standard deviation of ``n`` >= 2 figures is multiplied by to get its interval's ends."""
    tail = (1 - LEVEL) / 2
    low, high = np.sqrt((n - 1) / stats.chi2.ppf([1 - tail, tail], n - 1))
    return float(low), float(high)
