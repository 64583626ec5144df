"""Posts lit from beside, in ray-traced pictures: their feet are under their axes."""

import numpy as np
import pytest
from little_green import Scene, Tee, View, box_round, film

from puttvision.green.post_pair import pair_of
from puttvision.green.post_shading import lit_shift_m, off_lit_side
from puttvision.green.posts import SHANK_M, find_posts
from puttvision.green.still import StillPicture

VIEW = View(f_px=1400.0)
CAMERA = VIEW.camera()
FEET = [(-0.05, 2.75), (0.04, 2.78)]
FEET_PX = np.array([VIEW.project([*foot, 0.0]) for foot in FEET])
REGION = np.array([(-0.6, 2.3), (0.6, 2.3), (0.6, 3.2), (-0.6, 3.2)])
SKY, SUN = 0.25, 0.9
LIGHTS = (SKY, 0.0, SUN)
"""The tracer's sky is even."""


def unit(x, y, z):
    return tuple((np.array([x, y, z]) / np.linalg.norm([x, y, z])).tolist())


def pair_under(sun, seed):
    tees = tuple(Tee(foot) for foot in FEET)
    scene = Scene(tees=tees, sun=sun, sun_light=SUN, sky_light=SKY)
    boxes = [box_round(VIEW, foot, 0.08, 0.05) for foot in FEET]
    seen = film(VIEW, scene, fine=boxes, seed=seed)
    posts = find_posts(StillPicture(seen.luma, seen.cb, seen.cr, 9), CAMERA, REGION)
    return pair_of(*sorted(posts, key=lambda post: post.foot_px[0]), CAMERA)


def across_px(pair):
    """How far right of their axes the feet are, mean of both: the view is level."""
    return float((pair.feet_px - FEET_PX)[:, 0].mean())


@pytest.mark.parametrize("side", [-1, 1])
def test_a_low_sun_from_beside_draws_feet_to_the_lit_side_and_this_takes_them_back(side):
    sun = unit(side * 1.0, 0.15, 0.3)
    seen = pair_under(sun, seed=1)
    placed = off_lit_side(seen, CAMERA, sun, LIGHTS)
    assert side * across_px(seen) > 0.08
    assert abs(across_px(placed)) < 0.6 * abs(across_px(seen))
    off = (placed.feet_px - FEET_PX).ravel()
    assert off @ np.linalg.solve(placed.cov_px2, off) < 16  # of 4 degrees of freedom


def test_a_sun_behind_the_lens_or_none_moves_nothing():
    seen = pair_under(unit(0.0, -1.0, 0.5), 3)
    for sun, lights in ((unit(0.0, -1.0, 0.5), LIGHTS), (unit(1.0, 0.0, 0.3), (SKY, 0.3, 0.0))):
        placed = off_lit_side(seen, CAMERA, sun, lights)
        np.testing.assert_allclose(placed.feet_px, seen.feet_px, atol=0.02)


def test_the_shift_is_that_of_the_light_round_a_half_lit_stick():
    # sun square to the view and no other light: what shows grows from nothing in the middle to the lit rim as
    # x^(1 / 2.2), so that its middle is at (1 + 1 / 2.2) / (2 + 1 / 2.2) of the radius
    ahead, right = np.array([0.0, -1.0]), np.array([1.0, 0.0])
    shift = lit_shift_m(ahead, right, (1.0, 0.0, 0.0), (0.0, 0.0, 1.0))
    assert shift == pytest.approx(SHANK_M / 2 * 3.2 / 5.4, rel=0.03)
    assert lit_shift_m(ahead, right, (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0)) == pytest.approx(-shift)
