"""A gate pointed at by hand: what can be one is taken, what cannot is one clear line."""

from dataclasses import replace

import numpy as np
import pytest
from make_rolls import CAMERA, HOLE_M, LIE_M, at

from puttvision.errors import GreenError
from puttvision.putt.gate_by_hand import check_gate_pixels, posts_by_hand


def pixels(*places_m):
    return tuple(tuple(map(float, CAMERA.project([*place, 0.0]))) for place in places_m)


def test_left_and_right_whichever_is_pointed_at_first():
    left, right = at(0.45, -0.04), at(0.45, 0.04)
    for order in ((left, right), (right, left)):
        posts = posts_by_hand(pixels(*order), CAMERA, LIE_M, HOLE_M)
        feet = CAMERA.to_plane(posts.feet_px)
        assert feet[0] == pytest.approx(left, abs=1e-6)
        assert feet[1] == pytest.approx(right, abs=1e-6)


@pytest.mark.parametrize(
    ("along_m", "says"),
    [(-0.3, "behind the ball"), (float(np.hypot(*(HOLE_M - LIE_M))) + 0.3, "beyond the hole")],
)
def test_a_gate_that_is_not_between_ball_and_hole(along_m, says):
    feet = pixels(at(along_m, -0.04), at(along_m, 0.04))
    with pytest.raises(GreenError, match=says):
        posts_by_hand(feet, CAMERA, LIE_M, HOLE_M)


@pytest.mark.parametrize(
    ("apart_m", "says"),
    [(0.0, "0 mm apart"), (0.03, "30 mm apart"), (0.6, "600 mm apart"), (1.5, r"1\.5 m apart")],
)
def test_feet_too_close_or_too_far_apart(apart_m, says):
    feet = pixels(at(0.45, -apart_m / 2), at(0.45, apart_m / 2))
    with pytest.raises(GreenError, match=says) as caught:
        check_gate_pixels(feet, CAMERA)
    assert "\n" not in str(caught.value)


def test_above_the_horizon_and_outside_the_picture():
    # 1.4 m up and 25.8 degrees down, f 1400: the horizon lies 676 px above the middle, out of the picture;
    # so tilt the camera up
    level = replace(CAMERA, tilt_rad=0.1)
    with pytest.raises(GreenError, match="horizon"):
        check_gate_pixels(((900.0, 100.0), (940.0, 800.0)), level)
    with pytest.raises(GreenError, match="outside the picture of 1920 x 1080"):
        check_gate_pixels(((900.0, 100.0), (1920.0, 800.0)), CAMERA)
