"""The light on a clip's balls, by their shadows on ray-traced grass, where the tracer knows the sun."""

import numpy as np
import pytest
from little_green import BALL_RADIUS_M, Scene, View, box_round, film

from puttvision.ball.disc import fit_ball
from puttvision.ball.light import Light, learn_light, suns_beyond
from puttvision.ball.shading import Shading
from puttvision.ball.sun_by_shadow import sun_by_shadow
from puttvision.green.edges import linear_light

VIEW = View()
CAMERA, TABLE = VIEW.camera(), linear_light(2.5)
PLACES = [(0.05, 2.7), (-0.3, 2.6), (0.32, 2.85)]
ASIDE, BEYOND, LEFT, BEHIND = (0.6, -0.6, 0.4), (-0.5, 0.7, 0.4), (-0.9, 0.0, 0.5), (0.1, -0.9, 0.4)


def picture(places=PLACES, seed=0, margin_m=0.12, exposure=1.0, **changes):
    scene = Scene(
        balls_m=tuple(places), sun_light=0.9 * exposure, sky_light=0.35 * exposure,
        seed=seed + 1, **changes,
    )  # fmt: skip
    boxes = [box_round(VIEW, at_m, margin_m) for at_m in places]
    return film(VIEW, scene, fine=boxes, n=3, seed=seed).luma


def off_px(fit, at_m):
    return np.array(fit.at_px) - VIEW.project([*at_m, BALL_RADIUS_M])


def angle_deg(one, other):
    other = np.array(other) / np.linalg.norm(other)
    return float(np.degrees(np.arccos(min(1.0, float(np.array(one) @ other)))))


@pytest.mark.parametrize("sun", [ASIDE, BEYOND, LEFT])
def test_shadows_tell_where_the_sun_stands(sun):
    luma = picture(sun=sun)
    found = sun_by_shadow([(luma, at_m) for at_m in PLACES], CAMERA, TABLE)
    assert found is not None
    assert angle_deg(found.sun, sun) < 5
    # on level grass the sun gives 0.9 sin(elevation), the sky 0.35 (the tracer's own numbers)
    level = 0.9 * sun[2] / np.linalg.norm(sun)
    assert found.share == pytest.approx(level / (level + 0.35), abs=0.12)


def test_an_overcast_sky_casts_no_shadow():
    balls = [(picture(sun=ASIDE, speckle=0.2), at_m) for at_m in PLACES]
    assert sun_by_shadow(balls, CAMERA, TABLE) is not None
    cloudy = Scene(balls_m=tuple(PLACES), sun_light=0.0, sky_light=1.2, speckle=0.2)
    luma = film(VIEW, cloudy, fine=[box_round(VIEW, at_m, 0.12) for at_m in PLACES], n=3).luma
    assert sun_by_shadow([(luma, at_m) for at_m in PLACES], CAMERA, TABLE) is None


def test_a_dark_shoe_beside_one_ball_is_not_its_shadow():
    x, y = PLACES[0]
    shoe = tuple((x + 0.05 + 0.01 * k, y + 0.02, 0.02) for k in range(6))
    found = sun_by_shadow([(picture(sun=BEYOND, dark=shoe), at_m) for at_m in PLACES], CAMERA, TABLE)
    assert found is not None
    assert angle_deg(found.sun, BEYOND) < 6


def test_a_ball_whose_surroundings_are_not_in_the_picture_tells_nothing():
    assert sun_by_shadow([(picture(), (0.0, -4.0)), (picture(), (9.0, 3.0))], CAMERA, TABLE) is None
    assert sun_by_shadow([], CAMERA, TABLE) is None


@pytest.mark.parametrize(("sun", "exposure"), [(ASIDE, 3.0), (BEYOND, 1.0), (BEYOND, 3.0)])
def test_in_the_light_that_shadows_tell_balls_are_where_they_lie(sun, exposure):
    # burnt out, or lit from beyond: by its own light the ball aside is 0.7 px off
    luma = picture(sun=sun, exposure=exposure)
    fits = [fit_ball(luma, CAMERA, at_m, TABLE) for at_m in PLACES]
    seen = [(luma, fit) for fit in fits if fit is not None]
    light = learn_light(seen, CAMERA, TABLE)
    assert light is not None
    assert light.by_shadow
    assert angle_deg(light.shading.sun, sun) < 5
    again = [fit_ball(luma, CAMERA, at_m, TABLE, shading=light.shading) for at_m in PLACES]
    assert max(np.hypot(*off_px(fit, at_m)) for fit, at_m in zip(again, PLACES, strict=True) if fit) < 0.3
    assert sum(fit is not None for fit in again) >= 2


def test_where_shadows_are_hidden_the_balls_own_light_tells():
    luma = picture(PLACES[:1], sun=BEHIND)
    fit = fit_ball(luma, CAMERA, PLACES[0], TABLE)
    assert fit is not None
    light = learn_light([(luma, fit)], CAMERA, TABLE)
    assert light is not None
    assert not light.by_shadow
    assert angle_deg(light.shading.sun, BEHIND) < 15


@pytest.mark.parametrize("sun", [(-0.61, 0.73, 0.32), (0.5, 0.8, 0.33)])
def test_balls_that_show_but_a_crescent_are_found_under_a_sun_beyond(sun):
    # a clear evening: the sun gives six times as much on what faces it as the whole sky
    low = Scene(balls_m=tuple(PLACES), sun=sun, sun_light=2.2, sky_light=0.25)
    luma = film(VIEW, low, fine=[box_round(VIEW, at_m, 0.12) for at_m in PLACES], n=3).luma
    assert sum(fit_ball(luma, CAMERA, at_m, TABLE) is not None for at_m in PLACES) < len(PLACES)
    for supposed in suns_beyond():
        fits = [fit_ball(luma, CAMERA, at_m, TABLE, shading=supposed) for at_m in PLACES]
        seen = [(luma, fit) for fit in fits if fit is not None]
        if len(seen) == len(PLACES):
            break
    light = learn_light(seen, CAMERA, TABLE)
    assert light is not None
    assert light.by_shadow
    assert angle_deg(light.shading.sun, sun) < 4
    again = [fit_ball(luma, CAMERA, at_m, TABLE, shading=light.shading) for at_m in PLACES]
    assert all(np.hypot(*off_px(fit, at_m)) < 0.3 for fit, at_m in zip(again, PLACES, strict=True) if fit)
    assert sum(fit is not None for fit in again) >= 2


def test_no_balls_no_light():
    assert learn_light([], CAMERA, TABLE) is None


@pytest.mark.parametrize(("direct", "casts"), [(0.9, True), (0.2, True), (0.0, False)])
def test_a_sun_that_gives_no_light_is_none(direct, casts):
    sun = (0.6, 0.0, 0.8)
    assert Light(Shading(sun, (0.05, 0.4, direct)), by_shadow=False).sun == (sun if casts else None)


def test_balls_under_clouds_tell_no_sun():
    scene = Scene(balls_m=tuple(PLACES), sun=ASIDE, sun_light=0.0, sky_light=0.9)
    luma = film(VIEW, scene, fine=[box_round(VIEW, at, 0.12) for at in PLACES], n=3).luma
    balls = [(luma, fit) for at in PLACES if (fit := fit_ball(luma, CAMERA, at, TABLE)) is not None]
    light = learn_light(balls, CAMERA, TABLE)
    assert len(balls) == len(PLACES)
    assert light is not None
    assert light.sun is None


@pytest.mark.parametrize(("light_left", "is_told"), [(1.0, True), (0.3, True), (0.1, False)])
def test_light_learnt_in_the_players_shadow_is_no_clips_light(light_left, is_told):
    # the phone exposes for the green; sky alone, and little of it, tells nothing of the sun outside
    scene = Scene(
        balls_m=tuple(PLACES), sun_light=0.0, sky_light=1.2 * light_left, ball_colour=(0.9, 0.9, 0.9)
    )
    luma = film(VIEW, scene, fine=[box_round(VIEW, at_m, 0.12) for at_m in PLACES], n=3, noise=0.3).luma
    fits = [fit_ball(luma, CAMERA, at_m, TABLE) for at_m in PLACES]
    assert all(fits)
    assert (learn_light([(luma, fit) for fit in fits], CAMERA, TABLE) is not None) is is_told
