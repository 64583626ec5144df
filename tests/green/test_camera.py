"""The camera model against OpenCV's and worked numbers."""

import cv2
import numpy as np
import pytest

from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

LEVEL = Camera(
    width=1920, height=1080, f_px=1442.2205, cx_px=960.0, cy_px=540.0, height_m=1.5,
    tilt_rad=np.radians(30), roll_rad=0.0,
)  # fmt: skip
BENT = Camera(
    width=1920, height=1080, f_px=1100.0, cx_px=950.0, cy_px=548.0, k1=-0.11, k2=0.02, height_m=1.35,
    tilt_rad=0.55, roll_rad=0.04,
)  # fmt: skip


def test_worked_example():
    # a 26 mm-equivalent lens 1.5 m up, tilted 30 degrees (pinhole model, worked by hand)
    assert LEVEL.project([0.5, 3.0, 0.0]) == pytest.approx([1175.3805, 453.4335], abs=1e-3)


@pytest.mark.parametrize("camera", [LEVEL, BENT])
def test_projection_agrees_with_opencv(camera):
    # cv2.projectPoints with distortion k1, k2 (Brown 1966)
    rng = np.random.default_rng(3)
    points = np.column_stack([rng.uniform(-1.5, 1.5, 40), rng.uniform(1.5, 5, 40), rng.uniform(0, 0.05, 40)])
    matrix = np.array([[camera.f_px, 0, camera.cx_px], [0, camera.f_px, camera.cy_px], [0, 0, 1.0]])
    turn = camera.rotation()
    bend = np.array([camera.k1, camera.k2, 0, 0])
    expected, _ = cv2.projectPoints(
        points,
        cv2.Rodrigues(turn)[0],
        -turn @ camera.centre_m,
        matrix,
        bend,
    )
    np.testing.assert_allclose(camera.project(points), expected[:, 0], atol=1e-6)


@pytest.mark.parametrize("camera", [LEVEL, BENT])
def test_the_plane_gives_back_what_was_projected(camera):
    rng = np.random.default_rng(4)
    at = np.column_stack([rng.uniform(-1.5, 1.5, 50), rng.uniform(1.5, 5, 50)])
    px = camera.project(np.column_stack([at, np.full(50, BALL_RADIUS_M)]))
    np.testing.assert_allclose(camera.to_plane(px, BALL_RADIUS_M), at, atol=1e-6)


def test_a_ball_mapped_as_if_flat_lands_too_far():
    # D r / (H - r): 43.2857 mm at 3 m from a lens 1.5 m up
    px = LEVEL.project([0.0, 3.0, BALL_RADIUS_M])
    assert (LEVEL.to_plane(px)[1] - 3.0) * 1000 == pytest.approx(43.2857, abs=1e-3)


def test_above_the_horizon_there_is_no_green():
    assert np.isnan(LEVEL.to_plane((960.0, -800.0))).all()
