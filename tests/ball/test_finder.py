"""Finding balls at rest: all of them, and nothing that only looks bright."""

from functools import partial

import cv2
import numpy as np
import pytest
from little_green import BALL_RADIUS_M, Scene, Tee, View, box_round, film

from puttvision.ball.finder import (
    REACH_PX,
    FinderSettings,
    about_changes,
    ball_radius_px,
    field,
    find_balls,
    shrunk,
)
from puttvision.ball.look import Look
from puttvision.green.edges import linear_light

TABLE = linear_light(2.5)
VIEW = View()
CAMERA = VIEW.camera()
LOOK = Look(camera=CAMERA, table=TABLE)


def balls_in(luma, **known):
    return find_balls(luma, CAMERA, partial(LOOK.at, luma, reach_px=REACH_PX), **known)


def picture(scene, seed=0):
    spots = [*scene.balls_m, *(tee.at_m for tee in scene.tees)]
    spots += [] if scene.hole_m is None else [scene.hole_m]
    return film(VIEW, scene, fine=[box_round(VIEW, spot, 0.07) for spot in spots], seed=seed).luma


def test_the_size_of_a_ball_in_the_picture():
    # a ball of 42.67 mm straight ahead: f r / depth, pinhole model; depth by the law of cosines
    for y in (1.8, 2.7, 3.9):
        px = VIEW.project([0.0, y, BALL_RADIUS_M])
        t = np.radians(VIEW.tilt_deg)
        depth = y * np.cos(t) + (VIEW.height_m - BALL_RADIUS_M) * np.sin(t)
        assert ball_radius_px(CAMERA, px) == pytest.approx(VIEW.f_px * 0.021335 / depth, rel=1e-3)
    assert np.isnan(ball_radius_px(CAMERA, np.array([320.0, -4000.0])))


@pytest.mark.parametrize("colour", [(0.82, 0.82, 0.80), (0.80, 0.75, 0.10)], ids=["white", "yellow"])
def test_every_ball_is_found(colour):
    places = [(-0.5, 2.5), (-0.1, 2.9), (0.35, 2.4), (0.6, 3.2)]
    find = balls_in(picture(Scene(balls_m=tuple(places), ball_colour=colour)))
    assert len(find.balls) == len(places)
    for at, fit in zip(sorted(places), sorted(find.balls, key=lambda f: f.at_m), strict=True):
        assert np.hypot(*(np.array(fit.at_m) - at)) < 0.005  # a pixel is 6 mm along the view there


def test_balls_that_touch_are_two():
    places = [(0.0, 2.7), (0.043, 2.7)]
    find = balls_in(picture(Scene(balls_m=tuple(places))))
    assert len(find.balls) == 2


def test_a_ball_against_a_white_shoe_is_found():
    luma = picture(Scene(balls_m=((0.0, 2.7),))).copy()
    x, y = np.round(VIEW.project([0.0, 2.7, BALL_RADIUS_M])).astype(int)
    shoe = np.zeros_like(luma)
    cv2.ellipse(shoe, (int(x) - 45, int(y) - 12), (34, 12), 0, 0, 360, 255, -1)
    luma[shoe > 0] = 215
    (fit,) = balls_in(luma).balls
    assert np.hypot(*(np.array(fit.at_m) - (0.0, 2.7))) < 0.003


@pytest.mark.parametrize(
    "scene",
    [
        pytest.param(Scene(), id="bare grass"),
        pytest.param(Scene(speckle=0.3, seed=5), id="rough grass"),
        pytest.param(Scene(hole_m=(0.1, 2.8)), id="the hole's pale lining"),
        pytest.param(
            Scene(tees=(Tee((0.0, 2.7), colour=(0.8, 0.8, 0.75)), Tee((0.08, 2.7), colour=(0.8, 0.8, 0.75)))),
            id="white tees",
        ),
    ],
)
def test_what_is_no_ball_is_not_found(scene):
    assert balls_in(picture(scene)).balls == []


def test_bright_things_that_are_no_balls_are_remembered():
    luma = picture(Scene()).copy()
    cv2.rectangle(luma, (200, 150), (214, 160), 220, -1)
    luma = cv2.GaussianBlur(luma, (0, 0), 0.7)
    find = balls_in(luma)
    assert find.balls == []
    assert len(find.others) >= 1
    assert find.others[0].same(luma, np.array([207.0, 155.0]))
    assert not find.others[0].same(luma, np.array([407.0, 155.0]))
    assert not find.others[0].same(picture(Scene()), np.array([207.0, 155.0]))


def test_known_places_are_not_looked_at_again():
    luma = picture(Scene(balls_m=((-0.5, 2.5), (0.35, 2.4))))
    (fit,) = balls_in(luma, known_m=[(-0.5, 2.5)]).balls
    assert fit.at_m == pytest.approx((0.35, 2.4), abs=0.002)


def test_the_field_ends_where_balls_are_too_small_or_too_far():
    shape = (360, 640)
    within = field(CAMERA, shape)
    assert within.shape == (180, 320)
    near, far = (VIEW.project([0.0, y, BALL_RADIUS_M]) / 2 for y in (2.7, 30.0))
    assert within[int(near[1]), int(near[0])] == 1
    assert far[1] < 0 or within[int(far[1]), int(far[0])] == 0
    short = field(CAMERA, shape, FinderSettings(farthest_m=2.5))
    assert short[int(near[1]), int(near[0])] == 0
    assert short[-1, 160] == 1


def test_on_a_printed_page_there_is_no_ball():
    page = np.array([[280.0, 160.0], [370.0, 160.0], [370.0, 230.0], [280.0, 230.0]])
    within = field(CAMERA, (360, 640), None, [page])
    assert within[97, 160] == 0
    assert within[97, 60] == 1
    luma = picture(Scene(balls_m=((0.0, 2.7), (0.5, 2.7))))
    (fit,) = balls_in(luma, within=within).balls
    assert fit.at_m == pytest.approx((0.5, 2.7), abs=0.002)


def test_only_what_has_changed_is_searched_in_between():
    # of two balls one has come since; a ball's width around what changed counts, and places asked for
    before = picture(Scene(balls_m=((-0.5, 2.5),)))
    luma = picture(Scene(balls_m=((-0.5, 2.5), (0.35, 2.4))))
    fresh = about_changes(shrunk(luma), shrunk(before), 18)
    assert fresh.mean() < 0.5
    (fit,) = balls_in(luma, fresh=fresh).balls
    assert fit.at_m == pytest.approx((0.35, 2.4), abs=0.002)
    old_px = VIEW.project([-0.5, 2.5, BALL_RADIUS_M])
    both = about_changes(shrunk(luma), shrunk(before), 18, [old_px])
    assert len(balls_in(luma, fresh=both).balls) == 2
    assert balls_in(luma, fresh=about_changes(shrunk(luma), shrunk(luma), 18)).balls == []


def test_many_bright_things_do_not_keep_a_ball_from_being_looked_at():
    # two dozen are fitted in one picture, the nearest first; those known to be no balls give way to the rest
    luma = picture(Scene(balls_m=((0.0, 3.4),))).copy()
    for k in range(30):
        x, y = 35 + 60 * (k % 10), 200 + 55 * (k // 10)
        cv2.rectangle(luma, (x, y), (x + 5, y + 29), 220, -1)
    luma = cv2.GaussianBlur(luma, (0, 0), 0.7)
    first = balls_in(luma)
    assert first.balls == []
    waits_px = np.array(first.waiting_px)
    assert np.hypot(*(waits_px - VIEW.project([0.0, 3.4, BALL_RADIUS_M])).T).min() < REACH_PX
    (fit,) = balls_in(luma, others=first.others).balls
    assert fit.at_m == pytest.approx((0.0, 3.4), abs=0.005)


def test_what_only_its_colour_shows_is_looked_at_first():
    # a ball no brighter than the grass about it: two dozen bright things do not keep it from being found
    luma = picture(Scene(balls_m=((0.0, 2.7),))).copy()
    x, y = np.round(VIEW.project([0.0, 2.7, BALL_RADIUS_M])).astype(int).tolist()
    off_grass = np.zeros((180, 320), np.uint8)
    cv2.circle(off_grass, (x // 2, y // 2), round(ball_radius_px(CAMERA, np.array([x, y])) / 2), 90, -1)
    dim = np.minimum(luma, int(np.median(luma)) + 20)

    def fit_in_the_first(at_m):
        return LOOK.at(luma, at_m, reach_px=REACH_PX)

    assert find_balls(dim, CAMERA, fit_in_the_first).balls == []
    (fit,) = find_balls(dim, CAMERA, fit_in_the_first, off_grass=off_grass).balls
    assert fit.at_m == pytest.approx((0.0, 2.7), abs=0.002)
    for k in range(30):
        cv2.rectangle(dim, (35 + 20 * k, 230), (40 + 20 * k, 259), 220, -1)
    (fit,) = find_balls(dim, CAMERA, fit_in_the_first, off_grass=off_grass).balls
    assert fit.at_m == pytest.approx((0.0, 2.7), abs=0.002)
