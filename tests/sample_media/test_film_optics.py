"""The films' camera against OpenCV and worked examples: it must be right by other means than our own."""

import cv2
import numpy as np
import pytest

from sample_media.film.optics import distort, undistort, view_of, views_of
from sample_media.film.scene import Bump, Camera

LENS = (-0.06, 0.02, 0.0006, -0.0004, -0.003)


@pytest.mark.parametrize(
    "camera",
    [
        pytest.param(Camera(), id="no distortion"),
        pytest.param(Camera(distortion=LENS, roll_deg=3.0), id="phone lens, rolled"),
        pytest.param(Camera(distortion=(-0.25, 0.06, 0.001, 0.001, 0.0), focal_px=560.0), id="wide lens"),
        pytest.param(Camera(place=(-1.4, -0.7, 1.3), look_at=(0.5, 0.1, 0.0)), id="from behind"),
    ],
)
def test_projection_agrees_with_opencv(camera):
    # Reference: cv2.projectPoints; agreement to rounding is due, both are double precision.
    view = view_of(camera)
    points = np.random.default_rng(3).uniform((-0.3, -0.6, 0.0), (2.6, 0.8, 0.1), (50, 3))
    rotation, _ = cv2.Rodrigues(view.rotation)
    expected, _ = cv2.projectPoints(points, rotation, view.translation, view.matrix, view.distortion)

    np.testing.assert_allclose(view.project(points), expected[:, 0], atol=1e-8)


def test_worked_example_of_projection():
    # Reference values, part I: f = 1442.2205, camera 1.5 m up, tilted 30 degrees down, looking along +y;
    # the ground point (0.5, 3.0, 0) comes to (1175.3805, 453.4335).
    look_at = (0.0, np.cos(np.radians(30)), 1.5 - np.sin(np.radians(30)))
    view = view_of(
        Camera(
            width=1920,
            height=1080,
            focal_px=1442.2205,
            centre_px=(960.0, 540.0),
            place=(0.0, 0.0, 1.5),
            look_at=look_at,
        )
    )

    np.testing.assert_allclose(view.project((0.5, 3.0, 0.0)), (1175.3805, 453.4335), atol=1e-4)


def test_worked_example_of_distortion():
    # Reference values, part I, printed to seven digits.
    x, y = distort(np.array(0.3), np.array(0.2), np.array([-0.1, 0.01, 0.001, -0.0005, 0.0]))

    assert (float(x), float(y)) == pytest.approx((0.2961157, 0.1975838), abs=5e-8)


def test_undistort_takes_distortion_back():
    x, y = np.meshgrid(np.linspace(-0.75, 0.75, 21), np.linspace(-0.45, 0.45, 13))
    k = np.array(LENS)

    np.testing.assert_allclose(undistort(*distort(x, y, k), k), (x, y), atol=1e-9)


def test_rays_meet_the_point_they_came_from():
    view = view_of(Camera(distortion=LENS))
    point = np.array([0.7, 0.2, 0.0])
    ray = view.rays(*view.project(point)).astype(float)

    reach = -view.centre[2] / ray[2]
    np.testing.assert_allclose(view.centre + reach * ray, point, atol=1e-6)  # rays are single precision


def test_a_bump_moves_the_camera_from_its_second_on():
    bump = Bump(at_s=2.0, shift_m=(0.01, 0.0, -0.004), roll_deg=0.3)
    (t0, before), (t1, after) = views_of(Camera(bumps=(bump,)))

    assert (t0, t1) == (0.0, 2.0)
    np.testing.assert_allclose(after.centre - before.centre, (0.01, 0.0, -0.004), atol=1e-12)
