"""This session against the last and the best, and the trend from week to week, each with its interval."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import variance

from puttvision.coaching.attempts import Attempt, by, sessions
from puttvision.coaching.intervals import (
    Estimate,
    PlayerSpread,
    TooFew,
    among,
    difference_of_means,
    difference_of_rates,
    ratio_of_spreads,
    trend,
)
from puttvision.coaching.shown import clear_of, number, signed, with_interval
from puttvision.coaching.summary import WINDOW_M, Summary, shared_u95, summary
from puttvision.putts import Figure

FEWEST = 8
"""Putts that a session needs in a figure to be set beside others."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """One figure that is followed: how to take it, and what is better."""

    name: str
    unit: str
    kind: str
    """``rate``, ``mean`` or ``spread``."""
    scale: float
    take: Callable[[Attempt], float | None]
    of: Callable[[Summary], Estimate | PlayerSpread | TooFew]
    better: Callable[[float], float]
    """Larger is better."""
    figure: Callable[[Attempt], Figure] | None = None
    """Of a mean: the figure as measured, whose u95 all putts of a clip may share."""
    sign: str = ""
    """Of a mean: which way is above nothing."""

    @property
    def unit_of_change(self) -> str:
        return "percentage points" if self.unit == "%" else self.unit

    @property
    def digits(self) -> int:
        return 2 if self.unit == "°" else 0

    @property
    def digits_a_week(self) -> int:
        return 3 if self.unit == "°" else 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One session's figure, in the unit of its measure."""

    session: int
    day: date
    value: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One figure through all sessions that have enough putts for it, oldest first."""

    measure: Measure
    points: tuple[Point, ...]
    to_last: Estimate | TooFew
    """Change from the last session to this; of a spread, in times."""
    best: Point | None
    to_best: Estimate | TooFew
    """Wide enough for the best having been picked from all of them."""
    a_week: Estimate | TooFew
    """Change a week of the line through all sessions."""

    @property
    def now(self) -> Point | None:
        return self.points[-1] if self.points else None

    def changed(self, change: Estimate | TooFew) -> bool:
        """Whether a change is more than chance does."""
        if not change:
            return False
        if self.measure.kind == "spread":
            return clear_of(1.0, change, 2)
        return clear_of(0.0, change, self.measure.digits)

    @property
    def has_trend(self) -> bool:
        """Whether a trend may be claimed: not where its interval, as printed, holds zero."""
        if isinstance(self.a_week, TooFew):
            return False
        return clear_of(0.0, self.a_week, self.measure.digits_a_week)


def _yes(answer: bool | None) -> float | None:
    return None if answer is None else float(answer)


def measures(window_m: tuple[float, float] = WINDOW_M) -> tuple[Measure, ...]:
    """The figures that are followed."""

    def in_window(one: Attempt) -> float | None:
        run = one.putt.run_out_m.value
        return None if run is None else float(window_m[0] <= run <= window_m[1])

    def up(value: float) -> float:
        return value

    def down(value: float) -> float:
        return -abs(value)

    low, high = (round(100 * end) for end in window_m)
    return (
        Measure(name="holed", unit="%", kind="rate", scale=100, take=lambda a: _yes(a.holed),
                of=lambda s: s.holed, better=up),
        Measure(name="through the gate", unit="%", kind="rate", scale=100, take=lambda a: _yes(a.through),
                of=lambda s: s.through, better=up),
        Measure(name="mean start line", unit="°", kind="mean", scale=1, take=lambda a: a.start_line.value,
                of=lambda s: s.line_bias_deg, better=down, figure=lambda a: a.start_line, sign="right is +"),
        Measure(name="start-line spread", unit="°", kind="spread", scale=1,
                take=lambda a: a.start_line.value, of=lambda s: s.line_spread_deg, better=down),
        Measure(name="mean run-out", unit="cm", kind="mean", scale=100, take=lambda a: a.putt.run_out_m.value,
                of=lambda s: s.run_out_m, better=down, figure=lambda a: a.putt.run_out_m, sign="past is +"),
        Measure(name="run-out spread", unit="cm", kind="spread", scale=100,
                take=lambda a: a.putt.run_out_m.value, of=lambda s: s.run_out_spread_m, better=down),
        Measure(name=f"pace {low} to {high} cm past", unit="%", kind="rate", scale=100, take=in_window,
                of=lambda s: s.in_window, better=up),
    )  # fmt: skip


def courses(attempts: Sequence[Attempt], window_m: tuple[float, float] = WINDOW_M) -> list[Course]:
    """Every measure that at least one session has enough putts for."""
    by_session = sessions(attempts)
    sums = [summary(mine, window_m) for mine in by_session]
    found = (_course(measure, by_session, sums) for measure in measures(window_m))
    return [course for course in found if course.points]


def _course(measure: Measure, by_session: list[list[Attempt]], sums: list[Summary]) -> Course:
    points, values, spreads, shared = [], [], [], []
    for mine, sum_ in zip(by_session, sums, strict=True):
        got = [value for value in map(measure.take, mine) if value is not None]
        figure = measure.of(sum_)
        if len(got) < FEWEST or isinstance(figure, TooFew):
            continue
        spreads.append(figure if isinstance(figure, PlayerSpread) else None)
        told = figure.player if isinstance(figure, PlayerSpread) else figure
        points.append(Point(session=mine[0].session, day=mine[0].day, value=told.times(measure.scale)))
        values.append(got)
        shared.append(shared_u95(mine, [measure.figure(one) for one in mine]) if measure.figure else 0.0)

    def change(before: int, comparisons: int = 1) -> Estimate | TooFew:
        now, then, level = values[-1], values[before], among(comparisons)
        if measure.kind == "rate":
            found = difference_of_rates((int(sum(now)), len(now)), (int(sum(then)), len(then)), level)
        elif measure.kind == "mean":
            both = math.hypot(shared[-1], shared[before])
            found = difference_of_means(now, then, shared_u95=both, level=level)
        else:
            one, two = spreads[-1], spreads[before]
            return ratio_of_spreads(one, two, level) if one and two else TooFew(n=0, needed=FEWEST)
        return found.times(measure.scale) if found else found

    none = TooFew(n=len(points), needed=2)
    if not points:
        return Course(measure=measure, points=(), to_last=none, best=None, to_best=none, a_week=none)
    best = max(range(len(points)), key=lambda i: (measure.better(points[i].value.value), i))
    weeks = [(point.day - points[0].day).days / 7 for point in points]
    return Course(
        measure=measure,
        points=tuple(points),
        to_last=change(-2) if len(points) > 1 else none,
        best=points[best],
        to_best=change(best, len(points) - 1) if best != len(points) - 1 else none,
        a_week=trend(
            weeks,
            [p.value.value for p in points],
            [len(v) for v in values],
            measure.scale**2 * _of_a_putt(measure, values),
        ),
    )


def _of_a_putt(measure: Measure, values: Sequence[Sequence[float]]) -> float:
    """Variance that one putt gives to its session's figure; that of n putts is an n-th of it."""
    if measure.kind == "rate":
        n = sum(map(len, values))
        share = (sum(map(sum, values)) + 2) / (n + 4)  # Agresti and Coull: never quite 0 or 1
        return share * (1 - share)
    within = math.fsum((len(mine) - 1) * variance(mine) for mine in values)
    within /= sum(len(mine) - 1 for mine in values)
    return within if measure.kind == "mean" else within / 2  # of a normal spread: s2/2n


# --- in words --------------------------------------------------------------------------------


def figure(course: Course, value: Estimate) -> str:
    """``0.62 (0.49 to 0.84) °, 20 putts``; a mean with its sign and which way that is."""
    measure = course.measure
    text = with_interval(value, measure.digits, sign=measure.kind == "mean")
    return f"{text} {measure.unit}, {measure.sign}{', ' if measure.sign else ''}{value.n} putts"


def change_words(course: Course, change: Estimate | TooFew) -> str:
    """What a change is worth: ``+12 (-3 to +27) percentage points: within what chance does``."""
    if not change:
        return "nothing to set beside it"
    if course.measure.kind == "spread":
        low, high = number(change.low, 2), number(change.high, 2)
        text = f"{number(change.value, 2)} times ({low} to {high})"
    else:
        text = f"{with_interval(change, course.measure.digits, sign=True)} {course.measure.unit_of_change}"
    return f"{text}: {'a real change' if course.changed(change) else 'within what chance does'}"


def trend_words(course: Course) -> str:
    """The trend, where there is one to claim."""
    one = course.a_week
    if isinstance(one, TooFew):
        return f"no trend yet: {one.n} of {one.needed} sessions"
    n = course.measure.digits_a_week
    low, high = signed(one.low, n), signed(one.high, n)
    text = f"{signed(one.value, n)} ({low} to {high}) {course.measure.unit_of_change} a week"
    return f"{'trend' if course.has_trend else 'no trend'}: {text}, {one.n} sessions"


def lines(found: Sequence[Course]) -> list[str]:
    """The whole of it as sentences."""
    return [line for course in found for line in course_lines(course)]


def course_lines(course: Course) -> list[str]:
    """One figure as sentences: what it is now, then, set in, what it is set beside."""
    now = course.now
    if now is None:
        return []
    out = [f"{course.measure.name}: {figure(course, now.value)} ({now.day})"]
    if len(course.points) > 1:
        out.append(f"    against the last: {change_words(course, course.to_last)}")
    followed = course.measure.kind != "mean"  # a breaking putt is aimed off: nearest to none is not best
    if followed and course.best is not None and course.best.session != now.session:
        which = f"the best of {len(course.points)} ({course.best.day})"
        out.append(f"    against {which}: {change_words(course, course.to_best)}")
    out.append(f"    {trend_words(course)}")
    return out


def mixture(attempts: Sequence[Attempt], player: str) -> list[str]:
    """What to bear in mind where putts from several distances are taken together."""
    bands = list(by("distance", attempts))
    if len(bands) < 2:
        return []
    far = f"{', '.join(band.removesuffix(' ft') for band in bands[:-1])} and {bands[-1]}"
    return [
        f"putts from {far} are taken together, not equally many each time, and that moves these figures too; "
        f'`puttvision progress "{player}" --by distance` tells them apart'
    ]
