"""Sheet corners against pictures of a sheet made another way.

A print of OpenCV's own marker at 100 dots a cell is warped by ``cv2.warpPerspective`` into a picture of eight
times the size, averaged down in linear light (``cv2.INTER_AREA``: what a pixel does), blurred, bent by a
tone curve, given noise and rounded to video luma. True corners come from the homography alone.
"""

import cv2
import numpy as np
import pytest

from puttvision.green.corners import fit_corners
from puttvision.green.sheet import detect

DOTS = 100  # of the print, a cell of 30 mm
MARGINS = (133, 200, 50, 50)
"""Dots of white paper above, below, left and right of the square: A4 leaves 15 mm beside it."""
SUPER = 8
PATCH = 100  # pixels
GRASS = 0.12

VIEWS = {
    # corners of the black square in the picture: top left, top right, bottom right, bottom left
    "near": [(60.3, 55.8), (190.7, 62.1), (214.2, 148.9), (35.6, 139.4)],
    "middle": [(70.4, 61.2), (138.9, 58.3), (151.6, 88.7), (66.2, 93.1)],
    "far": [(80.2, 50.7), (121.7, 55.6), (113.3, 71.4), (70.9, 65.2)],
    "turned": [(120.6, 120.1), (62.3, 110.7), (75.8, 78.2), (131.9, 84.4)],
}
FLAT = {
    "turned a little": ([(60.4, 63.2), (111.7, 60.5), (121.3, 69.9), (66.8, 73.1)], 0.1),
    "on a corner": ([(50.4, 70.3), (103.9, 59.6), (163.2, 69.8), (106.3, 82.4)], 0.2),
    "far, on a corner": ([(70.4, 70.3), (104.9, 63.6), (143.2, 69.8), (106.3, 77.4)], 0.3),
}
"""Corners of sheets seen flat, 13 to 23 px high, and to what they are right: a pixel is half a cell."""


def rec709(light):
    """ITU-R BT.709, item 1.2: the curve of video cameras, with its straight foot."""
    return np.where(light < 0.018, 4.5 * light, 1.099 * np.maximum(light, 1e-9) ** 0.45 - 0.099)


def power(light):
    return light ** (1 / 2.2)


def picture(
    corners, *, sheet_id=3, curve=power, blur_px=0.6, noise=1.5, paper=0.75, ink=0.04, seed=1, shade=None
):
    """A green with one sheet, (360, 640) of uint8; ``corners`` counted from (PATCH, PATCH).

    ``shade``: angle of the edge in radians, how far it lies from the sheet's middle in pixels, light left.
    """
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    code = cv2.aruco.generateImageMarker(codes, sheet_id, 6 * DOTS)
    page = cv2.copyMakeBorder(code, *MARGINS, cv2.BORDER_CONSTANT, value=255)
    light = np.where(page > 127, paper, ink).astype(np.float32)
    # pixels and dots are counted from the centre of the first: the black square begins half a dot before
    top, left = MARGINS[0] - 0.5, MARGINS[2] - 0.5
    end = 6 * DOTS
    black = np.array([(left, top), (left + end, top), (left + end, top + end), (left, top + end)], np.float32)
    large = (np.array(corners) * SUPER + (SUPER - 1) / 2).astype(np.float32)
    to_large = cv2.getPerspectiveTransform(black, large)
    seen = cv2.warpPerspective(
        light, to_large, (250 * SUPER, 180 * SUPER), flags=cv2.INTER_LINEAR, borderValue=GRASS
    )
    if shade is not None:
        turn, off_px, left = shade
        rows, columns = np.mgrid[: 180 * SUPER, : 250 * SUPER] / SUPER
        middle = np.mean(corners, axis=0)
        beyond = (columns - middle[0]) * np.cos(turn) + (rows - middle[1]) * np.sin(turn) > off_px
        seen = seen * np.where(beyond, left, 1.0).astype(np.float32)
    green = np.full((360, 640), GRASS, np.float32)
    green[PATCH : PATCH + 180, PATCH : PATCH + 250] = cv2.resize(
        seen, (250, 180), interpolation=cv2.INTER_AREA
    )
    luma = 16 + 219 * curve(cv2.GaussianBlur(green, (0, 0), blur_px))
    luma += np.random.default_rng(seed).normal(0, noise, luma.shape)
    return np.clip(np.round(luma), 0, 255).astype(np.uint8)


def miss(found, corners):
    return np.hypot(*(found - np.array(corners) - PATCH).T)


@pytest.mark.parametrize("curve", [power, rec709])
@pytest.mark.parametrize("view", VIEWS)
def test_corners_are_right_to_a_tenth_of_a_pixel(view, curve):
    seen = picture(VIEWS[view], curve=curve)
    fit = fit_corners(seen, 3, detect(seen)[3])
    assert fit is not None
    assert fit.id == 3
    assert miss(fit.corners_px, VIEWS[view]).max() < 0.1


@pytest.mark.parametrize("view", FLAT)
def test_corners_of_a_turned_sheet_seen_flat(view):
    # blur that is round in the picture is long and slanting on such a sheet, and reaches the grass beside it
    corners, within_px = FLAT[view]
    fit = fit_corners(picture(corners), 3, np.array(corners) + PATCH + 0.6)
    assert fit is not None
    assert miss(fit.corners_px, corners).max() < within_px


@pytest.mark.parametrize("view", ["near", "middle", "turned"])
def test_where_a_plain_detector_is_off_by_half_a_pixel(view):
    # OpenCV's own refinements of the same marker: white grows into black when light is averaged before the
    # tone curve, and theirs fit luma. What is checked above is worth checking.
    seen = picture(VIEWS[view])
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for method in (
        cv2.aruco.CORNER_REFINE_NONE, cv2.aruco.CORNER_REFINE_SUBPIX, cv2.aruco.CORNER_REFINE_CONTOUR,
    ):  # fmt: skip
        parameters = cv2.aruco.DetectorParameters()
        parameters.cornerRefinementMethod = method
        quads, _, _ = cv2.aruco.ArucoDetector(codes, parameters).detectMarkers(seen)
        assert miss(quads[0].reshape(4, 2), VIEWS[view]).mean() > 0.3


@pytest.mark.parametrize("sheet_id", [0, 5, 9])
def test_every_sheet_has_its_own_pattern(sheet_id):
    corners = VIEWS["middle"]
    seen = picture(corners, sheet_id=sheet_id)
    fit = fit_corners(seen, sheet_id, detect(seen)[sheet_id])
    assert fit is not None
    assert miss(fit.corners_px, corners).max() < 0.1


def test_the_covariance_covers_the_error():
    # over noise and sub-pixel places; a normal error lies within 2 standard deviations 95 times in 100
    rng = np.random.default_rng(7)
    pulls = []
    for seed in range(12):
        corners = np.array(VIEWS["middle" if seed % 2 else "turned"]) + rng.uniform(-0.5, 0.5, 2)
        seen = picture(corners, seed=seed, noise=4.0)
        fit = fit_corners(seen, 3, corners + PATCH + rng.uniform(-1.2, 1.2, (4, 2)))
        assert fit is not None
        off = (fit.corners_px - corners - PATCH).ravel()
        pulls.append(off / np.sqrt(np.diag(fit.cov_px2)))
    assert np.mean(np.abs(pulls) < 2) >= 0.95
    assert np.std(pulls) > 0.1  # and it is not so wide that it says nothing


def test_more_noise_is_less_certain():
    corners = np.array(VIEWS["middle"])
    fine, coarse = (fit_corners(picture(corners, noise=n), 3, corners + PATCH + 0.5) for n in (1.0, 15.0))
    assert fine is not None
    assert coarse is not None
    assert np.trace(coarse.cov_px2) > 2 * np.trace(fine.cov_px2)
    assert miss(coarse.corners_px, corners).max() < 0.5


def test_what_the_fit_tells_of_blur():
    # the pictures' own Gaussian of 0.6 and 1.2 px; a pixel's area adds 1/12 px^2 to its square
    corners = np.array(VIEWS["near"])
    for blur_px in (0.6, 1.2):
        fit = fit_corners(picture(corners, blur_px=blur_px), 3, corners + PATCH)
        assert fit is not None
        assert fit.blur_px == pytest.approx(np.sqrt(blur_px**2 + 1 / 12), abs=0.05)


def half_covered(corners):
    seen = picture(corners)
    seen[:, : int(np.mean(np.array(corners)[:, 0])) + PATCH] = 60
    return seen


@pytest.mark.parametrize(
    "filmed",
    [
        pytest.param(lambda _: np.full((360, 640), 90, np.uint8), id="bare grass"),
        pytest.param(lambda corners: picture(corners, sheet_id=8), id="another sheet"),
        pytest.param(lambda corners: picture(corners[2:] + corners[:2]), id="turned half way"),
        pytest.param(half_covered, id="half covered"),
    ],
)
def test_what_is_not_that_sheet_is_refused(filmed):
    corners = VIEWS["near"]
    assert fit_corners(filmed(corners), 3, np.array(corners) + PATCH) is None


def test_a_sheet_that_the_picture_cuts_is_refused():
    corners = np.array(VIEWS["near"]) + PATCH
    seen = picture(VIEWS["near"])
    cut = int(corners[:, 0].min()) - 5  # the white margin is gone
    assert fit_corners(np.ascontiguousarray(seen[:, cut:]), 3, corners - (cut, 0)) is None


def test_a_leaf_on_the_sheet_does_no_harm():
    corners = np.array(VIEWS["near"])
    seen = picture(corners)
    cv2.circle(seen, (PATCH + 110, PATCH + 100), 7, 70, -1)
    fit = fit_corners(seen, 3, corners + PATCH + 0.8)
    assert fit is not None
    assert miss(fit.corners_px, corners).max() < 0.1


SHADES = {
    "left half": (np.pi, 0.0, 0.3),
    "a corner": (0.7, 20.0, 0.3),
    "most of it": (2.2, -30.0, 0.3),
    "a thin cloud's": (0.3, 5.0, 0.55),
    "deep": (0.4, 4.0, 0.12),
}


@pytest.mark.parametrize("shade", SHADES)
@pytest.mark.parametrize("view", ["near", "turned"])
def test_a_sheet_partly_in_the_players_shadow(view, shade):
    seen = picture(VIEWS[view], shade=SHADES[shade])
    fit = fit_corners(seen, 3, np.array(VIEWS[view]) + PATCH + 0.7)
    assert fit is not None
    assert miss(fit.corners_px, VIEWS[view]).max() < 0.15
