"""A hole placed by rendering, in ray-traced pictures whose light inside is not the one that is rendered.

The pictures come from ``little_green``, which knows the Rules' sizes (definition of the hole: 108 mm across,
lining sunk 1 in) and nothing of how the hole is placed; its walls are shaded softly, without a shadow's edge.
"""

import cv2
import numpy as np
import pytest
from little_green import Scene, View, box_round, film

from puttvision.green.edges import linear_light
from puttvision.green.hole import fit_rim
from puttvision.green.hole_rendering import place_by_rendering, sky_seen
from puttvision.physics import HOLE_RADIUS_M

GAMMA = 2.5
TABLE = linear_light(GAMMA)
TOP = float(TABLE[212])
VIEW = View()
AT_M = (0.1, 2.9)
SUNS = [(-0.5, -0.35, 0.8), (0.0, 0.8, 0.5), (0.05, 0.0, 1.0), (0.7, 0.2, 0.5)]


def seen(sun, at_m=AT_M, seed=0):
    return film(VIEW, Scene(hole_m=at_m, sun=sun, seed=seed), fine=[box_round(VIEW, at_m, 0.1)]).luma


def placed(luma, start_px, sun):
    unit = tuple(np.array(sun) / np.linalg.norm(sun))
    return place_by_rendering(luma, VIEW.camera(), tuple(start_px), TABLE, TOP, unit)


def true_px(at_m=AT_M):
    return VIEW.project([*at_m, 0.0])


@pytest.mark.parametrize("sun", SUNS)
def test_it_is_placed_to_an_eighth_of_a_pixel_wherever_it_begins(sun):
    luma = seen(sun)
    for start in ((0.0, 0.0), (1.2, -0.7), (-1.0, 0.9)):
        found = placed(luma, true_px() + start, sun)
        assert found is not None
        assert np.hypot(*(found.at_px - true_px())) < 0.125
        assert found.explained > 0.9
        # Rules of Golf, definition of the hole: a lining is sunk at least 1 in
        assert found.lining_m == pytest.approx(0.0254, abs=0.001)


def test_the_covariance_covers_the_error():
    rng = np.random.default_rng(2)
    squares = []
    for seed in range(8):
        at_m = tuple(rng.uniform((-0.4, 2.5), (0.4, 3.2)))
        sun = SUNS[seed % 4]
        found = placed(seen(sun, at_m, seed), true_px(at_m) + rng.uniform(-0.7, 0.7, 2), sun)
        miss = found.at_px - true_px(at_m)
        squares.append(miss @ np.linalg.solve(found.cov_px2, miss))
    # mean of 8 of chi-squared with two degrees of freedom; beyond 4 once in a thousand
    assert np.mean(squares) < 4


def test_bruised_grass_round_the_cut_does_not_move_it():
    sun = SUNS[0]
    luma = seen(sun)
    columns, rows = np.meshgrid(np.arange(luma.shape[1]), np.arange(luma.shape[0]))
    here = VIEW.camera().to_plane(np.stack([columns, rows], axis=-1).astype(float))
    beyond = np.hypot(here[..., 0] - AT_M[0], here[..., 1] - AT_M[1]) - HOLE_RADIUS_M
    left = np.where(beyond > 0, 1 - 0.4 * np.exp(-((beyond - 0.002) ** 2) / 0.0035**2), 1.0)
    light = cv2.LUT(luma, TABLE) * np.nan_to_num(left, nan=1.0)
    bruised = np.clip(np.round(16 + 219 * light ** (1 / GAMMA)), 0, 255).astype(np.uint8)
    rim = fit_rim(bruised, VIEW.camera(), np.array(AT_M), GAMMA)
    found = placed(bruised, rim.at_px, sun)
    off, rim_off = (np.abs(np.array(one.at_px) - true_px())[1] for one in (found, rim))
    assert off < 0.125
    assert off < rim_off


def test_grass_is_no_hole():
    luma = film(VIEW, Scene(), fine=[box_round(VIEW, AT_M, 0.1)]).luma
    assert placed(luma, true_px(), SUNS[0]) is None


def test_a_hole_at_the_edge_of_the_picture_is_left_alone():
    assert placed(seen(SUNS[0]), (3.0, 300.0), SUNS[0]) is None


@pytest.mark.parametrize("depth_m", [0.01, 0.02, 0.054, 0.1])
def test_what_of_the_sky_a_wall_sees_is_the_integral_over_the_opening(depth_m):
    # configuration factor by its definition: cos cos / (pi r^2) over the opening's disc
    r, turn = np.meshgrid((np.arange(600) + 0.5) / 600, (np.arange(720) + 0.5) / 720 * 2 * np.pi)
    x, y = HOLE_RADIUS_M * r * np.cos(turn), HOLE_RADIUS_M * r * np.sin(turn)
    away = np.stack([x + HOLE_RADIUS_M, y, np.full_like(x, depth_m)])  # from a wall element at (-R, 0)
    square = (away**2).sum(axis=0)
    area = HOLE_RADIUS_M**2 * r / 600 * 2 * np.pi / 720
    share = (away[0] * away[2] / square / (np.pi * square) * area).sum()
    assert float(sky_seen(np.array(depth_m))) == pytest.approx(share, abs=0.01)
