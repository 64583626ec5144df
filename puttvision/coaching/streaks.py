"""Streaks against what the make rate alone would give: does the player tighten up near the end?

Under "every putt goes in with the chance of its grip, whatever went before", all ways of laying out the
same makes and misses that the drill's rules allow are likely by known weights. So each session's makes are
dealt out anew between its misses, many times and without bias, and what was seen is compared with that: a
permutation test that knows that a streak drill stops when its target is met, and that putts after a streak
are a choice that the outcomes themselves have made (Miller and Sanjurjo 2018, Econometrica 86, 2019-2047).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.coaching.attempts import Attempt, distance_band, last_of, sessions
from puttvision.coaching.intervals import Estimate, TooFew, rate

DEALS = 2000
"""Times the makes are dealt out; the p-value is good to 0.01 near 0.05."""
DEALS_FOR_LONGEST = 400
"""The same where no drill asks for a streak and only the range of the longest is told, good to about one."""
LEVEL_P = 0.05
TELLING_DROP = 0.25
"""There are too few putts to say where a drop of so much would not have shown 4 times in 5."""
POWER_FACTOR = 1.959964 + 0.841621
"""Normal quantiles of a two-sided test at 5 % and of a power of 80 %."""

FEWEST_EARLY = 5
"""Putts of a grip early in a streak without which its last ones are set beside nothing (common practice)."""

Counts = NDArray[np.int64]
Weights = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The outcomes of one session at one stage, in order; ``target`` in a row ends it, None: nothing does."""

    made: tuple[bool, ...]
    target: int | None = None
    grips: tuple[str, ...] = ()
    """Grip of each putt; empty: all alike."""

    @property
    def met(self) -> bool:
        """Whether it ends with the target met."""
        return self.target is not None and len(self.made) >= self.target and all(self.made[-self.target :])

    @property
    def gaps(self) -> list[int]:
        """Makes before each miss, in order; the makes after the last miss are the last item."""
        out = [0]
        for made in self.made:
            if made:
                out[-1] += 1
            else:
                out.append(0)
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class Streaks:
    """Streaks seen against streaks by the make rate alone."""

    n: int
    longest: int
    longest_by_chance: tuple[int, int]
    """Range that holds the longest streak 95 times in 100 where the make rate is all there is."""
    p_longest: float
    """Two-sided."""
    near_the_end: Estimate | TooFew
    """Make rate of the last putts of a streak (see `attempts.last_of`)."""
    by_chance: float | None
    """What the make rate alone, that of the same grip earlier in a streak, would give there."""
    p_near: float | None
    in_a_streak_drill: bool
    telling_drop: float | None
    """The drop that these few putts would have shown 4 times in 5."""

    @property
    def verdict(self) -> str:
        """``too few putts to say``, ``tightens up``, ``does better``, ``no sign``; empty: no streak drill."""
        if self.p_near is None or self.by_chance is None or not isinstance(self.near_the_end, Estimate):
            return "too few putts to say" if self.in_a_streak_drill else ""
        if self.p_near < LEVEL_P:
            return "tightens up" if self.near_the_end.value < self.by_chance else "does better"
        if self.telling_drop is None or self.telling_drop > TELLING_DROP:
            return "too few putts to say"
        return "no sign"


def series_of(attempts: Sequence[Attempt]) -> list[Series]:
    """Outcomes as the drill counts them, session by session, of the streak stages; of any drill where no
    putt belongs to one: then in one series a session, as holed or not."""
    in_streaks = [attempt for attempt in attempts if attempt.target is not None and attempt.made is not None]
    out = []
    if not in_streaks:
        for mine in sessions(attempts):
            made = tuple(attempt.holed for attempt in mine if attempt.holed is not None)
            bands = {distance_band(attempt.distance_m) for attempt in mine if attempt.distance_m is not None}
            if made and len(bands) <= 1:  # from several distances the make rate alone is not one number
                out.append(Series(made=made))
        return out
    for mine in sessions(in_streaks):
        run: list[Attempt] = []
        for attempt in mine:
            if run and attempt.target != run[-1].target:
                out.append(_series(run))
                run = []
            run.append(attempt)
        out.append(_series(run))
    return out


def _series(run: Sequence[Attempt]) -> Series:
    return Series(
        made=tuple(bool(attempt.made) for attempt in run),
        target=run[0].target,
        grips=tuple(attempt.grip for attempt in run),
    )


def streaks(all_: Sequence[Series], *, seed: int = 1, deals: int | None = None) -> Streaks | TooFew:
    """Test the streaks of a player's series; TooFew without at least one make and one miss.

    The longest streak is that of all series together. Where a drill turns the grip, each grip has its own
    chance, taken from all series (a plug-in: the test is then no longer exact, only near it).
    """
    n = sum(len(one.made) for one in all_)
    n_made = sum(sum(one.made) for one in all_)
    if n < 10 or n_made == 0 or n_made == n:
        return TooFew(n=n, needed=max(10, n + 1))
    rng = np.random.default_rng(seed)
    chance = _chances(all_)
    in_a_streak_drill = any(one.target is not None for one in all_)
    deals = deals or (DEALS if in_a_streak_drill else DEALS_FOR_LONGEST)
    longest = np.zeros(deals, dtype=np.int64)
    seen, dealt_out = _Ends.of(chance, 1), _Ends.of(chance, deals)
    seen_longest = 0
    for one in all_:
        gaps = np.array([one.gaps])
        dealt = _deal(one, chance, rng, deals)
        seen_longest = max(seen_longest, int(gaps.max()))
        longest = np.maximum(longest, dealt.max(axis=1))
        if one.target is not None:
            seen.add(gaps, one)
            dealt_out.add(dealt, one)
    low, high = np.quantile(longest, [0.025, 0.975], method="inverted_cdf")
    near = rate(int(seen.made[1].sum()), int(seen.tries[1].sum()))
    by_chance = p_near = drop = None
    both = seen.grips_of_both()
    drops, falls = dealt_out.drop(chance, both), seen.drop(chance, both)
    if isinstance(near, Estimate) and len(drops) and len(falls):
        fell = float(falls[0])
        by_chance = min(max(near.value + fell - float(drops.mean()), 0.0), 1.0)
        p_near = _two_sided(drops, fell)
        drop = POWER_FACTOR * seen.u_drop(chance, both)
    return Streaks(
        n=n,
        longest=seen_longest,
        longest_by_chance=(int(low), int(high)),
        p_longest=_two_sided(longest, seen_longest),
        near_the_end=near,
        by_chance=by_chance,
        p_near=p_near,
        in_a_streak_drill=in_a_streak_drill,
        telling_drop=drop,
    )


def _two_sided(dealt: Counts | Weights, seen: float) -> float:
    """Two-sided p-value of a permutation test, what was seen counted as one of the deals."""
    below = (np.count_nonzero(dealt <= seen + 1e-12) + 1) / (len(dealt) + 1)
    above = (np.count_nonzero(dealt >= seen - 1e-12) + 1) / (len(dealt) + 1)
    return float(min(1.0, 2 * min(below, above)))


@dataclass(frozen=True, slots=True)
class _Ends:
    """Putts early in a streak (0) and among its last (1), by grip; arrays (2, n_grips, n_deals).

    Where the grip turns with the streak a drop may be the grip's: it is told against the same grip earlier.
    """

    grips: tuple[str, ...]
    tries: Counts
    made: Counts

    @classmethod
    def of(cls, chance: dict[str, float], deals: int) -> _Ends:
        shape = (2, len(chance), deals)
        return cls(tuple(chance), np.zeros(shape, dtype=np.int64), np.zeros(shape, dtype=np.int64))

    def add(self, gaps: Counts, one: Series) -> None:
        """Count the putts of a series; ``gaps`` of shape (n_deals, n_misses + 1)."""
        target = one.target or 0
        for streak, grip in enumerate(_grips_by_streak(one, target)):
            where = int(streak >= target - last_of(target)), self.grips.index(grip)
            made = (gaps > streak).sum(axis=1)
            self.made[where] += made
            self.tries[where] += made + (gaps[:, :-1] == streak).sum(axis=1)

    def grips_of_both(self) -> NDArray[np.bool_]:
        """Which grips have putts enough early in a streak to be set beside the last ones."""
        return np.asarray(self.tries[0, :, 0] >= FEWEST_EARLY)

    def drop(self, chance: dict[str, float], of: NDArray[np.bool_]) -> Weights:
        """Make rate earlier on less that of the last putts, grip by grip, of the deals that came so far.

        A grip's early rate is drawn to its rate in all by the weight of one putt, for grips seldom early.
        """
        tries, made = self.tries[:, of], self.made[:, of]
        known = tries[1].sum(axis=0) > 0
        tries, made = tries[:, :, known], made[:, :, known]
        p = np.array([chance[grip] for grip in self.grips])[of, None]
        early = (made[0] + p) / (tries[0] + 1)
        return np.asarray((tries[1] * early - made[1]).sum(axis=0) / tries[1].sum(axis=0))

    def u_drop(self, chance: dict[str, float], of: NDArray[np.bool_]) -> float:
        """Standard uncertainty of `drop` as seen, were the make rate all there is."""
        p = np.array([chance[grip] for grip in self.grips])[of]
        early, late = self.tries[0, of, 0], self.tries[1, of, 0]
        square = late**2 * p * (1 - p) * (1 / np.maximum(late, 1) + 1 / np.maximum(early, 1))
        return float(np.sqrt(square.sum()) / late.sum())


def _chances(all_: Sequence[Series]) -> dict[str, float]:
    """Share made by grip, half a putt added each way so that none is certain."""
    tried: dict[str, int] = {}
    made: dict[str, int] = {}
    for one in all_:
        for grip, good in zip(one.grips or [""] * len(one.made), one.made, strict=True):
            tried[grip] = tried.get(grip, 0) + 1
            made[grip] = made.get(grip, 0) + good
    return {grip: (made[grip] + 0.5) / (n + 1) for grip, n in tried.items()}


def _deal(one: Series, chance: dict[str, float], rng: np.random.Generator, deals: int) -> Counts:
    """Deal the makes of a series out anew; shape (deals, n_misses + 1), rows as `Series.gaps`.

    Row by row from the exact distribution: with W_j(t) the weight of all ways in which j gaps take t makes,
    the first of j gaps takes x with W_1(x) W_{j-1}(t - x) / W_j(t).
    """
    gaps = one.gaps
    total, parts = sum(gaps), len(gaps)
    if one.met:
        total, parts = total - (one.target or 0), parts - 1
    longest = total if one.target is None else min(total, one.target - 1)
    first, last = _gap_weights(one, chance, longest)
    ways = [last if not one.met else first]
    for _ in range(parts - 1):
        row = np.convolve(ways[-1], first)[: total + 1]
        ways.append(row / row.max())
    out = np.zeros((deals, len(gaps)), dtype=np.int64)
    left = np.full(deals, total)
    for j in range(parts - 1):
        out[:, j] = _draw(ways[parts - 2 - j], first, left, rng)
        left = left - out[:, j]
    if parts:
        out[:, parts - 1] = left
    if one.met:
        out[:, -1] = one.target or 0
    return out


def _gap_weights(one: Series, chance: dict[str, float], longest: int) -> tuple[Weights, Weights]:
    """Weights of 0..longest makes before a miss, and of the same with no miss after; any common factor."""
    p = np.array([chance[grip] for grip in _grips_by_streak(one, longest + 1)])
    reach = np.concatenate([[1.0], np.cumprod(p[:-1])])
    return reach * (1 - p), reach


def _grips_by_streak(one: Series, length: int) -> list[str]:
    """The grip after 0, 1, ... made in a row."""
    by_streak = {}
    streak = 0
    for good, grip in zip(one.made, one.grips or [""] * len(one.made), strict=True):
        by_streak[streak] = grip
        streak = streak + 1 if good else 0
    return [by_streak.get(i, one.grips[0] if one.grips else "") for i in range(length)]


def _draw(others: Weights, first: Weights, left: Counts, rng: np.random.Generator) -> Counts:
    """One gap for each deal, ``left`` makes to go; ``others``: weights of what the further gaps may take."""
    u = rng.random(len(left))
    most = int(left.max())
    t, x = np.arange(most + 1)[:, None], np.arange(min(len(first) - 1, most) + 1)[None, :]
    rest = t - x
    can = (rest >= 0) & (rest < len(others))
    weight = np.where(can, first[x] * others[np.clip(rest, 0, len(others) - 1)], 0.0)
    steps = np.cumsum(weight, axis=1)
    whole = np.where(steps[:, -1:] > 0, steps[:, -1:], 1.0)
    # one rising row of all tables, that of t makes lying between t and t + 1: one search finds every draw
    width = steps.shape[1]
    found = np.searchsorted((t + steps / whole).ravel(), left + u, side="right")
    out: Counts = np.minimum(found - left * width, np.minimum(left, width - 1))
    return out
