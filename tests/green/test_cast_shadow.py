"""The shadows of a gate's posts: where they say the feet are, and when there is nothing to be learnt."""

import numpy as np
import pytest
from little_green import Scene, Tee, View, box_round, film

from puttvision.green.cast_shadow import with_shadows
from puttvision.green.post_pair import PostPair, common_cov_px2, pair_of
from puttvision.green.posts import Post
from puttvision.green.still import StillPicture

VIEW = View()
CAMERA = VIEW.camera()
FEET = [(-0.05, 2.75), (0.03, 2.78)]
HEIGHT_M, SHANK_M, CUP_M = 0.032, 0.0046, 0.009
FEET_PX = np.array([CAMERA.project([*foot, 0.0]) for foot in FEET])
ASIDE, BEYOND, TOWARDS = (0.7, 0.2, 0.45), (0.5, -0.7, 0.4), (-0.6, 0.4, 0.4)


def cast(foot, sun, height_m=HEIGHT_M):
    """Circles that make up the shadow: a point at height z falls z cot(elevation) away from the sun."""
    x, y, up = sun
    run = np.array([-x, -y]) / up
    shank = [(*(foot + z * run), SHANK_M / 2) for z in np.arange(0.0, height_m, 0.0008)]
    return [*shank, *((*(foot + z * run), CUP_M / 2) for z in np.arange(0.8 * height_m, height_m, 0.002))]


def picture(dark=(), seed=0):
    scene = Scene(tees=tuple(Tee(foot) for foot in FEET), dark=tuple(dark), dark_share=0.35)
    boxes = [box_round(VIEW, foot, 0.16, 0.05) for foot in FEET]
    seen = film(VIEW, scene, fine=boxes, seed=seed)
    return StillPicture(seen.luma, seen.cb, seen.cr, 9)


def pair_off(*off_px):
    """The true posts with feet moved, as a fit that grass misled would have them."""
    posts = [
        Post(
            foot_px=tuple(foot + off), cov_px2=np.diag([0.25, 0.6]) ** 2, width_px=3.0, height_m=HEIGHT_M,
            contrast=20.0,
        )
        for foot, off in zip(FEET_PX, np.array(off_px), strict=True)
    ]  # fmt: skip
    return pair_of(*posts, CAMERA)


@pytest.mark.parametrize("sun", [ASIDE, BEYOND, TOWARDS])
@pytest.mark.parametrize("off_px", [((0.1, 0.7), (-0.1, 0.6)), ((0.0, -0.5), (0.0, 0.5))])
def test_shadows_tell_where_posts_stand(sun, off_px):
    # 1 px along the view is 6 mm on the plane here; a tenth of a degree of squareness is 0.02 px across
    still = picture([circle for foot in FEET for circle in cast(np.array(foot), sun)])
    begun = pair_off(*off_px)
    found = with_shadows(still, CAMERA, begun)
    off = found.feet_px - FEET_PX
    assert np.abs(off).max() < 0.3
    assert off.ravel() @ np.linalg.solve(found.cov_px2, off.ravel()) < 16  # of 4 degrees of freedom
    assert np.trace(found.cov_px2) < 0.6 * np.trace(begun.cov_px2)


def test_a_sun_that_other_shadows_told_makes_the_feet_surer():
    still = picture([circle for foot in FEET for circle in cast(np.array(foot), BEYOND)])
    begun = pair_off((0.1, 0.9), (-0.1, 0.9))
    sun = tuple(np.array(BEYOND) / np.linalg.norm(BEYOND))
    alone, told = with_shadows(still, CAMERA, begun), with_shadows(still, CAMERA, begun, sun)
    assert np.abs(told.feet_px - FEET_PX).max() < 0.3
    assert np.trace(told.cov_px2) < np.trace(alone.cov_px2)


def test_without_a_sun_the_posts_stay_where_they_were_seen():
    begun = pair_off((0.1, 0.6), (0.0, 0.3))
    assert with_shadows(picture(), CAMERA, begun) is begun


def test_one_dark_strip_is_no_shadow_of_two_posts():
    begun = pair_off((0.0, 0.3), (0.0, 0.3))
    assert with_shadows(picture(cast(np.array(FEET[0]), ASIDE)), CAMERA, begun) is begun


def test_dead_spots_round_a_gate_are_no_shadows():
    rng = np.random.default_rng(4)
    spots = [(x, y, 0.004) for x, y in rng.uniform((-0.15, 2.65), (0.15, 2.9), (12, 2))]
    begun = pair_off((0.0, 0.3), (0.0, 0.3))
    assert with_shadows(picture(spots), CAMERA, begun) is begun


def test_shadows_that_begin_elsewhere_are_not_these_posts():
    away = [np.array((x + 0.03, y)) for x, y in FEET]
    begun = pair_off((0.0, 0.0), (0.0, 0.0))
    still = picture([circle for foot in away for circle in cast(foot, TOWARDS)])
    found = with_shadows(still, CAMERA, begun)
    assert np.abs(found.feet_px - FEET_PX).max() < 0.5


def test_a_gate_whose_surroundings_are_not_in_the_picture_is_left_as_it_is():
    begun = pair_off((0.0, 0.0), (0.0, 0.0))
    still = picture()
    cut = StillPicture(still.luma[: int(FEET_PX[0][1]) - 100], still.cb, still.cr, 9)
    assert with_shadows(cut, CAMERA, begun) is begun


def test_both_feet_are_off_by_the_same_blades():
    pair = pair_off((0.0, 0.0), (0.0, 0.0))
    steps = pair.varied_px() - pair.feet_px
    np.testing.assert_allclose(
        np.einsum("kix,kjy->ixjy", steps, steps).reshape(4, 4), pair.cov_px2, atol=1e-12
    )
    # a point seen on top of blades of 1 mm: by similar triangles it lies z d / h nearer on the plane
    centre = CAMERA.centre_m
    root = np.sqrt(np.diag(common_cov_px2(FEET_PX, CAMERA, 0.001)))
    for k, foot in enumerate(FEET):
        away = np.array(foot) - centre[:2]
        nearer = np.array(foot) - 0.001 / centre[2] * away
        expected = np.abs(CAMERA.project([*nearer, 0.0]) - FEET_PX[k])
        np.testing.assert_allclose(root[2 * k : 2 * k + 2], expected, rtol=0.01, atol=1e-4)


def test_moving_a_pair_moves_posts_and_keeps_their_looks():
    pair = pair_off((0.0, 0.0), (0.0, 0.0))
    moved = pair.moved(pair.feet_px + 1.0, np.eye(4))
    assert isinstance(moved, PostPair)
    assert moved.left.foot_px == pytest.approx(tuple(FEET_PX[0] + 1.0))
    assert moved.right.height_m == pair.right.height_m
    np.testing.assert_array_equal(moved.right.cov_px2, np.eye(2))
