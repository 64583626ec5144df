"""Formulas against worked tables.

Sources, as restated in later texts unless a title says otherwise: Holmes 1986, Phys. Teach. 24 (release
speed) and 1991, Am. J. Phys. 59, 129-136 (hole); Penner 2002, Can. J. Phys. 80, 83-96; Brede 1990, USGA
Green Section Record 28(6); Rules of Golf and Equipment Rules (R&A and USGA). The worked numbers
were computed from those formulas with g = 9.80665 m/s2, a ball of 42.67 mm and a hole of 108 mm, and are
exact to the printed digits: half a unit of the last digit is the tolerance.
"""

import math

import pytest

from puttvision import physics

# reading ft, deceleration m/s2, Penner's resistance, speeds m/s for 0.30 m, 17 in (0.4318 m), 0.45 m past
GREEN_SPEEDS = [
    (4, 1.37340, 0.19607, 0.9078, 1.0891, 1.1118),
    (6, 0.91560, 0.13071, 0.7412, 0.8892, 0.9078),
    (8, 0.68670, 0.09803, 0.6419, 0.7701, 0.7861),
    (9, 0.61040, 0.08714, 0.6052, 0.7260, 0.7412),
    (10, 0.54936, 0.07843, 0.5741, 0.6888, 0.7032),
    (11, 0.49942, 0.07130, 0.5474, 0.6567, 0.6704),
    (12, 0.45780, 0.06536, 0.5241, 0.6288, 0.6419),
    (14, 0.39240, 0.05602, 0.4852, 0.5821, 0.5943),
]


@pytest.mark.parametrize("row", GREEN_SPEEDS, ids=[f"{row[0]} ft" for row in GREEN_SPEEDS])
def test_green_speed_table(row):
    # a = v0^2 / (2 d), v0 = 1.83 m/s (Holmes 1986); rho = (7/5) a/g (Penner 2002, Eq. 5)
    reading_ft, deceleration, resistance, *speeds = row
    a = physics.deceleration_from_stimp(reading_ft)
    assert a == pytest.approx(deceleration, abs=6e-6)
    assert a / physics.GRAVITY_M_S2 / physics.ROLL_SHARE == pytest.approx(resistance, abs=6e-6)
    for past_m, speed in zip((0.30, 17 * 0.0254, 0.45), speeds, strict=True):
        assert physics.rolling_speed_for(past_m, a) == pytest.approx(speed, abs=6e-5)
    assert physics.stimp_from_deceleration(a) == pytest.approx(reading_ft, rel=1e-12)


@pytest.mark.parametrize("wrong", [0, -9.5, math.nan])
def test_a_green_has_a_speed_above_nothing(wrong):
    with pytest.raises(ValueError, match="above 0 ft"):
        physics.deceleration_from_stimp(wrong)
    with pytest.raises(ValueError, match="slows down"):
        physics.stimp_from_deceleration(wrong)


def test_level_reading_from_a_slope():
    # Brede 1990: S = 2 Su Sd / (Su + Sd): 8 ft up and 12 ft down are 9.6 ft on the level, not 10
    assert physics.level_stimp(8, 12) == pytest.approx(9.6, rel=1e-12)
    assert physics.level_stimp(10, 10) == pytest.approx(10, rel=1e-12)


def test_slope_identity_of_a_ten_foot_green():
    # (5/7) g sin(atan 0.02) = 0.140067 m/s2 (Penner 2002, Eq. 36): decelerations 0.689427 up and 0.409293
    # down, readings 7.96836 and 13.42217 ft, and by Brede's formula 10.000 ft again
    level = physics.deceleration_from_stimp(10)
    pull = physics.slope_acceleration(0.02)
    assert pull == pytest.approx(0.140067, abs=6e-7)
    assert level + pull == pytest.approx(0.689427, abs=6e-7)
    assert level - pull == pytest.approx(0.409293, abs=6e-7)
    up, down = (physics.stimp_from_deceleration(a) for a in (level + pull, level - pull))
    assert (up, down) == pytest.approx((7.96836, 13.42217), abs=6e-6)
    assert physics.level_stimp(up, down) == pytest.approx(10, rel=1e-12)


def test_slope_acceleration_has_a_sign_and_vanishes_on_the_level():
    assert physics.slope_acceleration(0.0) == 0.0
    assert physics.slope_acceleration(-0.02) == -physics.slope_acceleration(0.02)
    # 45 degrees: (5/7) g / sqrt 2, textbook mechanics of a solid sphere that does not slip
    assert physics.slope_acceleration(1.0) == pytest.approx(5 / 7 * 9.80665 / math.sqrt(2), rel=1e-12)


@pytest.mark.parametrize(
    ("offset_mm", "speed"),
    [(0, 1.63), (10, 1.57410), (20, 1.40641), (30, 1.12691), (40, 0.73562), (50, 0.23254), (54, 0.0)],
)
def test_capture_speed_is_penners(offset_mm, speed):
    # Penner 2002, Eq. 23, a fit to Holmes 1991: 1.63 (1 - (d/R)^2), R = 54 mm; both sides alike
    assert physics.capture_speed(offset_mm / 1000) == pytest.approx(speed, abs=6e-6)
    assert physics.capture_speed(-offset_mm / 1000) == physics.capture_speed(offset_mm / 1000)


@pytest.mark.parametrize("offset_mm", [54.1, 80, -300])
def test_a_ball_that_passes_beside_the_hole_is_never_taken(offset_mm):
    assert physics.capture_speed(offset_mm / 1000) == 0.0


@pytest.mark.parametrize(
    ("speed", "offset_mm"),
    [
        (0.25, 49.687), (0.50, 44.961), (0.65, 41.871), (0.75, 39.677),
        (1.00, 33.571), (1.25, 26.073), (1.50, 15.250),
    ],
)  # fmt: skip
def test_capture_offset_is_its_inverse(speed, offset_mm):
    # d = R sqrt(1 - v/1.63)
    assert physics.capture_offset(speed) * 1000 == pytest.approx(offset_mm, abs=6e-4)
    assert physics.capture_speed(physics.capture_offset(speed)) == pytest.approx(speed, rel=1e-12)


def test_no_hole_takes_a_ball_that_is_too_fast():
    # Holmes 1991: 1.63 m/s dead centre is the most
    assert physics.capture_offset(1.64) == 0.0
    assert physics.capture_offset(5.0) == 0.0


@pytest.mark.parametrize(
    ("launch", "mu", "rolling", "time_s", "length_m"),
    [
        (1.5, 0.4, 1.071429, 0.109255, 0.140471),
        (2.0, 0.4, 1.428571, 0.145674, 0.249726),
        (2.0, 0.3, 1.428571, 0.194232, 0.332969),
        (3.0, 0.4, 2.142857, 0.218511, 0.561884),
    ],
)
def test_skid_table(launch, mu, rolling, time_s, length_m):
    # solid sphere without spin, textbook mechanics: 5/7 of v0 is left after 2 v0/(7 mu g), 12 v0^2/(49 mu g)
    assert launch * physics.ROLL_SHARE == pytest.approx(rolling, abs=6e-7)
    assert physics.skid_time(launch, mu) == pytest.approx(time_s, abs=6e-7)
    assert physics.skid_length(launch, mu) == pytest.approx(length_m, abs=6e-7)
    # the same length once more from its definition: mean speed over the skid times its time
    mean = (launch + launch * physics.ROLL_SHARE) / 2
    assert physics.skid_length(launch, mu) == pytest.approx(mean * physics.skid_time(launch, mu), rel=1e-12)


@pytest.mark.parametrize(
    ("reading_ft", "mu", "share"),
    [
        (8, 0.3, 0.18306), (8, 0.4, 0.14388), (10, 0.3, 0.15201),
        (10, 0.4, 0.11851), (12, 0.3, 0.12997), (12, 0.4, 0.10075),
    ],
)  # fmt: skip
@pytest.mark.parametrize("launch", [1.0, 2.5])
def test_share_of_a_putt_that_skids(reading_ft, mu, share, launch):
    # 12/(12 + 12.5 mu g/a), whatever the launch; Cochran & Stobbs 1968 give 15 to 20 % of the length
    a = physics.deceleration_from_stimp(reading_ft)
    skid = physics.skid_length(launch, mu)
    roll = (physics.ROLL_SHARE * launch) ** 2 / (2 * a)
    assert skid / (skid + roll) == pytest.approx(share, abs=6e-6)


def test_sizes_of_the_rules():
    # Rules of Golf, Definition "Hole": 4 1/4 in (108 mm) across, lining sunk at least 1 in (25.4 mm);
    # Equipment Rules, ball size: not less than 1.680 in (42.67 mm)
    assert pytest.approx(0.108, abs=1e-12) == 2 * physics.HOLE_RADIUS_M
    assert abs(2 * physics.HOLE_RADIUS_M - 4.25 * 0.0254) < 0.0005
    assert pytest.approx(0.04267, abs=1e-12) == 2 * physics.BALL_RADIUS_M
    assert pytest.approx(1.680 * 0.0254, abs=5e-6) == 2 * physics.BALL_RADIUS_M
    assert pytest.approx(1 * 0.0254, abs=1e-12) == physics.LINER_DEPTH_M


def test_units():
    # the international foot is 0.3048 m, standard gravity 9.80665 m/s2; both exact by definition
    assert physics.metres(10) == pytest.approx(3.048, rel=1e-15)
    assert physics.feet(physics.metres(7.3)) == pytest.approx(7.3, rel=1e-15)
    assert physics.GRAVITY_M_S2 == 9.80665
