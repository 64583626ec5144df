"""What progress claims: no change and no trend where there is none, however many sessions are looked at."""

from datetime import date, timedelta

import numpy as np
import pytest

from puttvision.coaching.attempts import Attempt
from puttvision.coaching.intervals import among, trend
from puttvision.coaching.progress import courses, lines
from puttvision.putts import Figure, Putt


def year(rng, *, n_sessions=26, n_putts=20, chance=0.5, line_deg=0.0, shared_deg=0.0):
    """Weekly sessions of a player who stays the same; ``shared_deg``: what each clip is off by (sd)."""
    out = []
    for week in range(n_sessions):
        off = rng.normal(0, shared_deg) if shared_deg else 0.0
        for number in range(1, n_putts + 1):
            outcome = "holed" if rng.random() < chance else "missed"
            start = Figure(float(rng.normal(line_deg + off, 0.8)), 1.96 * shared_deg or None)
            putt = Putt(number=number, outcome=outcome, start_direction_to_hole_deg=start)
            out.append(Attempt(session=week, day=date(2026, 1, 5) + timedelta(weeks=week), putt=putt))
    return out


def share_claimed(found, which):
    return np.mean([course.changed(getattr(course, which)) for course in found])


def test_a_player_who_stays_the_same_is_seldom_told_of_a_change():
    # 5 in 100 by the level; of 200 years 14 or fewer are due 9 times in 10 (binomial). The best of 26 is the
    # luckiest: without allowing for that a fall from it would be "real" in 4 years of 10.
    rng = np.random.default_rng(5)
    years = [courses(year(rng)) for _ in range(200)]
    for name in ("holed", "start-line spread"):
        mine = [next(course for course in one if course.measure.name == name) for one in years]
        assert share_claimed(mine, "to_last") < 0.09
        assert share_claimed(mine, "to_best") < 0.09
        assert np.mean([not course.a_week.holds_zero for course in mine]) < 0.09


def test_a_clip_that_lies_askew_is_no_change_of_aim():
    rng = np.random.default_rng(6)
    found = []
    for _ in range(200):
        course = courses(year(rng, n_sessions=2, shared_deg=0.5))
        found.append(next(one for one in course if one.measure.name == "mean start line"))
    assert share_claimed(found, "to_last") < 0.09


def test_sessions_on_a_line_by_luck_are_no_trend():
    # 8, 9, 10, 11 of 20: a perfect line that 20 putts each cannot carry (p = 0.3 by Cochran and Armitage).
    out = []
    for week, made in enumerate((8, 9, 10, 11)):
        for number in range(1, 21):
            putt = Putt(number=number, outcome="holed" if number <= made else "missed")
            out.append(Attempt(session=week, day=date(2026, 1, 5) + timedelta(weeks=week), putt=putt))
    (course,) = courses(out)
    assert course.a_week.value == pytest.approx(5.0)
    assert course.a_week.holds_zero
    assert "    no trend: +5.0 (" in "\n".join(lines([course]))
    assert not trend([0, 1, 2, 3], [8, 9, 10, 11]).holds_zero


def test_a_real_fall_from_the_best_is_told():
    rng = np.random.default_rng(7)
    first = year(rng, n_sessions=10, n_putts=60, chance=0.8)
    worse = [
        Attempt(
            session=99, day=date(2026, 9, 1), putt=Putt(number=k, outcome="holed" if k % 4 == 0 else "missed")
        )
        for k in range(1, 61)
    ]
    course = courses(first + worse)[0]
    assert course.changed(course.to_best)
    assert "against the best of 11 (" in "\n".join(lines([course]))


def test_several_intervals_at_once():
    assert among(1) == pytest.approx(0.95)
    assert among(10) == pytest.approx(0.995)  # Bonferroni: 0.05 / 10 (textbook)
    assert among(0) == pytest.approx(0.95)
