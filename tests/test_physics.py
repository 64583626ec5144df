"""Formulas against worked tables; numbers from Holmes 1991, Penner 2002 and the Rules of Golf as restated."""

import pytest

from puttvision import physics


@pytest.mark.parametrize(
    ("stimp_ft", "deceleration", "speed_for_17_in"),
    [(4, 1.37340, 1.0891), (8, 0.68670, 0.7701), (10, 0.54936, 0.6888), (14, 0.39240, 0.5821)],
)
def test_green_speed_table(stimp_ft, deceleration, speed_for_17_in):
    # a = v0^2 / (2 d) with v0 = 1.83 m/s (Holmes 1986); 17 in = 0.4318 m past the hole
    a = physics.deceleration_from_stimp(stimp_ft)
    assert a == pytest.approx(deceleration, abs=1e-5)
    assert physics.rolling_speed_for(0.4318, a) == pytest.approx(speed_for_17_in, abs=1e-4)
    assert physics.stimp_from_deceleration(a) == pytest.approx(stimp_ft)


@pytest.mark.parametrize(("offset_mm", "speed"), [(0, 1.63), (20, 1.40641), (40, 0.73562), (54, 0.0)])
def test_capture_speed_is_penners(offset_mm, speed):
    # Penner 2002, Can. J. Phys. 80, Eq. 23
    assert physics.capture_speed(offset_mm / 1000) == pytest.approx(speed, abs=1e-5)


@pytest.mark.parametrize(("speed", "offset_mm"), [(0.25, 49.687), (1.0, 33.571), (1.5, 15.250)])
def test_capture_offset_is_its_inverse(speed, offset_mm):
    assert physics.capture_offset(speed) * 1000 == pytest.approx(offset_mm, abs=1e-3)


@pytest.mark.parametrize(
    ("v0", "mu", "time_s", "length_m"), [(1.5, 0.4, 0.109255, 0.140471), (3.0, 0.4, 0.218511, 0.561884)]
)
def test_skid(v0, mu, time_s, length_m):
    # textbook mechanics of a solid sphere: 2 v0/(7 mu g), 12 v0^2/(49 mu g)
    assert physics.skid_time(v0, mu) == pytest.approx(time_s, abs=1e-6)
    assert physics.skid_length(v0, mu) == pytest.approx(length_m, abs=1e-6)


def test_level_reading_from_a_slope():
    # Brede 1990: 8 ft up and 12 ft down the slope are 9.6 ft on the level
    assert physics.level_stimp(8, 12) == pytest.approx(9.6)
    assert physics.slope_acceleration(0.02) == pytest.approx(0.140067, abs=1e-6)


def test_sizes_of_the_rules():
    # Rules of Golf, Definition "Hole": 4 1/4 in or 108 mm; Equipment Rules: ball at least 1.680 in
    assert abs(2 * physics.HOLE_RADIUS_M - 4.25 * 0.0254) < 0.0005
    assert pytest.approx(1.680 * 0.0254, abs=1e-5) == 2 * physics.BALL_RADIUS_M
