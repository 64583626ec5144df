"""What is drawn over the video: all of scene.json brought into pixels, so that the page needs no camera."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera, circle_on_plane
from puttvision.physics import HOLE_RADIUS_M
from puttvision.review.perspective import camera_of, homography
from puttvision.scene import PuttPath, Scene

_LINE_POINTS = 40
"""The target line is drawn through so many points: a lens bends it a little."""


def overlay(scene: Scene) -> dict[str, Any]:
    """Pixels of the upright picture; times of frames, in seconds from the first.

    ``putts[..].seen`` has rows ``[time_s, x, y, radius]``: where the ball is in the frame of that time. All
    is told for one place of the camera; ``moved`` has a row ``[time_s, 9 numbers]`` for each time from which
    on it was elsewhere: the homography that brings these pixels to those of the frame, row by row.
    """
    camera = camera_of(scene)
    hole = np.array(scene.hole_m)
    return {
        "width": scene.view.width,
        "height": scene.view.height,
        "hole": _rounded(circle_on_plane(camera, hole, HOLE_RADIUS_M)),
        "posts": [_post(camera, foot, scene.post_height_m) for foot in scene.posts_m or ()],
        "putts": [_putt(camera, putt, hole) for putt in scene.putts],
        "moved": [[round(row.time_s, 5), *_nine(homography(camera, row))] for row in scene.moved],
    }


def _putt(camera: Camera, putt: PuttPath, hole: NDArray[np.float64]) -> dict[str, Any]:
    lie = np.array(putt.lie_m)
    shares = np.linspace(0, 1, _LINE_POINTS)[:, None]
    return {
        "number": putt.number,
        "start_s": round(putt.start_s, 4),
        "end_s": round(putt.end_s, 4),
        "line": _on_grass(camera, lie + shares * (hole - lie)),
        "path": _on_grass(camera, np.array([[step.x_m, step.y_m] for step in putt.path]).reshape(-1, 2)),
        "seen": [
            [round(row.time_s, 5), round(row.x_px, 2), round(row.y_px, 2), round(row.radius_px, 2)]
            for row in putt.seen
        ],
    }


def _on_grass(camera: Camera, places_m: NDArray[np.float64]) -> list[list[float]]:
    if len(places_m) == 0:
        return []
    return _rounded(camera.project(np.column_stack([places_m, np.zeros(len(places_m))])))


def _post(camera: Camera, foot: tuple[float, float], height_m: float) -> list[list[float]]:
    return _rounded(camera.project(np.array([[*foot, 0.0], [*foot, height_m]])))


def _nine(matrix: NDArray[np.float64]) -> list[float]:
    return [float(f"{value:.8g}") for value in (matrix / matrix[2, 2]).ravel()]


def _rounded(px: NDArray[np.float64]) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in px]
