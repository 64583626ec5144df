"""The hole in ray-traced pictures: where it is, how sure, and that nothing else is one.

The pictures come from ``little_green``, which knows the Rules' sizes (Definition "Hole": 108 mm across,
lining sunk 1 in) and nothing of how the hole is found.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from little_green import Scene, Tee, View, box_round, film
from scipy.stats import chi2

from puttvision.green.camera import circle_on_plane
from puttvision.green.hole import fit_rim
from puttvision.green.hole_finder import find_holes
from puttvision.physics import HOLE_RADIUS_M

GAMMA = 2.5
VIEW = View()
AT_M = (0.1, 2.9)
FROM_THE_LEFT, FROM_AHEAD = (-0.5, -0.35, 0.8), (0.0, 0.8, 0.5)
FROM_ABOVE, LOW_RIGHT = (0.05, 0.0, 1.0), (0.7, 0.2, 0.5)


def picture(view, scene, seed=0):
    spots = [place for place in (scene.hole_m, *(d[:2] for d in scene.dark)) if place is not None]
    spots += [*scene.balls_m, *(tee.at_m for tee in scene.tees)]
    return film(view, scene, fine=[box_round(view, spot, 0.1) for spot in spots], seed=seed).luma


@pytest.mark.parametrize("sun", [FROM_THE_LEFT, FROM_AHEAD, FROM_ABOVE])
@pytest.mark.parametrize(
    ("view", "at_m"),
    [
        pytest.param(VIEW, (0.1, 2.9), id="3 m off, 37 px wide"),
        pytest.param(View(f_px=1400, roll_deg=3, height_m=1.5), (0.35, 3.4), id="camera askew, 38 px"),
        pytest.param(View(f_px=800), (-0.3, 2.4), id="short lens, 31 px"),
    ],
)
def test_the_hole_is_found_to_a_third_of_a_pixel(view, at_m, sun):
    holes = find_holes(picture(view, Scene(hole_m=at_m, sun=sun)), view.camera(), GAMMA)
    assert len(holes) == 1
    off = np.array(holes[0].at_px) - view.project([*at_m, 0.0])
    assert np.hypot(*off) < 0.3
    assert holes[0].rim_seen > 0.6
    assert not holes[0].by_hand


def test_the_covariance_covers_the_error():
    # over suns, places and noise: the squared error in units of the covariance follows chi-squared, two
    # degrees of freedom a picture (NEES, Bar-Shalom et al. 2001, 5.4.2); chance passes the bound once in 2000
    rng = np.random.default_rng(5)
    squares = []
    for seed in range(12):
        at_m = rng.uniform((-0.4, 2.5), (0.4, 3.2))
        sun = [FROM_THE_LEFT, FROM_AHEAD, FROM_ABOVE, LOW_RIGHT][seed % 4]
        seen = picture(VIEW, Scene(hole_m=tuple(at_m), sun=sun, seed=seed), seed)
        (hole,) = find_holes(seen, VIEW.camera(), GAMMA)
        off = np.array(hole.at_px) - VIEW.project([*at_m, 0.0])
        squares.append(off @ np.linalg.solve(hole.cov_px2, off))
        assert np.hypot(*off) < 0.5
    assert sum(squares) < chi2.ppf(0.9995, 2 * len(squares))


def test_the_rim_is_a_ruler():
    # seen with a camera that is thought 3 % too high, all lengths on the plane come out 3 % too large
    seen = picture(VIEW, Scene(hole_m=(0.1, 2.9)))
    camera = VIEW.camera()
    (right,) = find_holes(seen, camera, GAMMA)
    (wrong,) = find_holes(seen, replace(camera, height_m=camera.height_m * 1.03), GAMMA)
    assert right.radius_ratio == pytest.approx(1.0, abs=2 * right.u_radius_ratio)
    assert wrong.radius_ratio / right.radius_ratio == pytest.approx(1.03, abs=0.015)


def test_a_rough_guess_is_enough_to_fit():
    at_m = (0.1, 2.9)
    seen = picture(VIEW, Scene(hole_m=at_m))
    hole = fit_rim(seen, VIEW.camera(), np.array([0.104, 2.894]), GAMMA)
    assert hole is not None
    assert np.hypot(*(np.array(hole.at_px) - VIEW.project([*at_m, 0.0]))) < 0.3
    assert fit_rim(seen, VIEW.camera(), np.array([0.6, 2.9]), GAMMA) is None


def grass_over(luma, side, share):
    """The picture with one side of the hole at ``AT_M`` as bright as grass: under a low sun its soil is."""
    rim = circle_on_plane(VIEW.camera(), np.array(AT_M), HOLE_RADIUS_M)
    edge_px = VIEW.project([*AT_M, 0.0])[0] + side * (0.5 - share) * np.ptp(rim[:, 0])
    columns = (np.arange(VIEW.width) - edge_px) * side > 0
    out = luma.copy()
    out[:, columns] = picture(VIEW, Scene())[:, columns]
    return out


@pytest.mark.parametrize("side", [-1, 1], ids=["left", "right"])
@pytest.mark.parametrize("share", [0.15, 0.30])
def test_an_end_that_shows_no_edge_is_told_by_the_uncertainty(side, share):
    whole = picture(VIEW, Scene(hole_m=AT_M))
    (seen,) = find_holes(whole, VIEW.camera(), GAMMA)
    (half,) = find_holes(grass_over(whole, side, share), VIEW.camera(), GAMMA)
    assert np.hypot(*(np.array(half.at_px) - VIEW.project([*AT_M, 0.0]))) < 0.4
    u_seen, u_half = (np.sqrt(np.diag(hole.cov_px2)) for hole in (seen, half))
    assert u_half[0] > 3 * u_seen[0]  # along the picture's rows, where the edge is missing
    assert u_half[1] < 2.5 * u_seen[1]


def dark_patch(luma, at_m, open_share):
    """As dark as can be and as large as a hole, but running out on one side: no rim there."""
    rim = circle_on_plane(VIEW.camera(), np.array(at_m), HOLE_RADIUS_M)
    (x0, y0), (x1, y1) = rim.min(axis=0), rim.max(axis=0)
    side = x1 - open_share * (x1 - x0)
    beyond = [(side, y0 - 4), (x1 + 11, y0 - 4), (x1 + 11, y1 + 4), (side, y1 + 4)]
    large = np.zeros((8 * VIEW.height, 8 * VIEW.width), np.float32)
    for shape in (rim, np.array(beyond)):
        cv2.fillPoly(large, [np.round(shape * 8 + 3.5).astype(np.int32)], 1.0)
    share = cv2.resize(large, luma.shape[::-1], interpolation=cv2.INTER_AREA)
    share = cv2.GaussianBlur(share, (0, 0), 0.7)
    return np.round(luma * (1 - share) + 20 * share).astype(np.uint8)


@pytest.mark.parametrize("open_share", [0.3, 0.4, 0.5])
def test_a_rim_well_seen_counts_more_than_darkness(open_share):
    # the sun shines into the hole, so that its inside is a third of the way up to grass
    sunlit = 0.7 * picture(VIEW, Scene(hole_m=AT_M)) + 0.3 * picture(VIEW, Scene())
    holes = find_holes(dark_patch(sunlit, (-0.25, 2.9), open_share), VIEW.camera(), GAMMA)
    assert np.hypot(*(np.array(holes[0].at_px) - VIEW.project([*AT_M, 0.0]))) < 0.4


@pytest.mark.parametrize(
    "scene",
    [
        pytest.param(Scene(), id="bare grass"),
        pytest.param(Scene(speckle=0.3, seed=4), id="rough grass"),
        pytest.param(Scene(dark=((0.1, 2.9, 0.028),)), id="a small burnt spot"),
        pytest.param(Scene(dark=((0.1, 2.9, 0.12),)), id="a large burnt spot"),
        pytest.param(Scene(balls_m=((0.1, 2.9),)), id="a ball and its shadow"),
        pytest.param(Scene(tees=(Tee((0.1, 2.9)), Tee((0.18, 2.9)))), id="two tees"),
    ],
)
def test_what_is_no_hole_is_not_found(scene):
    assert find_holes(picture(VIEW, scene), VIEW.camera(), GAMMA) == []


def test_a_hole_that_the_picture_cuts_is_not_found():
    # its middle 10 px from the picture's right edge, half of it outside
    x = float((VIEW.width - 1) / 2 - 10) / VIEW.f_px * 3.0
    seen = picture(VIEW, Scene(hole_m=(x, 2.75)))
    assert find_holes(seen, VIEW.camera(), GAMMA) == []
