"""This session against the last and the best, and the trend from week to week, each with its interval."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from puttvision.coaching.attempts import Attempt, sessions
from puttvision.coaching.intervals import (
    Estimate,
    PlayerSpread,
    TooFew,
    difference_of_means,
    difference_of_rates,
    ratio_of_spreads,
    trend,
)
from puttvision.coaching.summary import WINDOW_M, Summary, summary

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
    a_week: Estimate | TooFew
    """Change a week of the line through all sessions."""

    @property
    def now(self) -> Point | None:
        return self.points[-1] if self.points else None

    def changed(self, change: Estimate | TooFew) -> bool:
        """Whether a change is more than chance does."""
        if not change:
            return False
        even = 1.0 if self.measure.kind == "spread" else 0.0
        return not change.low <= even <= change.high


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
                of=lambda s: s.line_bias_deg, better=down),
        Measure(name="start-line spread", unit="°", kind="spread", scale=1,
                take=lambda a: a.start_line.value, of=lambda s: s.line_spread_deg, better=down),
        Measure(name="mean run-out", unit="cm", kind="mean", scale=100, take=lambda a: a.putt.run_out_m.value,
                of=lambda s: s.run_out_m, better=down),
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
    points, values, spreads = [], [], []
    for mine, sum_ in zip(by_session, sums, strict=True):
        got = [value for value in map(measure.take, mine) if value is not None]
        figure = measure.of(sum_)
        if len(got) < FEWEST or isinstance(figure, TooFew):
            continue
        spreads.append(figure if isinstance(figure, PlayerSpread) else None)
        told = figure.player if isinstance(figure, PlayerSpread) else figure
        points.append(Point(session=mine[0].session, day=mine[0].day, value=told.times(measure.scale)))
        values.append(got)

    def change(before: int) -> Estimate | TooFew:
        now, then = values[-1], values[before]
        if measure.kind == "rate":
            found = difference_of_rates((int(sum(now)), len(now)), (int(sum(then)), len(then)))
        elif measure.kind == "mean":
            found = difference_of_means(now, then)
        else:
            one, two = spreads[-1], spreads[before]
            return ratio_of_spreads(one, two) if one and two else TooFew(n=0, needed=FEWEST)
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
        to_best=change(best) if best != len(points) - 1 else none,
        a_week=trend(weeks, [p.value.value for p in points], [len(v) for v in values]),
    )


# --- in words --------------------------------------------------------------------------------


def figure(course: Course, value: Estimate) -> str:
    """``0.62 (0.49 to 0.84) °, 20 putts``."""
    n = 2 if course.measure.unit == "°" else 0
    interval = f"({value.low:.{n}f} to {value.high:.{n}f})"
    return f"{value.value:.{n}f} {interval} {course.measure.unit}, {value.n} putts"


def change_words(course: Course, change: Estimate | TooFew) -> str:
    """What a change is worth: ``+12 (-3 to +27) %: within what chance does``."""
    if not change:
        return "nothing to set beside it"
    n = 2 if course.measure.unit == "°" or course.measure.kind == "spread" else 0
    real = course.changed(change)
    if course.measure.kind == "spread":
        text = f"{change.value:.{n}f} times ({change.low:.{n}f} to {change.high:.{n}f})"
    else:
        text = f"{change.value:+.{n}f} ({change.low:+.{n}f} to {change.high:+.{n}f}) {course.measure.unit}"
    return f"{text}: {'a real change' if real else 'within what chance does'}"


def trend_words(course: Course) -> str:
    """The trend, where there is one to claim."""
    if isinstance(course.a_week, TooFew):
        return f"no trend yet: {course.a_week.n} of {course.a_week.needed} sessions"
    n = 3 if course.measure.unit == "°" else 1
    one = course.a_week
    text = f"{one.value:+.{n}f} ({one.low:+.{n}f} to {one.high:+.{n}f}) {course.measure.unit} a week"
    if one.holds_zero:
        return f"no trend: {text}, {one.n} sessions"
    return f"trend: {text}, {one.n} sessions"


def lines(found: Sequence[Course]) -> list[str]:
    """The whole of it as sentences."""
    out = []
    for course in found:
        now = course.now
        if now is None:
            continue
        out.append(f"{course.measure.name}: {figure(course, now.value)} ({now.day})")
        if len(course.points) > 1:
            out.append(f"    against the last: {change_words(course, course.to_last)}")
        followed = course.measure.kind != "mean"  # a breaking putt is aimed off: nearest to none is not best
        if followed and course.best is not None and course.best.session != now.session:
            out.append(f"    against the best ({course.best.day}): {change_words(course, course.to_best)}")
        out.append(f"    {trend_words(course)}")
    return out
