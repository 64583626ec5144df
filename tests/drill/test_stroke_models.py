"""From stroke to chance, and the published fits once more.

Sources: A. Gelman, "Model building and expansion for golf putting", Stan case study (2019); A. Gelman and
D. Nolan, "A probability model for golf putting", Teaching Statistics 24(3), 2002, 93-95; M. Broadie, "Two
simple putting models in golf" (2018); M. Broadie, *Every Shot Counts* (2014), make rates restated in two
texts; Fearing, Acimovic and Graves, J. Quant. Anal. Sports 7(1), 2011, article 5. Values marked "worked" were
computed once from the formulas named beside them.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from puttvision.drill.make_tables import BERRY, BROADIE, Row
from puttvision.drill.stroke import (
    TOUR,
    Stroke,
    distance_for_chance,
    gate_chance,
    gate_half_angle_deg,
    hole_half_angle_deg,
    make_and_gate_chance,
    make_chance,
    normal,
    pace_chance,
    within_chance,
)
from puttvision.drill.stroke_fit import fit_direction, fit_direction_and_pace, fit_logistic, stroke_of
from puttvision.physics import FOOT_M

strokes = st.builds(
    Stroke,
    st.floats(0.05, 10),
    st.one_of(st.none(), st.floats(0.01, 0.5)),
    st.floats(-3, 3),
)


@pytest.fixture(scope="module")
def direction():
    return fit_direction(BERRY)


@pytest.fixture(scope="module")
def both():
    return fit_direction_and_pace(BROADIE)


# --- the published tables and fits ---------------------------------------------------------------


def test_the_tables_add_up():
    # checksums over the tables as the case study gives them
    assert (len(BERRY), sum(r.tries for r in BERRY), sum(r.holed for r in BERRY)) == (19, 5988, 3390)
    assert (len(BROADIE), sum(r.tries for r in BROADIE), sum(r.holed for r in BROADIE)) == (
        31, 1_253_196, 766_741,
    )  # fmt: skip
    assert BERRY[0] == Row(2, 1443, 1346)
    assert BROADIE[-1] == Row(75.19, 1742, 24)


def test_logistic_fit_as_published():
    # Gelman 2019: 2.23 +- 0.06 and -0.26 +- 0.01 a foot
    fit = fit_logistic(BERRY)
    assert fit.values[0] == pytest.approx(2.23, abs=0.01)
    assert fit.values[1] == pytest.approx(-0.26, abs=0.01)
    assert fit.u == pytest.approx((0.06, 0.01), abs=0.005)


def test_direction_fit_as_published(direction):
    # Gelman 2019: 1.53 +- 0.02 degrees; Gelman and Nolan 2002: 0.026 radians, by another criterion
    assert direction.values[0] == pytest.approx(1.53, abs=0.01)
    assert direction.u[0] == pytest.approx(0.02, abs=0.005)
    assert math.radians(direction.values[0]) == pytest.approx(0.026, abs=0.001)


def test_direction_beats_the_logistic_curve(direction):
    # worked: minus log-likelihood 2922.6394 against 3020.1546
    gain = fit_logistic(BERRY).minus_log_likelihood - direction.minus_log_likelihood
    assert gain == pytest.approx(97.5152, abs=0.001)


def test_direction_and_pace_fit_as_published(both):
    # Gelman 2019: 1.020 +- 0.006 degrees, 0.080 +- 0.001, scatter 0.003 +- 0.001
    assert both.values[0] == pytest.approx(1.020, abs=0.006)
    assert both.values[1] == pytest.approx(0.080, abs=0.0015)
    assert both.values[2] == pytest.approx(0.003, abs=0.001)
    assert both.u == pytest.approx((0.006, 0.001, 0.001), abs=0.001)
    assert stroke_of(both).start_spread_deg == pytest.approx(TOUR.start_spread_deg, abs=0.006)
    assert stroke_of(both).pace_spread == pytest.approx(TOUR.pace_spread, abs=0.0015)


def test_the_fit_leaves_less_than_a_point(both):
    # Gelman 2019 says so in words; worked: 0.00786
    stroke = stroke_of(both)
    off = [abs(row.holed / row.tries - make_chance(stroke, row.distance_ft * FOOT_M)) for row in BROADIE]
    assert max(off) == pytest.approx(0.00786, abs=0.0003)


def test_without_scatter_the_shortest_putts_decide_everything():
    # the trap of the case study: its quartiles show a mode at 0.76 degrees and 0.14
    fit = fit_direction_and_pace(BROADIE, plain=True)
    assert fit.values[0] == pytest.approx(0.76, abs=0.01)
    assert fit.values[1] == pytest.approx(0.14, abs=0.01)


@pytest.mark.parametrize(
    ("feet", "berry_fit", "broadie_fit"),
    [
        # worked from the two formulas with sigma = 0.0266454; 0.0178021 and 0.0800665
        (2, 0.95561, 0.99736),
        (3, 0.81972, 0.95423),
        (5, 0.57850, 0.75665),
        (10, 0.31224, 0.38931),
        (20, 0.15926, 0.14347),
        (40, None, 0.04166),
        (60, None, 0.01917),
    ],
)
def test_chances_of_the_fitted_strokes(feet, berry_fit, broadie_fit):
    angle = Stroke(math.degrees(0.0266454))
    angle_and_pace = Stroke(math.degrees(0.0178021), 0.0800665)
    if berry_fit is not None:
        assert make_chance(angle, feet * FOOT_M) == pytest.approx(berry_fit, abs=1e-5)
    assert make_chance(angle_and_pace, feet * FOOT_M) == pytest.approx(broadie_fit, abs=1e-5)


def test_half_the_putts():
    # worked: 8.0172 and 5.9586 ft; Broadie 2014: 8 ft on tour
    assert distance_for_chance(Stroke(math.degrees(0.0178021), 0.0800665), 0.5) / FOOT_M == pytest.approx(
        8.0172, abs=1e-4
    )
    assert distance_for_chance(Stroke(math.degrees(0.0266454)), 0.5) / FOOT_M == pytest.approx(
        5.9586, abs=1e-4
    )


@pytest.mark.parametrize(
    ("feet", "percent"),
    [(3, 96), (4, 88), (5, 77), (10, 40), (15, 23), (20, 15), (30, 7), (40, 4), (50, 3), (60, 2)],
)
def test_a_tour_players_stroke_holes_as_tour_players_do(feet, percent):
    # Broadie 2014: tour one-putt rates in whole points; the model is within two of them
    assert 100 * make_chance(TOUR, feet * FOOT_M) == pytest.approx(percent, abs=2.0)


@pytest.mark.parametrize("feet", [3, 5, 8, 10, 15, 20, 30, 40])
def test_another_published_curve_agrees(feet):
    # Fearing et al. 2011: logit p = 7.31 - 5.58 ln d + 0.676 d - 0.0197 d^2 + 2.93e-4 d^3 - 1.62e-6 d^4
    logit = 7.31 - 5.58 * math.log(feet) + 0.676 * feet - 0.0197 * feet**2
    logit += 2.93e-4 * feet**3 - 1.62e-6 * feet**4
    assert make_chance(TOUR, feet * FOOT_M) == pytest.approx(1 / (1 + math.exp(-logit)), abs=0.025)


# --- fits find what made the table ---------------------------------------------------------------


def test_a_made_up_player_is_found_again():
    rng = np.random.default_rng(3)
    true = Stroke(1.4, 0.11)
    feet = np.array([2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30])
    n = 20_000
    rows = [Row(float(x), n, int(rng.binomial(n, make_chance(true, x * FOOT_M)))) for x in feet]
    fit = fit_direction_and_pace(rows, plain=True)
    assert abs(fit.values[0] - 1.4) < 4 * fit.u[0]
    assert abs(fit.values[1] - 0.11) < 4 * fit.u[1]
    assert fit.u[0] < 0.02


@pytest.mark.parametrize("rows", [[], [Row(-1, 10, 5)], [Row(3, 0, 0)], [Row(3, 5, 6)]])
def test_a_table_that_cannot_be(rows):
    with pytest.raises(ValueError, match="row"):
        fit_direction(rows)


# --- geometry and chances ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("metres", "degrees"),
    # asin((R - r) / x) with hole and ball of 4.25 and 1.68 in (Rules of Golf); worked
    [(0.9144, 2.04557), (1.8288, 1.02262), (2.7432, 0.68172), (3.048, 0.61354)],
)
def test_half_the_hole_as_an_angle(metres, degrees):
    assert hole_half_angle_deg(metres) == pytest.approx(degrees, abs=1e-4)


def test_a_ball_within_reach_of_the_hole_cannot_miss_the_line():
    assert hole_half_angle_deg(0.03) == 90
    assert within_chance(Stroke(5.0), 90) == 1


@pytest.mark.parametrize(
    ("ahead_m", "width_mm", "degrees"),
    # atan((W / 2 - r) / x), r = 21.335 mm; worked
    [(0.5, 60, 0.99284), (0.3, 60, 1.65443), (0.5, 70, 1.56550), (0.3, 80, 3.56016), (0.5, 42, 0.0)],
)
def test_a_gate_as_an_angle(ahead_m, width_mm, degrees):
    assert gate_half_angle_deg(ahead_m, width_mm) == pytest.approx(degrees, abs=1e-4)


def test_chances_against_scipy():
    stroke = Stroke(1.2, 0.1, 0.4)
    law = stats.norm(0.4, 1.2)
    half = hole_half_angle_deg(2.0)
    assert within_chance(stroke, half) == pytest.approx(law.cdf(half) - law.cdf(-half), rel=1e-12)
    length = stats.norm(2.0 + FOOT_M, 0.1 * (2.0 + FOOT_M))
    assert pace_chance(stroke, 2.0) == pytest.approx(length.cdf(2 + 3 * FOOT_M) - length.cdf(2), rel=1e-12)
    gate = gate_half_angle_deg(0.5, 50)
    assert gate_chance(stroke, 0.5, 50) == pytest.approx(law.cdf(gate) - law.cdf(-gate), rel=1e-12)
    assert normal(-10) == pytest.approx(stats.norm.cdf(-10), rel=1e-10)


@given(strokes, st.floats(0.2, 20), st.floats(0.2, 1.5), st.floats(43, 150))
def test_chances_are_chances(stroke, metres, ahead_m, width_mm):
    make, gate = make_chance(stroke, metres), gate_chance(stroke, ahead_m, width_mm)
    both = make_and_gate_chance(stroke, metres, ahead_m, width_mm)
    assert 0 <= both <= min(make, gate) * (1 + 1e-9) + 1e-300
    assert max(make, gate) <= 1


@given(st.floats(0.05, 5), st.floats(0.01, 0.3), st.floats(0.3, 15), st.floats(1.05, 2))
def test_further_off_and_wilder_is_holed_less(spread, pace, metres, more):
    here = make_chance(Stroke(spread, pace), metres)
    assert make_chance(Stroke(spread, pace), metres * more) <= here + 1e-12
    assert make_chance(Stroke(spread * more, pace), metres) <= here + 1e-12
    assert make_chance(Stroke(spread, pace, 0.5), metres) <= here + 1e-12
    assert here <= make_chance(Stroke(spread), metres) + 1e-12


@given(st.floats(0.3, 5), st.floats(0.02, 0.3), st.floats(0.05, 0.95))
def test_distance_for_a_chance_is_the_way_back(spread, pace, chance):
    stroke = Stroke(spread, pace)
    metres = distance_for_chance(stroke, chance)
    assert make_chance(stroke, metres) == pytest.approx(chance, abs=1e-9)


@pytest.mark.parametrize(
    ("values", "says"),
    [((0.0,), "start-line spread"), ((50.0,), "start-line spread"), ((1.0, 1.5), "pace spread"),
     ((1.0, 0.0), "pace spread"), ((1.0, 0.1, 60.0), "bias"), ((math.nan,), "start-line spread")],
)  # fmt: skip
def test_a_stroke_that_cannot_be(values, says):
    with pytest.raises(ValueError, match=says):
        Stroke(*values)
