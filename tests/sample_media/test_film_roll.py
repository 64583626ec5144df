"""The films' ball against worked examples and published capture speeds."""

import math

import numpy as np
import pytest

from puttvision.physics import (
    BALL_RADIUS_M,
    HOLE_RADIUS_M,
    capture_speed,
    deceleration_from_stimp,
    slope_acceleration,
)
from sample_media.film import roll
from sample_media.film.roll import Ground, aim, along_right, simulate


@pytest.mark.parametrize(
    ("launch", "friction", "roll_speed", "skid_s", "skid_m"),
    [
        # Reference values, part D, worked from 5/7, 2 v/(7 mu g), 12 v^2/(49 mu g).
        pytest.param(1.5, 0.4, 1.071429, 0.109255, 0.140471, id="1.5 m/s"),
        pytest.param(2.0, 0.3, 1.428571, 0.194232, 0.332969, id="2 m/s, slippery"),
        pytest.param(3.0, 0.4, 2.142857, 0.218511, 0.561884, id="3 m/s"),
    ],
)
def test_skid_ends_in_rolling(launch, friction, roll_speed, skid_s, skid_m):
    path = simulate(Ground(friction=friction), (0.0, 0.0), (launch, 0.0))
    slip = path.velocity[:, 0] - BALL_RADIUS_M * path.spin[:, 1]
    k = int(np.argmax(np.abs(slip) < 1e-9))

    assert path.velocity[k, 0] == pytest.approx(roll_speed, abs=2e-3)  # one step of friction is 1e-3 m/s
    assert path.t[k] == pytest.approx(skid_s, abs=2 * roll.STEP_S)
    assert path.xyz[k, 0] == pytest.approx(skid_m, abs=2e-3)


def test_whole_length_of_a_level_putt():
    # Reference values, part D: 2 m/s, mu 0.4, 10 ft green: skid 0.249726 m + roll 1.857448 m.
    path = simulate(Ground(stimp_ft=10.0), (0.0, 0.0), (2.0, 0.0))

    assert path.at_rest[0] == pytest.approx(2.107174, abs=5e-4)
    assert path.at_rest[1] == 0.0


def test_slope_pulls_a_rolling_ball_by_five_sevenths():
    path = simulate(Ground(stimp_ft=9.0, slope_along=-0.012), (0.0, 0.0), (2.2, 0.0))
    rolling = (path.t > 0.5) & (path.t < 1.2)
    slowing = -np.polyfit(path.t[rolling], path.velocity[rolling, 0], 1)[0]

    # Penner 2002, Eq. 36, small angles: rolling resistance and (5/7) g sin uphill add.
    assert slowing == pytest.approx(deceleration_from_stimp(9.0) + slope_acceleration(0.012), rel=2e-3)


def test_a_cross_slope_to_the_left_breaks_left():
    path = simulate(Ground(slope_left=0.015), (0.0, 0.0), (2.0, 0.0))

    assert path.at_rest[1] > 0.1


def rolled_in(speed: float, offset_m: float) -> bool:
    """Whether a ball that already rolls drops."""
    ball = roll._Ball(Ground(stimp_ft=10.0, hole=(0.0, 0.0)), (-0.06, offset_m), (speed, 0.0))
    ball.w[1] = speed / BALL_RADIUS_M
    now_s = 0.0
    while now_s < 3.0:
        now_s += ball.step(now_s)
        if ball.holed_s is not None:
            return True
        if math.hypot(ball.p[0], ball.p[1]) > 2 * HOLE_RADIUS_M and ball.p[0] > 0:
            return False
    return False


@pytest.mark.parametrize("offset_mm", [0, 10, 20, 30, 40])
def test_the_hole_takes_balls_up_to_published_speeds(offset_mm):
    # Penner 2002, Eq. 23 (a fit to Holmes 1991): 1.63 (1 - (d/R)^2); a rigid rim comes close to it.
    limit = capture_speed(offset_mm / 1000)

    assert rolled_in(limit - 0.13, offset_mm / 1000)
    assert not rolled_in(limit + 0.17, offset_mm / 1000)


def test_free_fall_alone_takes_a_ball_below_1_31():
    # Holmes 1991: 1.31 m/s in the centre by falling alone.
    assert rolled_in(1.31, 0.0)


def test_a_post_turns_the_ball():
    ground = Ground(posts=(("left", 0.45, 0.02, 0.0023),))
    path = simulate(ground, (0.0, 0.0), (2.0, 0.0))

    assert [name for _, name in path.post_hits] == ["left"]
    assert path.at_rest[1] < -0.05  # the post stands left of the ball's line
    gap = np.hypot(path.xyz[:, 0] - 0.45, path.xyz[:, 1] - 0.02)
    assert gap.min() >= BALL_RADIUS_M + 0.0023 - 1e-9


@pytest.mark.parametrize(("offset_m", "run_out_m"), [(0.02, 0.4), (-0.08, 0.6)])
def test_aim_reaches_what_was_asked(offset_m, run_out_m):
    ground = Ground(stimp_ft=9.0, slope_left=0.01, slope_along=-0.004)
    hole = (2.4, 0.3)
    path = simulate(ground, (0.0, 0.02), aim(ground, (0.0, 0.02), hole, offset_m, run_out_m))
    along, right = along_right(path.xyz[:, :2], (0.0, 0.02), hole)
    distance = math.dist((0.0, 0.02), hole)
    k = int(np.argmin(np.hypot(along - distance, right)))

    assert along[-1] - distance == pytest.approx(run_out_m, abs=1e-3)
    assert right[k] == pytest.approx(offset_m, abs=1e-4)
