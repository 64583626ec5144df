"""The camera model against OpenCV's, worked numbers and its own way back."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from puttvision.errors import GreenError
from puttvision.green.camera import Camera, circle_on_plane
from puttvision.physics import BALL_RADIUS_M, HOLE_RADIUS_M

LEVEL = Camera(
    width=1920, height=1080, f_px=1442.2205, cx_px=960.0, cy_px=540.0, height_m=1.5,
    tilt_rad=np.radians(30), roll_rad=0.0,
)  # fmt: skip
BENT = Camera(
    width=1920, height=1080, f_px=1100.0, cx_px=950.0, cy_px=548.0, k1=-0.11, k2=0.02, height_m=1.35,
    tilt_rad=0.55, roll_rad=0.04,
)  # fmt: skip
PORTRAIT = Camera(
    width=1080, height=1920, f_px=1450.0, cx_px=543.0, cy_px=955.0, k1=0.05, k2=-0.01, height_m=1.1,
    tilt_rad=0.35, roll_rad=-0.12,
)  # fmt: skip
CAMERAS = pytest.mark.parametrize(
    "camera",
    [pytest.param(LEVEL, id="level"), pytest.param(BENT, id="bent"), pytest.param(PORTRAIT, id="portrait")],
)


def by_opencv(camera, points):
    """cv2.projectPoints with distortion k1, k2 (Brown 1966) and the pose as OpenCV takes it."""
    matrix = np.array([[camera.f_px, 0, camera.cx_px], [0, camera.f_px, camera.cy_px], [0, 0, 1.0]])
    turn = camera.rotation()
    bend = np.array([camera.k1, camera.k2, 0, 0])
    px, _ = cv2.projectPoints(points, cv2.Rodrigues(turn)[0], -turn @ camera.centre_m, matrix, bend)
    return px[:, 0]


def test_worked_example():
    # Pinhole model, worked by hand: a 26 mm-equivalent lens (f 1442.2205 px at 1920) 1.5 m up, tilted 30
    # degrees. Ground point (0.5, 3, 0) is at (0.5, -0.200962, 3.348076) m from the lens; exact to 1e-4 px.
    assert LEVEL.project([0.5, 3.0, 0.0]) == pytest.approx([1175.3805, 453.4335], abs=6e-5)
    seen = LEVEL.rotation() @ (np.array([0.5, 3.0, 0.0]) - LEVEL.centre_m)
    assert seen == pytest.approx([0.5, -0.200962, 3.348076], abs=6e-7)


def test_worked_example_of_the_plane_to_image_matrix():
    # of the same camera, last element 1; the printed digits allow 0.01 px at these distances
    matrix = np.array([[1922.96067, 1108.51252, 960], [0, -337.94204, 3037.99918], [0, 1.15470054, 1]])
    at = np.array([[-1.2, 1.0], [0.0, 2.0], [0.7, 3.0], [1.5, 5.0]])
    u, v, w = matrix @ np.column_stack([at, np.ones(4)]).T
    np.testing.assert_allclose(
        LEVEL.project(np.column_stack([at, np.zeros(4)])), np.column_stack([u / w, v / w]), atol=1e-3
    )


def test_worked_example_of_scale():
    # there 1 mm of green is 0.4308 px sideways and 0.2008 px along the view
    near = LEVEL.project([[0.5, 3.0, 0.0], [0.501, 3.0, 0.0], [0.5, 3.001, 0.0]])
    assert np.hypot(*(near[1] - near[0])) == pytest.approx(0.4308, abs=6e-5)
    assert np.hypot(*(near[2] - near[0])) == pytest.approx(0.2008, abs=1.5e-4)
    assert LEVEL.px_per_m([0.5, 3.0, 0.0]) / 1000 == pytest.approx(0.4308, abs=6e-5)
    forward = np.linalg.inv(LEVEL.plane_jacobian([0.5, 3.0]))
    assert np.hypot(*forward[:, 0]) / 1000 == pytest.approx(0.4308, abs=6e-5)


def test_worked_example_of_distortion():
    # Brown 1966 in OpenCV's form at x = 0.3, y = 0.2 with k1 = -0.1, k2 = 0.01: the radial part of the worked
    # numbers, 1 + k1 r2 + k2 r2^2 with r2 = 0.13
    lens = Camera(
        width=100, height=100, f_px=1.0, cx_px=0.0, cy_px=0.0, k1=-0.1, k2=0.01, height_m=1.0,
        tilt_rad=np.pi / 2, roll_rad=0.0,
    )  # fmt: skip
    # straight down: x right, and what lies towards y is up in the picture
    assert lens.project([0.3, -0.2, 0.0]) == pytest.approx([0.3 * 0.987169, 0.2 * 0.987169], abs=1e-12)
    assert by_opencv(lens, np.array([[0.3, -0.2, 0.0]]))[0] == pytest.approx([0.2961507, 0.1974338], abs=6e-8)


@CAMERAS
def test_projection_agrees_with_opencv(camera):
    rng = np.random.default_rng(3)
    points = np.column_stack([rng.uniform(-1.5, 1.5, 60), rng.uniform(1.5, 5, 60), rng.uniform(0, 0.05, 60)])
    np.testing.assert_allclose(camera.project(points), by_opencv(camera, points), atol=1e-6)


@CAMERAS
def test_rays_undo_the_distortion(camera):
    # scipy.optimize.brentq on Brown's radial polynomial: a bracketing root finder, where ours is Newton's
    def straight(bent):
        return brentq(lambda r: r * (1 + camera.k1 * r**2 + camera.k2 * r**4) - bent, 0, 1.5, xtol=1e-14)

    rng = np.random.default_rng(5)
    px = np.column_stack([rng.uniform(0, camera.width, 60), rng.uniform(0, camera.height, 60)])
    bent = (px - (camera.cx_px, camera.cy_px)) / camera.f_px
    flat = [b * straight(np.hypot(*b)) / np.hypot(*b) for b in bent]
    seen = camera.rays(px) @ camera.rotation().T
    np.testing.assert_allclose(seen[:, :2] / seen[:, 2:], flat, atol=1e-9)


def test_roll_turns_the_camera_clockwise():
    # a camera turned clockwise sees the world turned counter-clockwise: what lay right of the middle rises
    turned = Camera(
        width=1920, height=1080, f_px=1442.2205, cx_px=960.0, cy_px=540.0, height_m=1.5,
        tilt_rad=np.radians(30), roll_rad=np.radians(10),
    )  # fmt: skip
    before = LEVEL.project([0.5, 3.0, 0.0]) - (960.0, 540.0)
    c, s = np.cos(np.radians(10)), np.sin(np.radians(10))
    expected = (c * before[0] + s * before[1] + 960.0, -s * before[0] + c * before[1] + 540.0)
    assert turned.project([0.5, 3.0, 0.0]) == pytest.approx(expected, abs=1e-9)


@CAMERAS
def test_rotation_is_a_turn(camera):
    turn = camera.rotation()
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-15)
    assert np.linalg.det(turn) == pytest.approx(1.0)


poses = st.builds(
    Camera,
    width=st.just(1920),
    height=st.just(1080),
    f_px=st.floats(1100, 2600),
    cx_px=st.floats(940, 980),
    cy_px=st.floats(520, 560),
    k1=st.floats(-0.1, 0.12),
    k2=st.floats(-0.005, 0.02),
    height_m=st.floats(0.3, 2.5),
    tilt_rad=st.floats(0.15, 1.2),
    roll_rad=st.floats(-0.3, 0.3),
)


@settings(max_examples=150, deadline=None)
@given(poses, st.floats(0, 1919), st.floats(0, 1079), st.sampled_from([0.0, BALL_RADIUS_M]))
def test_plane_and_picture_are_each_others_inverse(camera, u, v, height_m):
    at = camera.to_plane((u, v), height_m)
    if not np.isfinite(at).all() or np.hypot(*at) > 30:
        return  # on or near the horizon there is nothing to come back from
    np.testing.assert_allclose(camera.project([*at, height_m]), (u, v), atol=1e-4)


@CAMERAS
@pytest.mark.parametrize("height_m", [0.0, BALL_RADIUS_M])
def test_the_plane_gives_back_what_was_projected(camera, height_m):
    rng = np.random.default_rng(4)
    at = np.column_stack([rng.uniform(-1.0, 1.0, 50), rng.uniform(1.5, 5, 50)])
    px = camera.project(np.column_stack([at, np.full(50, height_m)]))
    np.testing.assert_allclose(camera.to_plane(px, height_m), at, atol=1e-6)


@pytest.mark.parametrize(
    ("distance_m", "too_far_mm"), [(1, 14.4286), (2, 28.8571), (3, 43.2857), (5, 72.1428)]
)
def test_a_ball_mapped_as_if_flat_lands_too_far(distance_m, too_far_mm):
    # D r / (H - r) from a lens 1.5 m up (similar triangles); to_plane at one radius has it right
    px = LEVEL.project([0.0, distance_m, BALL_RADIUS_M])
    assert (LEVEL.to_plane(px)[1] - distance_m) * 1000 == pytest.approx(too_far_mm, abs=6e-5)
    assert LEVEL.to_plane(px, BALL_RADIUS_M)[1] == pytest.approx(distance_m, abs=1e-9)


@pytest.mark.parametrize(
    "bend", [{}, {"p1": 0.002, "p2": -0.001, "k3": 0.01}], ids=["radial", "with a profile's terms"]
)
@CAMERAS
def test_one_point_is_mapped_like_many(camera, bend):
    camera = replace(camera, **bend)
    rng = np.random.default_rng(7)
    points = rng.uniform((-3, -2, 0), (3, 8, 0.2), (40, 3))  # some behind the camera
    pixels = rng.uniform((-200, -200), (2100, 1300), (40, 2))  # some above the horizon
    for mapped, places in (
        (camera.project, points), (camera.rays, pixels), (lambda px: camera.to_plane(px, 0.02), pixels),
    ):  # fmt: skip
        np.testing.assert_allclose([mapped(place) for place in places], mapped(places), rtol=1e-9)


def test_above_the_horizon_there_is_no_green():
    # the horizon of LEVEL lies f tan 30 degrees above the principal point, at row -292.67
    assert np.isnan(LEVEL.to_plane((960.0, -293.0))).all()
    assert np.isfinite(LEVEL.to_plane((960.0, -292.0))).all()


def test_behind_the_camera_there_is_no_picture():
    assert np.isnan(LEVEL.project([0.0, -3.0, 0.0])).all()
    with pytest.raises(GreenError, match="not in front of the camera"):
        LEVEL.plane_jacobian([0.0, -3.0])


@CAMERAS
def test_jacobian_is_the_slope_of_the_plane_map(camera):
    # central differences of to_plane itself, step 0.5 px; second-order terms stay below 1e-4 of it
    at = np.array([0.3, 2.8])
    px = camera.project([*at, BALL_RADIUS_M])
    steps = np.eye(2) / 2
    columns = [camera.to_plane(px + s, BALL_RADIUS_M) - camera.to_plane(px - s, BALL_RADIUS_M) for s in steps]
    np.testing.assert_allclose(
        camera.plane_jacobian(at, BALL_RADIUS_M), np.column_stack(columns), rtol=2e-3, atol=1e-7
    )


@CAMERAS
def test_circle_lies_on_the_plane(camera):
    # Rules of Golf, Definition "Hole": 108 mm across
    ring = circle_on_plane(camera, (0.2, 3.0), HOLE_RADIUS_M)
    away = camera.to_plane(ring) - (0.2, 3.0)
    np.testing.assert_allclose(np.hypot(*away.T), 0.054, atol=1e-7)
    assert abs(away.mean(axis=0)).max() < 1e-7


WIDE = {"k1": 0.12, "k2": 0.25, "p1": 0.0006, "p2": -0.0004, "k3": 0.04, "k4": 0.42, "k5": 0.33, "k6": 0.10}
"""A wide lens of 13 mm equivalent: barrel, 12 % at the picture's edge."""
BROWN = {"k1": -0.21, "k2": 0.06, "p1": 0.001, "p2": -0.0005, "k3": -0.008}


@pytest.mark.parametrize("bend", [WIDE, BROWN], ids=["rational", "Brown with tangential terms"])
def test_a_profiles_terms_are_opencvs(bend):
    # reference: cv2.projectPoints with 5 or 8 coefficients
    camera = Camera(
        width=1920, height=1080, f_px=700.0, cx_px=963.0, cy_px=535.0, height_m=1.3, tilt_rad=0.5,
        roll_rad=0.02, **bend,
    )  # fmt: skip
    rng = np.random.default_rng(4)
    points = np.column_stack([rng.uniform(-1.6, 1.6, 200), rng.uniform(1.0, 5.0, 200), np.zeros(200)])
    matrix = np.array([[700.0, 0, 963], [0, 700, 535], [0, 0, 1]])
    turn = cv2.Rodrigues(camera.rotation())[0]
    move = -camera.rotation() @ camera.centre_m
    order = [bend.get(k, 0.0) for k in ("k1", "k2", "p1", "p2", "k3", "k4", "k5", "k6")]
    due = cv2.projectPoints(points, turn, move, matrix, np.array(order))[0][:, 0]
    np.testing.assert_allclose(camera.project(points), due, atol=1e-8)
    # and back: through the whole picture
    back = camera.to_plane(due)
    np.testing.assert_allclose(back, points[:, :2], atol=1e-6)
    assert camera.coefficients == pytest.approx(order)


def test_where_no_ray_comes_there_is_no_place():
    # a barrel that turns back at the edge of its field: beyond r = sqrt(1/(3 |k1|)) nothing is seen
    camera = Camera(
        width=1920, height=1080, f_px=500.0, cx_px=959.5, cy_px=539.5, k1=-0.3, p1=1e-9, height_m=1.3,
        tilt_rad=0.9, roll_rad=0.0,
    )  # fmt: skip
    widest = np.sqrt(1 / 0.9)
    edge_px = 500 * widest * (1 - 0.3 * widest**2)
    assert np.isfinite(camera.rays([959.5 + 0.97 * edge_px, 539.5])).all()
    assert np.isnan(camera.rays([959.5 + 1.05 * edge_px, 539.5])).all()
