"""The ball gate: its geometry and signs, which posts make one, and what a track does there.

Signs as the format of putts.json fixes them: right is positive, as the player sees it from the ball.
"""

import numpy as np
import pytest
from make_rolls import ALONG, CAMERA, HOLE_M, LIE_M, RIGHT, at, gate

from puttvision.green.posts import Post
from puttvision.physics import BALL_RADIUS_M
from puttvision.putt.gate import POST_DIAMETER_M, GateLine, choose_gate, crossing, offset_after_knock


def post(along_m, right_m, height_m=0.032, contrast=20.0):
    foot = CAMERA.project([*at(along_m, right_m), 0.0])
    return Post(
        foot_px=(float(foot[0]), float(foot[1])), cov_px2=np.eye(2) * 0.2, width_px=3.0, height_m=height_m,
        contrast=contrast,
    )  # fmt: skip


def where(found):
    """Places of chosen posts in the putt's frame: (along, right) of the left and of the right one."""
    away = [CAMERA.to_plane(np.array(p.foot_px)) - LIE_M for p in found]
    return [(float(a @ ALONG), float(a @ RIGHT)) for a in away]


def test_the_gates_own_axes():
    # seen from the ball at the origin, looking along y: right is x
    line = GateLine(np.array([-0.04, 0.45]), np.array([0.04, 0.45]))
    assert line.centre_m == pytest.approx([0, 0.45])
    assert line.across == pytest.approx([1, 0])
    assert line.normal == pytest.approx([0, 1])
    # the clear opening lies between the facing sides of two posts of one shank each
    assert line.opening_m == pytest.approx(0.080 - POST_DIAMETER_M)


def test_a_gate_that_faces_right():
    line = gate(square_deg=10.0)
    turned = np.degrees(np.arctan2(line.normal @ RIGHT, line.normal @ ALONG))
    assert turned == pytest.approx(10.0)
    assert line.opening_m == pytest.approx(0.075)
    # its left post stands further on than its right one
    assert (line.left_m - LIE_M) @ ALONG > (line.right_m - LIE_M) @ ALONG


@pytest.mark.parametrize("order", [1, -1])
def test_two_posts_ahead_are_a_gate_left_and_right(order):
    posts = [post(0.45, -0.04), post(0.45, 0.04)][::order]
    found = choose_gate(posts, CAMERA, LIE_M, HOLE_M)
    assert found is not None
    (left, right) = where(found)
    assert left == pytest.approx((0.45, -0.04), abs=1e-6)
    assert right == pytest.approx((0.45, 0.04), abs=1e-6)


@pytest.mark.parametrize(
    "posts",
    [
        pytest.param([], id="none"),
        pytest.param([(0.45, -0.04)], id="one alone"),
        pytest.param([(0.02, -0.07), (0.02, 0.07)], id="a gate for the putter's head, at the ball"),
        pytest.param([(0.08, -0.06), (0.08, 0.06)], id="a gate for the putter's head, just ahead"),
        pytest.param([(0.45, -0.15), (0.45, 0.15)], id="too wide"),
        pytest.param([(0.45, -0.017), (0.45, 0.017)], id="narrower than a ball"),
        pytest.param([(0.45, 0.15), (0.45, 0.23)], id="beside the line"),
        pytest.param([(0.45, 0.0), (0.53, 0.0)], id="one behind the other on the line"),
        pytest.param([(2.2, -0.04), (2.2, 0.04)], id="at the hole"),
        pytest.param([(-0.45, -0.04), (-0.45, 0.04)], id="behind the ball"),
    ],
)
def test_what_is_no_ball_gate(posts):
    assert choose_gate([post(*place) for place in posts], CAMERA, LIE_M, HOLE_M) is None


def test_the_ball_gate_is_told_from_the_head_gate_and_stray_tees():
    posts = [post(0.01, -0.065), post(0.47, 0.045), post(0.01, 0.065), post(0.43, -0.035), post(0.9, 0.13)]
    found = choose_gate(posts, CAMERA, LIE_M, HOLE_M)
    assert found is not None
    assert [round(along, 2) for along, _ in where(found)] == [0.43, 0.47]


def straight(start, heading_deg, speed, n=60, rate_hz=60.0, noise_m=0.0, seed=0):
    """Times and places of a ball that rolls straight on, ``heading_deg`` to the right of the line."""
    t = np.arange(n) / rate_hz
    turn = np.radians(heading_deg)
    way = np.cos(turn) * ALONG + np.sin(turn) * RIGHT
    places = start + t[:, None] * speed * way
    return t, places + np.random.default_rng(seed).normal(0, noise_m, places.shape)


def meet(line, t, places, noise_m=0.0005):
    cov = np.tile(np.eye(2) * noise_m**2, (len(t), 1, 1))
    return crossing(t, places, cov, line)


def test_a_straight_track_crosses_without_a_turn():
    t, places = straight(LIE_M, 1.0, 1.5, noise_m=0.0005)
    met = meet(gate(), t, places)
    ahead = (places - at(0.45)) @ gate().normal
    assert ahead[met.index - 1] <= 0 < ahead[met.index]
    assert abs(met.turn_rad) < 4 * met.u_turn_rad
    assert np.degrees(met.u_turn_rad) < 0.5
    assert met.went_m_s / met.came_m_s == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize(("turn_deg", "kept"), [(6.0, 0.8), (-9.0, 0.9)])
def test_a_knock_shows_as_a_turn_and_a_loss(turn_deg, kept):
    # headings run counter-clockwise: a ball turned to the right has a negative turn
    before = straight(LIE_M, 0.5, 1.5, n=18, noise_m=0.0003)[1]
    after = straight(before[-1], 0.5 + turn_deg, 1.5 * kept, n=40, noise_m=0.0003, seed=1)[1]
    places = np.vstack([before, after[1:]])
    met = meet(gate(), np.arange(len(places)) / 60, places, noise_m=0.0003)
    assert np.degrees(met.turn_rad) == pytest.approx(-turn_deg, abs=0.5)
    assert met.went_m_s / met.came_m_s == pytest.approx(kept, abs=0.03)
    assert abs(met.turn_rad) > 4 * met.u_turn_rad


@pytest.mark.parametrize("speed_m_s", [1.0, 1.5, 2.2])
def test_the_bend_of_a_slope_is_no_knock(speed_m_s):
    # on a side slope of 3 % a ball is pulled by 5/7 g sin(slope) = 0.21 m/s2 (a solid sphere's inertia)
    t = np.arange(60) / 60
    noise = np.random.default_rng(4).normal(0, 0.0004, (60, 2))
    places = LIE_M + t[:, None] * speed_m_s * ALONG + 0.5 * 0.21 * t[:, None] ** 2 * RIGHT + noise
    met = meet(gate(), t, places, noise_m=0.0004)
    assert abs(met.turn_rad) < max(np.radians(0.9), 3 * met.u_turn_rad)


def test_the_claimed_uncertainty_of_a_turn_is_honest():
    # straight balls with the noise they claim: 95 % of the turns lie within 1.96 of their uncertainty
    pulls = []
    for seed in range(60):
        t, places = straight(LIE_M, 0.3, 1.6, noise_m=0.0005, seed=seed)
        met = meet(gate(), t, places)
        pulls.append(met.turn_rad / met.u_turn_rad)
    assert 0.85 <= np.mean(np.abs(pulls) < 1.96) <= 1.0
    assert 0.5 < np.std(pulls) < 1.4


def test_a_ball_that_stops_before_it_has_no_crossing():
    t, places = straight(LIE_M, 0.0, 0.3)
    met = meet(gate(), t, places)
    assert met.index == len(places)
    assert met.turn_rad == 0.0
    assert met.u_turn_rad == np.inf


def test_the_gap_a_ball_has():
    # half of a 75 mm opening less half a ball of 42.67 mm: 16.2 mm to either side
    assert gate().opening_m / 2 - BALL_RADIUS_M == pytest.approx(0.016165, abs=1e-6)


def test_a_ball_knocked_aside_is_placed_by_what_is_seen_beyond():
    # a skidding ball bends back: aside = 14 mm - 0.9 x + 2.5 x^2 of the way x beyond the line
    def seen(ahead):
        line = gate()
        aside = np.where(ahead < -0.005, 0.0185, 0.014 - 0.9 * ahead + 2.5 * ahead**2)
        at_m = line.centre_m + np.outer(ahead, line.normal) + np.outer(aside, line.across)
        return at_m, np.tile(np.eye(2) * 0.0003**2, (len(ahead), 1, 1)), line

    close = np.array([-0.035, -0.012, 0.011, 0.034, 0.057, 0.080, 0.103])
    far = np.array([-0.08, -0.03, 0.012, 0.045, 0.080, 0.117, 0.155, 0.20])
    for ahead in (close, far):
        offset_m, u_m = offset_after_knock(*seen(ahead))
        assert abs(offset_m - 0.014) < 2 * u_m < 0.014
    assert offset_after_knock(*seen(far[:4])) is None
