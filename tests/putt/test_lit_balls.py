"""Which balls tell the light: small ray-traced pictures (``little_green``)."""

from types import SimpleNamespace

import numpy as np
import pytest
from little_green import Scene, View, box_round, film

from puttvision.ball.colour import grass_hue
from puttvision.putt.lit_balls import lit_balls, luma_shows

VIEW = View()
AT_M = (0.05, 2.7)
SITE = SimpleNamespace(
    pose=SimpleNamespace(camera=VIEW.camera()),
    gamma=2.5,
    still=SimpleNamespace(luma=film(VIEW, Scene()).luma),
    marks_m=np.array([(-0.3, 2.6), (0.4, 2.8)]),
)
EVERYWHERE = np.ones((VIEW.height // 2, VIEW.width // 2), np.uint8)


def pictures(colour, n=3, at_m=AT_M):
    scene = Scene(balls_m=(at_m,), ball_colour=colour, speckle=0.02)
    filmed = [film(VIEW, scene, fine=[box_round(VIEW, at_m, 0.1)], seed=seed) for seed in range(n)]
    return [(p.luma, p.cb, p.cr) for p in filmed]


def grass_of(seen):
    return grass_hue(*seen[0], np.ones(seen[0][0].shape, np.uint8))


def test_white_balls_in_the_sun_tell_its_direction():
    seen = pictures((0.82, 0.82, 0.80))
    balls, light = lit_balls(seen, SITE, EVERYWHERE, grass_of(seen))
    assert len(balls) == 3
    assert light is not None
    sun = np.array(Scene().sun) / np.linalg.norm(Scene().sun)
    assert np.degrees(np.arccos(np.array(light.shading.sun) @ sun)) < 8
    assert luma_shows(balls, light)


def test_a_ball_that_luma_does_not_show_is_looked_for_by_its_colour():
    seen = pictures((0.42, 0.03, 0.02))
    balls, light = lit_balls(seen, SITE, EVERYWHERE, grass_of(seen))
    assert len(balls) >= 2
    for _, ball in balls:
        assert ball.at_m == pytest.approx(AT_M, abs=0.004)
    assert not luma_shows(balls, light)


def test_a_green_without_balls_has_no_light():
    seen = [(p.luma, p.cb, p.cr) for p in [film(VIEW, Scene(), seed=seed) for seed in range(3)]]
    assert lit_balls(seen, SITE, EVERYWHERE, grass_of(seen)) == ([], None)
    assert not luma_shows([], None)
