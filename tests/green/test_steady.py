"""A camera that is nudged or bumped: its motion found again, and the picture as if nothing had happened.

The pictures are one textured plane seen by cameras at known places: each pixel's ray is met with the plane
and the texture read there, by code that shares nothing with the package but the camera model.
"""

import cv2
import numpy as np
import pytest

from puttvision.green.align import align
from puttvision.green.anchors import anchor_at, choose_anchors, find_again, glance
from puttvision.green.camera import Camera
from puttvision.green.motion import STILL, Motion, ball_plane, near_green, solve_motion, view_of
from puttvision.green.search import search_points
from puttvision.green.steady import Steadier
from puttvision.physics import BALL_RADIUS_M

CAMERA = Camera(
    width=640,
    height=360,
    f_px=520.0,
    cx_px=319.5,
    cy_px=179.5,
    k1=-0.01,
    height_m=1.4,
    tilt_rad=0.5,
    roll_rad=0.01,
)
_U, _V = np.meshgrid(np.arange(640.0), np.arange(360.0))
_RAYS = CAMERA.rays(np.stack([_U, _V], axis=-1))
SWAY = Motion(np.array([0.002, -0.003, 0.001]), np.zeros(3))
BUMP = Motion(np.array([0.015, -0.025, 0.012]), np.array([0.03, -0.01, 0.02]))


def _texture(x, y):
    """Paint on a plane, smooth enough for half a centimetre a pixel, with corners to hold on to."""
    rng = np.random.default_rng(3)
    light = np.full(x.shape, 90.0)
    for _ in range(60):
        kx, ky, phase = rng.normal(0, 25), rng.normal(0, 25), rng.uniform(0, 6.3)
        light = light + 3 * np.sin(kx * x + ky * y + phase)
    for _ in range(40):
        cx, cy, size = rng.uniform(-2, 2), rng.uniform(1, 5), rng.uniform(0.05, 0.15)
        edge = np.clip((size - np.maximum(np.abs(x - cx), np.abs(y - cy))) / 0.006, 0, 1)
        light = light + edge * rng.uniform(-60, 100)
    return light


_LIGHTS = {}


def picture(motion=STILL, seed=0):
    """The plane as the camera sees it after a motion, with noise."""
    if id(motion) not in _LIGHTS:
        _LIGHTS[id(motion)] = _light(motion)
    light = _LIGHTS[id(motion)]
    return np.clip(light + np.random.default_rng(seed).normal(0, 1, light.shape), 0, 255).astype(np.uint8)


def _light(motion):
    turn = cv2.Rodrigues(motion.turn_rad)[0]
    to_camera = turn @ CAMERA.rotation()
    lens = CAMERA.centre_m - CAMERA.rotation().T @ turn.T @ motion.shift_m
    rays = (_RAYS @ CAMERA.rotation().T) @ to_camera  # the pixel's ray, in the frame of the green
    reach = -lens[2] / np.where(rays[..., 2] < -1e-3, rays[..., 2], np.nan)
    x, y = lens[0] + rays[..., 0] * reach, lens[1] + rays[..., 1] * reach
    light = np.where(np.isfinite(reach) & (y < 9), _texture(np.nan_to_num(x), np.nan_to_num(y)), 60)
    return cv2.GaussianBlur(light, (0, 0), 0.8)


REFERENCE = picture()


def ball_places():
    at = np.array([[x, y] for x in (-1.0, 0.0, 1.0) for y in (2.0, 3.0, 4.0)])
    return np.column_stack([at, np.full(len(at), BALL_RADIUS_M)])


def moved(points_m, motion):
    """Pixels of points on the green after a motion: OpenCV's own projection."""
    turn = cv2.Rodrigues(motion.turn_rad)[0]
    in_camera = (points_m - CAMERA.centre_m) @ CAMERA.rotation().T
    k = np.array([[CAMERA.f_px, 0, CAMERA.cx_px], [0, CAMERA.f_px, CAMERA.cy_px], [0, 0, 1]])
    rotation, shift = cv2.Rodrigues(turn)[0], motion.shift_m
    return cv2.projectPoints(in_camera, rotation, shift, k, CAMERA.coefficients)[0].reshape(-1, 2)


def test_an_anchor_is_found_again_to_a_few_hundredths_of_a_pixel():
    anchors = choose_anchors(REFERENCE)
    assert len(anchors) >= 8
    by = np.array([0.37, -0.61])
    matrix = np.array([[1, 0, by[0]], [0, 1, by[1]]])
    shifted = cv2.warpAffine(REFERENCE, matrix, (640, 360), flags=cv2.INTER_CUBIC)
    for anchor in anchors:
        shift = find_again(anchor, shifted, anchor.at_px)
        assert shift is not None
        assert np.abs(shift.by_px - by).max() < 0.06
        assert glance(anchor, shifted, anchor.at_px) == pytest.approx(np.hypot(*by), abs=0.3)


def test_bare_ground_and_a_plain_edge_are_no_anchors():
    plain = np.full((360, 640), 100, np.uint8)
    assert anchor_at(plain, np.array([300.0, 200.0])) is None
    plain[:, 300:] = 180
    assert anchor_at(plain, np.array([300.0, 200.0])) is None
    assert choose_anchors(plain) == ()


def test_a_hidden_anchor_is_not_found():
    anchor = choose_anchors(REFERENCE)[0]
    covered = REFERENCE.copy()
    x, y = anchor.at_px.astype(int)
    covered[y - 20 : y + 20, x - 20 : x + 20] = 40
    assert find_again(anchor, covered, anchor.at_px) is None
    assert glance(anchor, covered, anchor.at_px) is None


@pytest.mark.parametrize("motion", [SWAY, BUMP], ids=["sway", "bump"])
def test_the_motion_comes_back_from_exact_places(motion):
    at_px = np.array([anchor.at_px for anchor in choose_anchors(REFERENCE)])
    view, near = view_of(CAMERA, at_px)
    on_plane = np.column_stack([CAMERA.to_plane(at_px[near]), np.zeros(np.count_nonzero(near))])
    solved, misfit = solve_motion(view, moved(on_plane, motion), STILL, u_turn_rad=0.1, u_shift_m=0.3)
    assert misfit < 0.01
    assert solved.turn_rad == pytest.approx(motion.turn_rad, abs=1e-4)
    assert solved.shift_m == pytest.approx(motion.shift_m, abs=5e-4)


@pytest.mark.parametrize("motion", [SWAY, BUMP], ids=["sway", "bump"])
def test_a_ball_is_drawn_where_the_reference_camera_saw_it(motion):
    # the homography of the balls' level against OpenCV's projection
    plane = ball_plane(CAMERA)
    there = moved(ball_places(), motion)
    mapped = cv2.perspectiveTransform(CAMERA.project(ball_places())[None], plane.homography(motion))[0]
    assert np.abs(mapped - there).max() < 0.05


@pytest.mark.parametrize("motion", [SWAY, BUMP], ids=["sway", "bump"])
def test_the_picture_is_steadied(motion):
    steadier = Steadier(REFERENCE, CAMERA, [picture(seed=k) for k in range(3)])
    for k in range(40):
        luma = picture(motion if k >= 5 else STILL, seed=k)
        view = steadier.view(luma, k / 30)
        assert view is not None
        if k < 5:
            assert view is luma
    near = [anchor for anchor in choose_anchors(REFERENCE) if CAMERA.to_plane(anchor.at_px)[1] < 5]
    shifts = [find_again(anchor, view, anchor.at_px) for anchor in near]
    off_px = np.array([np.abs(shift.by_px).max() for shift in shifts if shift is not None])
    assert len(off_px) >= 6
    assert np.median(off_px) < (0.08 if motion is SWAY else 0.2)
    assert off_px.max() < 0.25  # paint on the ground; the view is made for balls, 2 cm above it
    assert steadier.found.most_px == pytest.approx(ball_plane(CAMERA).displaced_px(motion), rel=0.1)
    told = " ".join(steadier.found.words())
    assert ("was moved at 0.2 s" in told) == (motion is BUMP)
    assert ("swayed" in told) == (motion is SWAY)
    # what is written down brings a ball to where it was seen
    time_s, last = steadier.found.moves[-1]
    assert (
        5 / 30 <= steadier.found.moves[0][0] <= 6 / 30 + 1e-9
    )  # an anchor is glanced at in every other frame
    assert time_s < 40 / 30
    mapped = cv2.perspectiveTransform(
        CAMERA.project(ball_places())[None], ball_plane(CAMERA).homography(last)
    )[0]
    assert np.abs(mapped - moved(ball_places(), motion)).max() < 0.5


def test_people_before_the_anchors_are_no_motion():
    steadier = Steadier(REFERENCE, CAMERA)
    for k in range(30):
        luma = picture(seed=k)
        luma[:, 20 * k : 20 * k + 200] = 50
        assert steadier.view(luma, k / 30) is luma
    assert steadier.found.words() == []
    assert steadier.found.moves == []


def test_a_picture_of_nothing_known_is_left_as_it_is():
    plain = np.full((360, 640), 100, np.uint8)
    assert Steadier(plain, CAMERA).view(plain, 0.0) is plain


def test_features_are_found_again_far_off():
    found = search_points(REFERENCE, picture(BUMP))
    assert found is not None
    before, now = found
    on_plane = CAMERA.to_plane(before)
    near = np.hypot(*on_plane.T) < 6
    there = moved(np.column_stack([on_plane[near], np.zeros(np.count_nonzero(near))]), BUMP)
    assert np.median(np.hypot(*(now[near] - there).T)) < 0.5
    assert search_points(REFERENCE, np.full((360, 640), 90, np.uint8)) is None


def test_samples_are_brought_to_one_view():
    half = np.full((180, 320), 128, np.uint8)
    motions = [STILL, SWAY, STILL, SWAY, STILL, BUMP]
    pictures = [(picture(motion, seed=k), half, half) for k, motion in enumerate(motions)]
    aligned = align(pictures)
    assert aligned.n_left_out == 1
    for luma, _, _ in aligned.pictures:
        for anchor in choose_anchors(REFERENCE):
            shift = find_again(anchor, luma, anchor.at_px)
            assert shift is None or np.abs(shift.by_px).max() < 0.3
    assert aligned.pictures[0][0] is pictures[0][0]


def test_anchors_stand_on_the_green_near_by():
    # a hedge behind the green moves otherwise than the green when the camera shifts
    mask = near_green(CAMERA)
    assert mask.shape == (360, 640)
    rows = np.nonzero(mask[:, 320])[0]
    assert rows.max() == 359
    on_plane = CAMERA.to_plane(np.array([[320.0, rows.min() + 8.0], [320.0, rows.min() - 17.0]]))
    assert np.hypot(*on_plane[0]) < 6 < np.hypot(*on_plane[1])


@pytest.mark.parametrize("n_off", [0, 3])
def test_large_motions_are_found_though_some_places_are_wrong(n_off):
    at_px = np.array([anchor.at_px for anchor in choose_anchors(REFERENCE, near_green(CAMERA))])
    view, near = view_of(CAMERA, at_px)
    on_plane = np.column_stack([CAMERA.to_plane(at_px[near]), np.zeros(np.count_nonzero(near))])
    seen = moved(on_plane, BUMP)
    assert np.median(np.hypot(*(seen - at_px[near]).T)) > 8
    seen[:n_off] += (9.0, -14.0)
    solved, misfit = solve_motion(view, seen, STILL, u_turn_rad=0.1, u_shift_m=0.3)
    assert misfit < 0.05
    assert solved.turn_rad == pytest.approx(BUMP.turn_rad, abs=1e-3)


def test_a_hedge_behind_the_green_does_not_draw_the_search_away():
    within = np.zeros((360, 640), np.uint8)
    within[210:] = 255
    hedge = cv2.GaussianBlur(np.random.default_rng(5).normal(0, 300, (200, 640)), (0, 0), 1.5)
    before, now = REFERENCE.copy(), picture(BUMP)
    before[:200] = now[:200] = np.clip(120 + hedge, 0, 255).astype(np.uint8)  # it seems to stand
    drawn_away, _ = search_points(before, now)
    assert np.median(drawn_away[:, 1]) < 200
    found = search_points(before, now, within)
    assert found is not None
    assert found[0][:, 1].min() > 205
    on_plane = CAMERA.to_plane(found[0])
    there = moved(np.column_stack([on_plane, np.zeros(len(on_plane))]), BUMP)
    assert np.median(np.hypot(*(found[1] - there).T)) < 0.5
