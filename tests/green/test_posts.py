"""Gate posts in ray-traced pictures: where they stand, how tall, and what is none."""

import numpy as np
import pytest
from little_green import Scene, Tee, View, box_round, film

from puttvision.green.posts import find_posts
from puttvision.green.still import StillPicture

VIEW = View()
LONG_LENS = View(f_px=1400, height_m=1.5, roll_deg=2)
REGION = np.array([(-0.6, 2.3), (0.6, 2.3), (0.6, 3.2), (-0.6, 3.2)])
COLOURS = {
    "red": (0.75, 0.06, 0.05),
    "white": (0.80, 0.80, 0.75),
    "yellow": (0.85, 0.65, 0.05),
    "blue": (0.05, 0.15, 0.60),
    "wood": (0.55, 0.38, 0.20),
}


def look(scene, spots, view=VIEW, top_m=0.05, seed=0):
    boxes = [box_round(view, spot, 0.06, top_m) for spot in spots]
    seen = film(view, scene, fine=boxes, seed=seed)
    return find_posts(StillPicture(seen.luma, seen.cb, seen.cr, 9), view.camera(), REGION)


def nearest(posts, foot_px):
    return min(posts, key=lambda post: np.hypot(*(np.array(post.foot_px) - foot_px)))


@pytest.mark.parametrize("colour", COLOURS)
@pytest.mark.parametrize("view", [pytest.param(VIEW, id="level"), pytest.param(LONG_LENS, id="long, askew")])
def test_two_tees_are_found_where_they_stand(view, colour):
    # Tees of 4.6 mm, 32 mm out of the ground, 85 mm apart. The shank's near side hides its axis' foot: 2.3 mm
    # or 0.4 px along the view, which the tolerance of 1 px along allows for; 0.4 px across is 1 mm.
    places = [(-0.05, 2.75), (0.03, 2.78)]
    posts = look(Scene(tees=tuple(Tee(at, colour=COLOURS[colour]) for at in places)), places, view)
    assert len(posts) == 2
    for at in places:
        foot_px = view.project([*at, 0.0])
        post = nearest(posts, foot_px)
        off = np.array(post.foot_px) - foot_px
        assert abs(off[0]) < 0.4
        assert abs(off[1]) < 1.0
        assert off @ np.linalg.solve(post.cov_px2, off) < 9  # three standard deviations
        assert post.height_m == pytest.approx(0.032, abs=0.003)
        assert post.width_px > 1


@pytest.mark.parametrize("apart_m", [0.05, 0.065, 0.08])
def test_one_tee_before_the_other_is_two(apart_m):
    # both on one line of sight: from behind the player a gate set across may look so
    places = [(0.1, 2.7), (0.1 * (2.7 + apart_m) / 2.7, 2.7 + apart_m)]
    posts = look(Scene(tees=tuple(Tee(at) for at in places)), places)
    assert len(posts) == 2
    feet = sorted(tuple(VIEW.camera().to_plane(np.array(post.foot_px))) for post in posts)
    for foot, at in zip(feet, sorted(places), strict=True):
        assert foot == pytest.approx(at, abs=0.010)


def test_a_post_in_its_own_shade_keeps_its_foot_before_its_shadow():
    # sun from beyond: what shows of the post is darker than grass, and its shadow comes on towards the camera
    at = (0.02, 2.75)
    shadow = tuple((at[0], at[1] - 0.003 - 0.0015 * k, 0.003) for k in range(20))
    tee = Tee(at, colour=(0.30, 0.02, 0.02))
    (post,) = look(Scene(tees=(tee,), sun=(0.0, 0.8, 0.5), dark=shadow, dark_share=0.42), [at], seed=1)
    off = np.array(post.foot_px) - VIEW.project([*at, 0.0])
    assert abs(off[0]) < 0.4
    assert abs(off[1]) < 1.2


@pytest.mark.parametrize("height_m", [0.018, 0.045, 0.06])
def test_a_tee_may_stand_high_or_low(height_m):
    (post,) = look(Scene(tees=(Tee((0.0, 2.7), height_m=height_m),)), [(0.0, 2.7)], top_m=height_m)
    assert post.height_m == pytest.approx(height_m, abs=0.004)
    assert np.hypot(*(np.array(post.foot_px) - VIEW.project([0.0, 2.7, 0.0]))) < 1.1


@pytest.mark.parametrize(
    ("scene", "spot"),
    [
        pytest.param(Scene(), (0.0, 2.7), id="bare grass"),
        pytest.param(Scene(speckle=0.3, seed=3), (0.0, 2.7), id="rough grass"),
        pytest.param(Scene(balls_m=((0.0, 2.7),)), (0.0, 2.7), id="a ball"),
        pytest.param(Scene(hole_m=(0.0, 2.7)), (0.0, 2.7), id="the hole"),
        pytest.param(Scene(dark=((0.0, 2.7, 0.02),)), (0.0, 2.7), id="a burnt spot"),
        pytest.param(Scene(tees=(Tee((0.0, 2.2)),)), (0.0, 2.2), id="a tee outside the region"),
        pytest.param(Scene(tees=(Tee((0.0, 2.7), height_m=0.008),)), (0.0, 2.7), id="a stub"),
    ],
)
def test_what_is_no_post_is_not_found(scene, spot):
    assert look(scene, [spot]) == []


def test_a_flagstick_is_no_post():
    # Equipment Rules Part 8: circular, at most 19 mm across near the ground; and it stands up tall
    stick = Tee((0.0, 2.7), height_m=0.5, shank_m=0.012, cup_m=0.012, colour=COLOURS["yellow"])
    assert look(Scene(tees=(stick,)), [(0.0, 2.7)], top_m=0.5) == []


def test_a_region_that_is_not_in_the_picture_has_no_posts():
    seen = film(VIEW, Scene())
    still = StillPicture(seen.luma, seen.cb, seen.cr, 9)
    for away_m in ([0.0, -6.0], [9.0, 0.0]):  # behind the lens; beside the picture
        assert find_posts(still, VIEW.camera(), REGION + np.array(away_m)) == []
