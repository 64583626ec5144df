"""A drill's own result, this session against the last and the best, and from week to week.

One session gives one result, with no interval of its own; what chance does is read off the scatter of the
sessions before it about their line. Points, best streak or putts to finish, as a ladder ranks by.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from puttvision.coaching.intervals import Estimate, TooFew, student, trend
from puttvision.coaching.ladder import kind_of, result
from puttvision.coaching.shown import clear_of, signed, with_interval
from puttvision.drill.words import minutes
from puttvision.journal.history import CardOf

ENOUGH = 4
"""Earlier sessions below which nothing is said of what chance does: as for a trend."""


def result_lines(cards: Sequence[CardOf]) -> list[str]:
    """Sentences on one player's scorecards of one drill, oldest first; those with the newest one's options.

    Empty where the newest session has no result, such as a drill that was not finished.
    """
    if not cards:
        return []
    same = [one for one in cards if one.card.options == cards[-1].card.options]
    kind = kind_of(same)
    told = [(one, value) for one in same if (value := result(one, kind)) is not None]
    if not told or told[-1][0] is not same[-1]:
        return []
    now, value = told[-1]
    time = f", in {minutes(now.card.time_s)}" if now.card.time_s else ""
    out = [f"{kind}: {value:g} ({now.day}){time}"]
    if len(told) > 1:
        values = [one for _, one in told]
        before = values[-2]
        out.append(f"    the last: {before:g}, {_worth(told, value - before)}")
        better = min if kind == "putts to finish" else max
        best = better(values)
        when = next(one.day for one, mine in reversed(told) if mine == best)
        out.append(f"    the best of {len(values)}: {best:g} ({when})")
        out.append(f"    {_trend_words(_line(told), kind, len(values))}")
    return out


def _weeks(told: Sequence[tuple[CardOf, float]]) -> list[float]:
    return [(one.day - told[0][0].day).days / 7 for one, _ in told]


def _line(told: Sequence[tuple[CardOf, float]]) -> Estimate | TooFew:
    return trend(_weeks(told), [value for _, value in told])


def _worth(told: Sequence[tuple[CardOf, float]], change: float) -> str:
    """The change from the last to this session against the scatter of those before about their line."""
    before = told[:-1]
    found, n = _line(before), len(before)
    if not found or n < ENOUGH:
        return f"{signed(change, 1)}: too few sessions to say whether that is more than chance"
    weeks, values = _weeks(before), [value for _, value in before]
    middle_w, middle = math.fsum(weeks) / n, math.fsum(values) / n
    left = math.fsum(
        (v - middle - found.value * (w - middle_w)) ** 2 for w, v in zip(weeks, values, strict=True)
    )
    half = student(n - 2) * math.sqrt(2 * left / (n - 2))
    change_ = Estimate(value=change, low=change - half, high=change + half, n=n)
    verdict = "a real change" if clear_of(0.0, change_, 1) else "within what chance does"
    return f"{with_interval(change_, 1, sign=True)}: {verdict}"


def _trend_words(found: Estimate | TooFew, kind: str, n: int) -> str:
    if isinstance(found, TooFew):
        return f"no trend yet: {n} of {found.needed} sessions"
    low, high = signed(found.low, 2), signed(found.high, 2)
    words = "trend" if clear_of(0.0, found, 2) else "no trend"
    return f"{words}: {signed(found.value, 2)} ({low} to {high}) {kind} a week, {found.n} sessions"
