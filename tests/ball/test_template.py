"""Telling at a glance where no ball is: ray-traced balls, and things that are none."""

import cv2
import numpy as np
import pytest
from little_green import Scene, View, box_round, film

from puttvision.ball.follow import BallFollower
from puttvision.ball.shading import Shading
from puttvision.ball.template import LEAST_ALIKE, WELL_ALIKE, BallTemplates
from puttvision.green.edges import linear_light

TABLE = linear_light(2.5)
VIEW = View()
CAMERA = VIEW.camera()
PLACES = [(-0.5, 2.5), (-0.1, 2.9), (0.35, 2.4), (0.6, 3.2)]
SUNS = [(-0.5, -0.35, 0.8), (0.9, 0.2, 0.4), (0.3, 0.8, 0.5)]


def unit(vector):
    return tuple((np.array(vector) / np.linalg.norm(vector)).tolist())


def seen(sun, balls=tuple(PLACES)):
    scene = Scene(balls_m=balls, sun=sun)
    picture = film(VIEW, scene, fine=[box_round(VIEW, at, 0.07) for at in balls]).luma
    shading = Shading(unit(sun), (0.02, 0.81 * scene.sky_light, 0.81 * scene.sun_light))
    return picture, BallTemplates(CAMERA, TABLE, shading, float(np.median(picture)))


@pytest.mark.parametrize("sun", SUNS)
@pytest.mark.parametrize("off_m", [(0.0, 0.0), (0.006, 0.012)], ids=["on it", "beside it"])
def test_a_ball_in_the_clips_light_looks_like_one(sun, off_m):
    picture, templates = seen(sun)
    for at in PLACES:
        assert templates.likeness(picture, np.add(at, off_m)) > 0.85


def test_a_ball_in_a_shadow_still_looks_like_one():
    picture, templates = seen(SUNS[0])
    shaded = np.asarray(np.clip((picture.astype(float) - 16) * 0.45 + 16, 0, 255), dtype=np.uint8)
    assert min(templates.likeness(shaded, at) for at in PLACES) > LEAST_ALIKE + 0.15


@pytest.mark.parametrize("sun", SUNS)
def test_an_edge_a_leg_and_grass_do_not(sun):
    picture, templates = seen(sun, balls=((-0.5, 2.5),))
    x, y = np.round(CAMERA.project([0.35, 2.4, 0.02])).astype(int)
    assert templates.likeness(picture, (0.35, 2.4)) < LEAST_ALIKE  # grass
    for corners in (((x, y - 60), (x + 80, y + 60)), ((x - 4, y - 60), (x + 4, y + 60))):
        thing = picture.copy()
        cv2.rectangle(thing, *corners, 210, -1)
        assert templates.likeness(cv2.GaussianBlur(thing, (0, 0), 0.8), (0.35, 2.4)) < LEAST_ALIKE


def test_at_the_pictures_border_nothing_is_said():
    picture, templates = seen(SUNS[0])
    at_corner = CAMERA.to_plane(np.array([3.0, 355.0]), 0.021335)
    assert templates.likeness(picture, at_corner) == 1.0


def test_a_ball_with_a_bold_line_is_found_by_its_likeness():
    # players draw lines to aim by: the rim and the shading are broken, the whole is still much like a ball
    sun, at_m = SUNS[0], PLACES[1]
    picture, templates = seen(sun, balls=(at_m,))
    x, y = CAMERA.project([*at_m, 0.021335])
    lined = picture.copy()
    cv2.line(lined, (round(x) - 5, round(y) + 4), (round(x) + 5, round(y) + 4), 50, 3, cv2.LINE_AA)
    lined = cv2.GaussianBlur(lined, (0, 0), 0.5)
    assert templates.likeness(lined, at_m) > WELL_ALIKE
    scene = Scene(sun=sun)
    shading = Shading(unit(sun), (0.02, 0.81 * scene.sky_light, 0.81 * scene.sun_light))
    found = []
    for told in (templates, None):
        follower = BallFollower(CAMERA, TABLE, shading=shading, templates=told, luma_shows=True)
        for k in range(40):
            follower.feed(lined, k / 60)
        found.append(follower.take_found())
    (ball,), without = found
    assert np.hypot(*(np.array(ball.at_px) - (x, y))) < 0.6  # the line hides its lower rim
    assert without == []
