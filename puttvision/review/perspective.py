"""What is drawn on the green, as lines in the picture: from scene.json through the lens to pixels.

All points come as pixels (x, y) of the upright picture from the centre of the top left pixel. On the plane
"right" of a heading h (from the x axis towards the y axis) is (sin h, -cos h).
"""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.green.camera import Camera, circle_on_plane
from puttvision.physics import BALL_RADIUS_M, HOLE_RADIUS_M
from puttvision.scene import Place, PuttPath, Scene

Floats = NDArray[np.float64]

_LINE_POINTS = 64
"""A lens bends straight lines: each is drawn through so many points."""


def camera_of(scene: Scene) -> Camera:
    """The camera that filmed the scene."""
    return Camera(**asdict(scene.view))


def right_of(heading_rad: float) -> Floats:
    """Unit vector to the right of a heading, shape (2,)."""
    return np.array([np.sin(heading_rad), -np.cos(heading_rad)])


def way_of(heading_rad: float) -> Floats:
    """Unit vector along a heading, shape (2,)."""
    return np.array([np.cos(heading_rad), np.sin(heading_rad)])


class Ground:
    """Draws in metres on the plane, gives pixels of a picture that is ``scale`` times the filmed one, or of a
    window of it whose top left pixel is ``corner_px``."""

    def __init__(self, scene: Scene, scale: float = 1.0, corner_px: tuple[float, float] = (0.0, 0.0)) -> None:
        self.scene = scene
        self.camera = camera_of(scene)
        self.scale = scale
        self.corner_px = np.array(corner_px)

    def px(self, points_m: ArrayLike, at_height_m: float = 0.0) -> Floats:
        """Pixels of places on the plane, (..., 2) to (..., 2)."""
        points = np.asarray(points_m, dtype=float)
        level = np.full((*points.shape[:-1], 1), at_height_m)
        film = self.camera.project(np.concatenate([points, level], axis=-1))
        return np.asarray((film + 0.5) * self.scale - 0.5 - self.corner_px)

    def line(self, start_m: ArrayLike, end_m: ArrayLike) -> Floats:
        """A straight line on the plane, shape (64, 2); what is behind the camera is left out."""
        share = np.linspace(0, 1, _LINE_POINTS)[:, None]
        points = self.px(np.asarray(start_m) * (1 - share) + np.asarray(end_m) * share)
        return points[np.isfinite(points).all(axis=1)]

    def hole(self, radius_m: float = HOLE_RADIUS_M) -> Floats:
        """The hole's rim, closed, shape (n, 2)."""
        film = circle_on_plane(self.camera, self.scene.hole_m, radius_m)
        ring = (film + 0.5) * self.scale - 0.5 - self.corner_px
        return np.vstack([ring, ring[:1]])

    def fan(self, start_m: Place, heading_rad: float, half_rad: float, length_m: float) -> Floats:
        """A thin sector on the plane as an outline: between two headings, up to a distance."""
        arc = np.linspace(heading_rad - half_rad, heading_rad + half_rad, 9)
        far = np.asarray(start_m) + length_m * np.column_stack([np.cos(arc), np.sin(arc)])
        sides = [self.line(start_m, far[0]), self.px(far), self.line(far[-1], start_m)]
        outline = np.vstack(sides)
        return np.asarray(outline[np.isfinite(outline).all(axis=1)])

    def path(self, putt: PuttPath) -> tuple[Floats, Floats, Floats]:
        """The ball's way on the grass: pixels (n, 2), speeds (n,), and from which frame time on (n,).

        A frame shows the ball at row r ``readout * r / height`` after its own time.
        """
        steps = np.array(putt.path)
        points = self.px(steps[:, 1:3])
        centre = self.px(steps[:, 1:3], BALL_RADIUS_M)
        row = ((centre[:, 1] + self.corner_px[1] + 0.5) / self.scale - 0.5) / self.scene.view.height
        shows_s = steps[:, 0] - self.scene.readout_s * row
        seen = np.isfinite(points).all(axis=1)
        return points[seen], steps[seen, 3], shows_s[seen]

    def ball(self, at_m: ArrayLike) -> tuple[float, float, float]:
        """A ball at a place on the plane: centre and radius, pixels."""
        x, y = self.px(at_m, BALL_RADIUS_M)
        place = np.asarray(at_m, dtype=float)
        per_m = self.camera.px_per_m([place[0], place[1], BALL_RADIUS_M])
        return float(x), float(y), float(per_m * BALL_RADIUS_M * self.scale)
