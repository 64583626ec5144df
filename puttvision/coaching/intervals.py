"""Means, spreads, rates and differences, each with its 95 % interval and its count: pure functions.

Where there are too few putts to give an interval, `TooFew` stands in its place and says how many are
needed. Figures are taken as independent of each other; what that leaves out stands at each function.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

import numpy as np

from puttvision.coaching import quantiles

LEVEL = 0.95
FEWEST_GROUPS = 4
"""Sessions from which their own scatter is told well enough to be in an interval: as for a trend."""
Z = NormalDist().inv_cdf((1 + LEVEL) / 2)
"""1.95996..., which also turns a ``u95`` into a standard uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A figure with its 95 % interval and the number of putts (or sessions) it rests on."""

    value: float
    low: float
    high: float
    n: int

    @property
    def holds_zero(self) -> bool:
        """Whether the interval leaves zero open, so that no difference or trend may be claimed."""
        return self.low <= 0 <= self.high

    def times(self, factor: float) -> Estimate:
        """The same in another unit; ``factor`` above 0."""
        return Estimate(value=self.value * factor, low=self.low * factor, high=self.high * factor, n=self.n)


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFew:
    """Stands where an estimate would be; false in a condition."""

    n: int
    needed: int

    def __bool__(self) -> Literal[False]:
        return False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerSpread:
    """A player's own spread: what was seen, less what measuring adds."""

    observed: Estimate
    """Standard deviation of the figures as measured, chi-square interval."""
    noise: float
    """Root mean square of the figures' own standard uncertainties; 0 where none are known."""
    player: Estimate
    """sqrt(observed^2 - noise^2), each end of the interval likewise; 0 where the film cannot tell."""
    freedom: int
    """Degrees of freedom: figures less groups."""

    @property
    def told(self) -> bool:
        """Whether the player's spread stands out from the scatter of measuring."""
        return self.player.low > 0


def among(comparisons: int) -> float:
    """The level each of several intervals needs, so that all of them hold 95 times in 100 (Bonferroni)."""
    return 1 - (1 - LEVEL) / max(comparisons, 1)


def rate(made: int, tried: int, level: float = LEVEL) -> Estimate | TooFew:
    """Share of putts made, with Wilson's interval (Wilson 1927, J. Am. Stat. Assoc. 22, 209-212).

    Putts are taken as independent and alike. Raises ValueError unless 0 <= made <= tried.
    """
    if not 0 <= made <= tried:
        raise ValueError(f"0 <= made <= tried was due, got {made} of {tried}")
    if tried == 0:
        return TooFew(n=0, needed=1)
    low, high = wilson(made / tried, tried, level)
    return Estimate(value=made / tried, low=low, high=high, n=tried)


def wilson(share: float, n: float, level: float = LEVEL) -> tuple[float, float]:
    """Wilson's interval of a share seen in ``n`` tries."""
    z = NormalDist().inv_cdf((1 + level) / 2)
    middle = share + z**2 / (2 * n)
    half = z * math.sqrt(share * (1 - share) / n + z**2 / (4 * n**2))
    whole = 1 + z**2 / n
    low = 0.0 if share == 0 else max(0.0, (middle - half) / whole)
    high = 1.0 if share == 1 else min(1.0, (middle + half) / whole)
    return low, high


def bias(
    values: Sequence[float], shared_u95: float = 0.0, groups: Sequence[object] | None = None
) -> Estimate | TooFew:
    """Mean with Student's interval; same unit as ``values``, taken as independent and normal.

    ``shared_u95``: half-width of what all the figures may be off by together (a clip's lens and line); added
    as a root of squares. ``groups``: what each figure belongs to (its session). From `FEWEST_GROUPS` on, the
    scatter of the groups' means counts where it is more than the figures' own gives: putts of one day share
    its read, so that many of them say less than as many days (sums of groups as in Liang and Zeger 1986,
    Biometrika 73, 13-22, with n/(n - 1) and Student's t of groups less one). With fewer groups the interval
    is that of these days' putts alone.
    """
    n = len(values)
    if n < 2:
        return TooFew(n=n, needed=2)
    mean = float(np.mean(values))
    half = student(n - 1) * float(np.std(values, ddof=1)) / math.sqrt(n)
    if groups is not None:
        half = max(half, _half_of_groups(values, mean, groups))
    half = math.hypot(half, shared_u95)
    return Estimate(value=mean, low=mean - half, high=mean + half, n=n)


def _half_of_groups(values: Sequence[float], mean: float, groups: Sequence[object]) -> float:
    sums: dict[object, float] = {}
    for value, group in zip(values, groups, strict=True):
        sums[group] = sums.get(group, 0.0) + value - mean
    n = len(sums)
    if n < FEWEST_GROUPS:
        return 0.0
    square = math.fsum(one**2 for one in sums.values()) * n / (n - 1)
    return student(n - 1) * math.sqrt(square) / len(values)


def spread(values: Sequence[float]) -> Estimate | TooFew:
    """Standard deviation with its chi-square interval (NIST/SEMATECH e-Handbook 1.3.5.8).

    The spread of the figures as measured: the measurement's own scatter is in it. The interval leans
    on normal figures: with fat tails it is too narrow.
    """
    n = len(values)
    if n < 2:
        return TooFew(n=n, needed=2)
    return _spread(float(np.std(values, ddof=1)), n - 1, n)


def player_spread(
    values: Sequence[float], u95: Sequence[float | None], groups: Sequence[object] | None = None
) -> PlayerSpread | TooFew:
    """The spread of the player himself: measuring's share of the variance taken out.

    Parameters
    ----------
    values : figures of one unit
    u95 : half-width of each figure's 95 % interval, same unit; None: not known, taken as 0
    groups : what each figure belongs to (its session, its place); spread is then taken about each group's
        own mean, so that aiming elsewhere on another day is no spread. None: one group

    Notes
    -----
    Variances of independent errors add, so the mean of the figures' variances is taken off the observed
    one. A ``u95`` also holds what all putts of a clip share (lens, line); that does not scatter within a
    clip, so a little too much is taken off: the player's spread comes out low rather than high.
    The noise itself is taken as known.
    """
    x = np.asarray(values, dtype=float)
    labels = [None] * len(x) if groups is None else list(groups)
    n_groups = len(set(labels))
    freedom = len(x) - n_groups
    if freedom < 1:
        return TooFew(n=len(x), needed=n_groups + 1)
    squares = 0.0
    for label in dict.fromkeys(labels):
        part = x[[other == label for other in labels]]
        squares += float(((part - part.mean()) ** 2).sum())
    observed = _spread(math.sqrt(squares / freedom), freedom, len(x))
    noise = math.sqrt(sum(((u or 0.0) / Z) ** 2 for u in u95) / len(x))
    own = [math.sqrt(max(0.0, end**2 - noise**2)) for end in (observed.value, observed.low, observed.high)]
    player = Estimate(value=own[0], low=own[1], high=own[2], n=len(x))
    return PlayerSpread(observed=observed, noise=noise, player=player, freedom=freedom)


def _factors(freedom: int) -> tuple[float, float]:
    tail = (1 - LEVEL) / 2
    low = math.sqrt(freedom / quantiles.chi_square(1 - tail, freedom))
    high = math.sqrt(freedom / quantiles.chi_square(tail, freedom))
    return low, high


def _spread(deviation: float, freedom: int, n: int) -> Estimate:
    low, high = _factors(freedom)
    return Estimate(value=deviation, low=low * deviation, high=high * deviation, n=n)


def student(freedom: float, level: float = LEVEL) -> float:
    """Student's t that leaves 2.5 % on each side."""
    return quantiles.student((1 + level) / 2, freedom)


def difference_of_means(
    now: Sequence[float], before: Sequence[float], *, shared_u95: float = 0.0, level: float = LEVEL
) -> Estimate | TooFew:
    """Mean of ``now`` less mean of ``before``, Welch's interval (unequal spreads; GUM G.4.1 for freedom).

    ``shared_u95``: half-width of what the two means may be off by against each other, each as a whole
    (another clip, another line); added as a root of squares.
    """
    n = min(len(now), len(before))
    if n < 2:
        return TooFew(n=n, needed=2)
    value = float(np.mean(now) - np.mean(before))
    parts = [float(np.var(x, ddof=1)) / len(x) for x in (now, before)]
    n = len(now) + len(before)
    if sum(parts) == 0:
        return Estimate(value=value, low=value - shared_u95, high=value + shared_u95, n=n)
    freedom = sum(parts) ** 2 / sum(
        part**2 / (len(x) - 1) for part, x in zip(parts, (now, before), strict=True)
    )
    half = math.hypot(student(freedom, level) * math.sqrt(sum(parts)), shared_u95)
    return Estimate(value=value, low=value - half, high=value + half, n=n)


def difference_of_rates(
    now: tuple[int, int], before: tuple[int, int], level: float = LEVEL
) -> Estimate | TooFew:
    """Share made now less share made before, each as (made, tried); Newcombe's interval.

    Newcombe 1998, Stat. Med. 17, 873-890, method 10 (from two Wilson intervals, no continuity correction).
    """
    one, two = rate(*now, level), rate(*before, level)
    if not one or not two:
        return TooFew(n=min(now[1], before[1]), needed=1)
    value = one.value - two.value
    low = value - math.hypot(one.value - one.low, two.high - two.value)
    high = value + math.hypot(one.high - one.value, two.value - two.low)
    return Estimate(value=value, low=low, high=high, n=one.n + two.n)


def ratio_of_spreads(now: PlayerSpread, before: PlayerSpread, level: float = LEVEL) -> Estimate | TooFew:
    """Observed spread now over observed spread before; 1 inside the interval: no change is told.

    F interval (NIST/SEMATECH e-Handbook 1.3.5.9). Both are as measured: the film's noise is in both.
    """
    if before.observed.value <= 0:
        return TooFew(n=before.observed.n, needed=before.observed.n + 1)
    ratio = now.observed.value / before.observed.value
    tail = (1 - level) / 2
    few, many = (quantiles.fisher(q, now.freedom, before.freedom) for q in (tail, 1 - tail))
    n = now.observed.n + before.observed.n
    return Estimate(value=ratio, low=ratio / math.sqrt(many), high=ratio / math.sqrt(few), n=n)


def trend(
    weeks: Sequence[float],
    values: Sequence[float],
    weights: Sequence[float] | None = None,
    least_variance: float = 0.0,
) -> Estimate | TooFew:
    """Change a week of a line through sessions, Student's interval of weighted least squares.

    ``weights``: relative, such as the number of putts; None: all alike. Sessions are taken as independent,
    and the scatter between them is in the interval: form of the day is no trend. ``n`` counts sessions.
    ``least_variance``: of a session of weight 1, what its putts' own scatter gives; sessions that happen to
    lie nearer to a line than their putts allow do not make the interval narrower than that.
    """
    x, y = np.asarray(weeks, dtype=float), np.asarray(values, dtype=float)
    w = np.ones(len(x)) if weights is None else np.asarray(weights, dtype=float)
    n = len(x)
    if n < 4 or np.ptp(x) == 0:
        return TooFew(n=n, needed=4)
    x_mean, y_mean = np.average(x, weights=w), np.average(y, weights=w)
    across = float((w * (x - x_mean) ** 2).sum())
    slope = float((w * (x - x_mean) * (y - y_mean)).sum()) / across
    left = float((w * (y - y_mean - slope * (x - x_mean)) ** 2).sum())
    half = student(n - 2) * math.sqrt(max(left / (n - 2), least_variance) / across)
    return Estimate(value=slope, low=slope - half, high=slope + half, n=n)
