"""Balls as rendered, against ray-traced ones: looks, places and light. The tracer shares no code with it."""

import numpy as np
import pytest
from little_green import BALL_RADIUS_M, Scene, View, box_round, film

from puttvision.ball.disc import TOP_LUMA, fit_ball
from puttvision.ball.light_by_rendering import light_by_rendering
from puttvision.ball.outline import outline_of
from puttvision.ball.rendering import streak, window
from puttvision.ball.settle import settle
from puttvision.ball.shading import Shading
from puttvision.green.edges import linear_light

VIEW = View()
CAMERA, TABLE = VIEW.camera(), linear_light(2.5)
TOP = float(TABLE[TOP_LUMA])
AT_M = (0.05, 2.7)
SUNS = {"left": (-0.5, -0.35, 0.8), "behind the lens": (0.25, -0.85, 0.45), "beyond": (0.3, 0.75, 0.6)}
PLAIN = np.zeros(2)


def luma_of(at_m=AT_M, *, balls=(), seed=0, **changes):
    places = (at_m, *balls)
    boxes = [box_round(VIEW, place, 0.06) for place in places]
    return film(VIEW, Scene(balls_m=places, **changes), fine=boxes, n=4, seed=seed).luma


def truth_px(at_m=AT_M):
    return VIEW.project([*at_m, BALL_RADIUS_M])


def unit(sun):
    x, y, z = (np.array(sun) / np.linalg.norm(sun)).tolist()
    return x, y, z


def shading(sun, *, exposure=1.0):
    # the tracer's ball throws back 0.81 of the light (its luma), which is 0.9 of the sun and 0.35 of the sky
    return Shading(unit(sun), (0.02, 0.81 * 0.35 * exposure, 0.81 * 0.9 * exposure))


@pytest.mark.parametrize("sun", SUNS)
def test_a_rendered_ball_looks_as_the_traced_one(sun):
    luma = luma_of(sun=SUNS[sun], speckle=0.0)
    outline = outline_of(CAMERA, np.array(AT_M))
    about = window(luma, CAMERA, outline, truth_px(), TABLE, TOP, shading(SUNS[sun]))
    light = shading(SUNS[sun])
    looks = about.render(light.sun, np.array(light.lights), PLAIN, light.blur_px)
    misfit = (np.minimum(looks.light, TOP) - about.seen)[about.used]
    assert np.abs(misfit).mean() < 0.02
    assert np.abs(misfit).max() < 0.15
    # the ball itself is far brighter than that
    assert np.ptp(about.seen) > 0.5


def test_what_lights_add_is_what_the_render_says():
    light, step = shading(SUNS["left"]), 1e-3
    about = window(luma_of(), CAMERA, outline_of(CAMERA, np.array(AT_M)), truth_px(), TABLE, TOP)
    lights = np.array(light.lights)
    base = about.render(light.sun, lights, PLAIN, 0.5)
    for k in range(2):
        more = about.render(light.sun, lights + step * np.eye(3)[k], PLAIN, 0.5)
        assert (more.light - base.light) / step == pytest.approx(base.diffuse[..., k], abs=2e-3)
    more = about.render(light.sun, lights + np.array([0, 0, step]), PLAIN, 0.5)
    by_sun = base.sunny @ (about.axes @ np.array(light.sun, dtype=np.float32))
    assert (more.light - base.light) / step == pytest.approx(by_sun, abs=2e-3)


def test_a_move_during_the_exposure_smears_along_its_way_and_loses_no_light():
    light = shading(SUNS["left"])
    about = window(
        luma_of(), CAMERA, outline_of(CAMERA, np.array(AT_M)), truth_px(), TABLE, TOP, smear_px=6.0
    )
    lights = np.array(light.lights)
    still = about.render(light.sun, lights, PLAIN, 0.5).diffuse[..., 0]
    moved = about.render(light.sun, lights, PLAIN, 0.5, streak(np.array([6.0, 2.0]), about)).diffuse[..., 0]
    assert moved.sum() == pytest.approx(still.sum(), rel=0.01)
    rows, columns = np.mgrid[: len(still), : len(still)]
    for axis, length in ((columns, 6.0), (rows, 2.0)):
        spread = [(axis**2 * p).sum() / p.sum() - ((axis * p).sum() / p.sum()) ** 2 for p in (still, moved)]
        # a move at even speed adds a twelfth of its square to the variance
        assert spread[1] - spread[0] == pytest.approx(length**2 / 12, rel=0.12, abs=0.06)


def test_what_is_not_whole_in_the_picture_has_no_window():
    luma = luma_of()
    outline = outline_of(CAMERA, np.array(AT_M))
    for at_px in ((3.0, 100.0), (630.0, 100.0), (300.0, 4.0), (300.0, 352.0)):
        assert window(luma, CAMERA, outline, np.array(at_px), TABLE, TOP) is None


@pytest.mark.parametrize("sun", SUNS)
@pytest.mark.parametrize("begin_px", [(0.4, 0.3), (-0.5, 0.2)])
def test_a_ball_settles_where_it_is_traced(sun, begin_px):
    luma = luma_of(sun=SUNS[sun])
    light = shading(SUNS[sun])
    at_px = truth_px() + np.array(begin_px)
    outline = outline_of(CAMERA, np.array(AT_M))
    done = settle(luma, CAMERA, outline, at_px, PLAIN, light, np.array(light.lights), TABLE, TOP)
    assert done is not None
    off = at_px + done.move_px - truth_px()
    assert np.hypot(*off) < 0.12
    assert np.all(np.abs(off) < 4 * np.sqrt(np.diag(done.cov_px2)))


def test_a_ball_beside_it_and_print_on_it_move_it_little():
    light = shading(SUNS["left"])
    beside = (AT_M[0] + 2.15 * BALL_RADIUS_M, AT_M[1] + 0.003)
    luma = luma_of(balls=(beside,))
    x, y = np.round(truth_px()).astype(int)
    luma[y - 2 : y, x - 5 : x + 3] = 40  # a line drawn on it
    outline = outline_of(CAMERA, np.array(AT_M))
    begin = truth_px() + np.array([0.3, -0.3])
    done = settle(luma, CAMERA, outline, begin, PLAIN, light, np.array(light.lights), TABLE, TOP)
    assert done is not None
    assert np.hypot(*(begin + done.move_px - truth_px())) < 0.2


def test_where_no_ball_is_nothing_is_explained():
    light = shading(SUNS["left"])
    luma = luma_of()
    outline = outline_of(CAMERA, np.array(AT_M))
    begin = truth_px() + np.array([3.5, 0.0])
    done = settle(luma, CAMERA, outline, begin, PLAIN, light, np.array(light.lights), TABLE, TOP)
    assert done is not None
    assert done.explained < 0.5


@pytest.mark.parametrize(
    ("sun", "exposure"), [*((sun, 1.0) for sun in SUNS), ("left", 2.5), ("behind the lens", 2.5)]
)
def test_light_and_place_are_found_together(sun, exposure):
    luma = luma_of(sun=SUNS[sun], sun_light=0.9 * exposure, sky_light=0.35 * exposure)
    first = fit_ball(luma, CAMERA, AT_M, TABLE)
    assert first is not None
    found = light_by_rendering([(luma, first)], CAMERA, TABLE)
    assert found is not None
    off_deg = np.degrees(np.arccos(np.array(found.shading.sun) @ np.array(unit(SUNS[sun]))))
    assert off_deg < 8
    assert np.hypot(*(np.array(found.at_px[0]) - truth_px())) < 0.25
    traced = shading(SUNS[sun], exposure=exposure)
    assert found.shading.lights[2] == pytest.approx(traced.lights[2], rel=0.25)


def test_an_overcast_sky_has_no_sun():
    luma = luma_of(sun_light=0.0, sky_light=0.8)
    first = fit_ball(luma, CAMERA, AT_M, TABLE)
    found = light_by_rendering([(luma, first)], CAMERA, TABLE)
    assert found is not None
    assert found.shading.lights[2] < 0.12 * sum(found.shading.lights)
    assert np.isinf(found.u_sun_rad)


def test_no_ball_whole_in_its_picture_tells_no_light():
    first = fit_ball(luma_of(), CAMERA, AT_M, TABLE)
    x, y = np.round(truth_px()).astype(int)
    assert light_by_rendering([(luma_of()[: y + 5, : x + 5], first)], CAMERA, TABLE) is None
    assert light_by_rendering([], CAMERA, TABLE) is None
