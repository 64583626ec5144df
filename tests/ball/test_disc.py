"""Balls in ray-traced pictures: centre, size, light and certainty; and what is no ball.

``little_green`` draws a sphere of the Rules' smallest size by Lambert's cosine law with its shadow on grass,
averages light over pixels and exposure, then bends it by a tone curve. It shares no code with the fit.
"""

import cv2
import numpy as np
import pytest
from little_green import BALL_RADIUS_M, Scene, Tee, View, box_round, film

from puttvision.ball.common_error import U_CENTRES_PX
from puttvision.ball.disc import fit_ball
from puttvision.ball.light import learn_light
from puttvision.green.edges import linear_light

TABLE = linear_light(2.5)
VIEW = View()
AT_M = (0.05, 2.7)
SUNS = {
    "from the left": (-0.5, -0.35, 0.8),
    "from the right, low": (0.7, 0.2, 0.5),
    "from ahead": (0.0, 0.8, 0.5),
    "overhead": (0.05, 0.0, 1.0),
    "very low": (-0.8, 0.1, 0.3),
}
VIEWS = {"3 m off": VIEW, "short lens": View(f_px=800), "long lens, askew": View(f_px=1400, roll_deg=4)}


def still(view=VIEW, at_m=AT_M, *, seed=0, **changes):
    return film(view, Scene(balls_m=(at_m,), **changes), fine=[box_round(view, at_m, 0.05)], seed=seed).luma


def rolling(step_m, sun, at_m=AT_M):
    """A ball that moves by ``step_m`` during the exposure, its middle at ``at_m``."""
    shares = np.linspace(-0.5, 0.5, 9)[:, None] * np.array(step_m)
    scenes = [Scene(balls_m=(tuple(np.array(at_m) + share),), sun=sun) for share in shares]
    return film(VIEW, scenes, fine=[box_round(VIEW, at_m, 0.06 + np.hypot(*step_m))], n=4).luma


def off_px(fit, view=VIEW, at_m=AT_M):
    return np.array(fit.at_px) - view.project([*at_m, BALL_RADIUS_M])


@pytest.mark.parametrize("sun", SUNS)
@pytest.mark.parametrize("view", VIEWS)
def test_a_ball_at_rest_is_found_to_a_fifth_of_a_pixel(view, sun):
    at_m = (-0.11, 2.63)
    luma = still(VIEWS[view], at_m, sun=SUNS[sun])
    fit = fit_ball(luma, VIEWS[view].camera(), (at_m[0] + 0.003, at_m[1] - 0.004), TABLE)
    assert fit is not None
    assert np.hypot(*off_px(fit, VIEWS[view], at_m)) < 0.2
    assert fit.at_m == pytest.approx(at_m, abs=0.0015)
    assert fit.size_ratio == pytest.approx(1.0, abs=0.02)
    assert fit.seen > 0.35


def test_where_the_middle_of_the_brightness_is_off():
    # the trap: lit from one side, a ball's bright part does not lie in its middle
    luma = still(sun=SUNS["very low"])
    x, y = np.round(VIEW.project([*AT_M, BALL_RADIUS_M])).astype(int)
    patch = luma[y - 12 : y + 13, x - 12 : x + 13].astype(float)
    weight = np.maximum(patch - np.median(luma) - 24, 0)
    rows, columns = np.mgrid[y - 12 : y + 13, x - 12 : x + 13]
    middle = np.array([(columns * weight).sum(), (rows * weight).sum()]) / weight.sum()
    assert np.hypot(*(middle - VIEW.project([*AT_M, BALL_RADIUS_M]))) > 0.5
    fit = fit_ball(luma, VIEW.camera(), AT_M, TABLE)
    assert fit is not None
    assert np.hypot(*off_px(fit)) < 0.2


@pytest.mark.parametrize("colour", [(0.80, 0.75, 0.10), (0.85, 0.30, 0.05)], ids=["yellow", "orange"])
def test_coloured_balls_are_balls(colour):
    fit = fit_ball(still(ball_colour=colour), VIEW.camera(), AT_M, TABLE)
    assert fit is not None
    assert np.hypot(*off_px(fit)) < 0.2


def test_a_cloudy_day_has_no_sun():
    fit = fit_ball(still(sun_light=0.0, sky_light=1.0), VIEW.camera(), AT_M, TABLE)
    assert fit is not None
    assert np.hypot(*off_px(fit)) < 0.2
    assert fit.shading.lights[2] < 0.15


def test_the_light_is_learnt_from_the_ball():
    # the sun of the picture comes back within 15 degrees, and it is most of the light
    sun = np.array(SUNS["from the left"]) / np.linalg.norm(SUNS["from the left"])
    fit = fit_ball(still(sun=tuple(sun)), VIEW.camera(), AT_M, TABLE)
    assert fit is not None
    assert np.array(fit.shading.sun) @ sun > np.cos(np.radians(15))
    assert fit.shading.lights[2] > sum(fit.shading.lights[:2])


def test_a_burnt_out_ball_is_less_certain_but_there():
    # twice the light: a third of the disc is at the top of the tone curve
    luma = still(sun_light=1.8)
    assert np.mean(luma > 230) > 0
    fit = fit_ball(luma, VIEW.camera(), AT_M, TABLE)
    assert fit is not None
    assert np.hypot(*off_px(fit)) < 0.8


def test_a_ball_that_is_white_all_over_may_look_larger_and_is_clear():
    # light from the lens' side at three times the exposure: nothing tells how far it spills over the rim
    luma = still(sun=(0.1, -0.9, 0.4), sun_light=3.0, sky_light=1.5)
    x, y = np.round(VIEW.project([*AT_M, BALL_RADIUS_M])).astype(int)
    assert (luma[y - 4 : y + 5, x - 4 : x + 5] > 230).all()
    first = fit_ball(luma, VIEW.camera(), AT_M, TABLE)
    assert first is not None
    assert first.clear
    light = learn_light([(luma, first)], VIEW.camera(), TABLE)
    shading = None if light is None else light.shading  # one such ball may not tell it
    fit = fit_ball(luma, VIEW.camera(), AT_M, TABLE, shading=shading)
    assert fit is not None
    # its shadow is hidden behind it; this much lies within the clip's common error
    assert np.abs(off_px(fit)).max() < 2 * U_CENTRES_PX


def test_of_a_ball_under_way_a_lit_limb_is_enough():
    # a low sun from the side; its other half is as dark as the grass and gives no edge in luma
    scene = {"sun": (-0.95, 0.1, 0.2), "sky_light": 0.05}
    known = fit_ball(still(**scene), VIEW.camera(), AT_M, TABLE)
    shading = None if known is None else known.shading
    luma = still(**scene, seed=4)
    fits = [
        fit_ball(luma, VIEW.camera(), AT_M, TABLE, shading=shading, reach_px=3.0, expected=expected)
        for expected in (False, True)
    ]
    assert fits[1] is not None
    assert np.hypot(*off_px(fits[1])) < 0.4
    assert fits[0] is None or fits[0].seen >= 0.3


@pytest.mark.parametrize("sun", ["from the left", "from ahead"])
@pytest.mark.parametrize(
    "step_m",
    [(0.004, 0.0), (0.010, 0.0), (0.0, 0.010), (0.007, 0.007)],
    ids=["4 mm", "1 cm", "away", "across"],
)
def test_a_smeared_ball_is_found_where_it_was_in_the_middle_of_the_exposure(step_m, sun):
    # 2 m/s at 1/500 s and 1/200 s; its light known from when it lay still
    known = fit_ball(still(sun=SUNS[sun]), VIEW.camera(), AT_M, TABLE)
    assert known is not None
    fit = fit_ball(
        rolling(step_m, SUNS[sun]), VIEW.camera(), (AT_M[0] + 0.003, AT_M[1] - 0.002), TABLE,
        smear_m=step_m, shading=known.shading,
    )  # fmt: skip
    assert fit is not None
    assert np.hypot(*off_px(fit)) < 0.2


def test_the_covariance_covers_the_error():
    # over places, suns, grass and noise: normal errors lie within 2 standard deviations 95 times in 100
    rng = np.random.default_rng(3)
    pulls = []
    for seed in range(24):
        at_m = tuple(rng.uniform((-0.3, 2.3), (0.3, 3.2)))
        luma = still(VIEW, at_m, seed=seed, sun=list(SUNS.values())[seed % 5])
        fit = fit_ball(luma, VIEW.camera(), np.array(at_m) + rng.normal(0, 0.003, 2), TABLE)
        assert fit is not None
        pulls += list(off_px(fit, VIEW, at_m) / np.sqrt([fit.cov_px2[0], fit.cov_px2[2]]))
    assert np.mean(np.abs(pulls) < 2) >= 0.90
    assert np.std(pulls) > 0.2  # and it is not so wide that it says nothing


def test_a_guess_may_be_three_pixels_off():
    luma = still()
    for away_px in ([3, 0], [-3, 0], [0, 3], [2, -2]):
        px = VIEW.project([*AT_M, BALL_RADIUS_M]) + np.array(away_px)
        guess = VIEW.camera().to_plane(px, BALL_RADIUS_M)
        fit = fit_ball(luma, VIEW.camera(), guess, TABLE)
        assert fit is not None
        assert np.hypot(*off_px(fit)) < 0.2


def on_grass(draw):
    """Bare grass with something white of a ball's light on it, its edges blurred as by a lens."""
    canvas = film(VIEW, Scene()).luma.copy()
    draw(canvas, tuple(int(c) for c in np.round(VIEW.project([*AT_M, BALL_RADIUS_M]))))
    return cv2.GaussianBlur(canvas, (0, 0), 0.7)


def drawn(scene):
    return film(VIEW, scene, fine=[box_round(VIEW, AT_M, 0.08)]).luma


# a ball there is 7.9 px in radius
NO_BALLS = {
    "bare grass": lambda: film(VIEW, Scene()).luma,
    "rough grass": lambda: film(VIEW, Scene(speckle=0.3, seed=7)).luma,
    "a white page": lambda: on_grass(
        lambda canvas, at: cv2.rectangle(canvas, (at[0] - 20, at[1] - 20), (at[0] + 20, at[1] + 20), 225, -1)
    ),
    "the end of a white shoe": lambda: on_grass(
        lambda canvas, at: cv2.rectangle(canvas, (at[0] - 40, at[1] - 9), (at[0] + 8, at[1] + 9), 225, -1)
    ),
    "a line of paint": lambda: on_grass(
        lambda canvas, at: cv2.line(canvas, (at[0] - 50, at[1] - 3), (at[0] + 50, at[1] + 3), 225, 5)
    ),
    "a speck": lambda: on_grass(lambda canvas, at: cv2.circle(canvas, at, 3, 225, -1)),
    "a white plate": lambda: on_grass(lambda canvas, at: cv2.circle(canvas, at, 16, 225, -1)),
    "a white tee": lambda: drawn(Scene(tees=(Tee(AT_M, colour=(0.8, 0.8, 0.75)),))),
    "a burnt spot of a ball's size": lambda: drawn(Scene(dark=((*AT_M, BALL_RADIUS_M),))),
    "the hole": lambda: drawn(Scene(hole_m=AT_M)),
    "the near lip of the hole": lambda: drawn(Scene(hole_m=(AT_M[0], AT_M[1] + 0.04))),
    "a ball two balls further on": lambda: drawn(Scene(balls_m=((AT_M[0] + 0.04, AT_M[1]),))),
}


@pytest.mark.parametrize("what", NO_BALLS)
def test_what_is_no_ball_gives_none(what):
    assert fit_ball(NO_BALLS[what](), VIEW.camera(), AT_M, TABLE) is None


def test_half_a_ball_behind_a_shoe_gives_none():
    luma = still().copy()
    x, _ = np.round(VIEW.project([*AT_M, BALL_RADIUS_M])).astype(int)
    luma[:, x:] = 40
    assert fit_ball(luma, VIEW.camera(), AT_M, TABLE) is None


@pytest.mark.parametrize(
    "at_px", [(2.0, 180.0), (637.0, 180.0), (320.0, 357.0)], ids=["left", "right", "bottom"]
)
def test_a_ball_that_the_picture_cuts_gives_none(at_px):
    at_m = tuple(VIEW.camera().to_plane(np.array(at_px), BALL_RADIUS_M))
    assert fit_ball(still(VIEW, at_m), VIEW.camera(), at_m, TABLE) is None


def test_where_there_is_no_green_there_is_no_ball():
    assert fit_ball(still(), VIEW.camera(), (0.0, -2.0), TABLE) is None  # behind the lens
    assert fit_ball(still(), VIEW.camera(), (0.0, 60.0), TABLE) is None  # far too small
