"""What is drawn on the green, as lines in the picture: from scene.json through the lens to pixels.

All points come as pixels (x, y) of the upright picture from the centre of the top left pixel. On the plane
"right" of a heading h (from the x axis towards the y axis) is (sin h, -cos h).
"""

from __future__ import annotations

from dataclasses import asdict
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.green.camera import Camera
from puttvision.green.motion import BallPlane, Motion, ball_plane
from puttvision.physics import BALL_RADIUS_M, HOLE_RADIUS_M
from puttvision.scene import Moved, Place, PuttPath, Scene, Seen

Floats = NDArray[np.float64]

_RING_POINTS = 96
_LINE_POINTS = 64
"""A lens bends straight lines: each is drawn through so many points."""


def camera_of(scene: Scene) -> Camera:
    """The camera that filmed the scene."""
    return Camera(**asdict(scene.view))


def motion_of(moved: Moved) -> Motion:
    """The same as the vision code has it."""
    return Motion(np.array(moved[1:4]), np.array(moved[4:7]))


@lru_cache(maxsize=8)
def _ball_plane(camera: Camera) -> BallPlane:
    return ball_plane(camera)


@lru_cache(maxsize=1024)
def homography(camera: Camera, moved: Moved | None) -> Floats:
    """Pixels of balls on the green, from the scene's view to the camera that has moved, shape (3, 3)."""
    if moved is None:
        return np.eye(3)
    found = _ball_plane(camera).homography(motion_of(moved))
    found.flags.writeable = False
    return found


def displaced_px(camera: Camera, from_h: Floats, to_h: Floats) -> float:
    """By how much two such homographies differ, at most, where balls can lie."""
    grid = np.column_stack([_ball_plane(camera).at_px, np.ones(len(_ball_plane(camera).at_px))])
    one, other = (grid @ h.T for h in (from_h, to_h))
    away = one[:, :2] / one[:, 2:] - other[:, :2] / other[:, 2:]
    return float(np.hypot(away[:, 0], away[:, 1]).max())


def right_of(heading_rad: float) -> Floats:
    """Unit vector to the right of a heading, shape (2,)."""
    return np.array([np.sin(heading_rad), -np.cos(heading_rad)])


def way_of(heading_rad: float) -> Floats:
    """Unit vector along a heading, shape (2,)."""
    return np.array([np.cos(heading_rad), np.sin(heading_rad)])


class Ground:
    """Draws in metres on the plane, gives pixels of a picture that is ``scale`` times the filmed one, or of a
    window of it whose top left pixel is ``corner_px``."""

    def __init__(
        self,
        scene: Scene,
        scale: float = 1.0,
        corner_px: tuple[float, float] = (0.0, 0.0),
        moved: Moved | None = None,
    ) -> None:
        self.scene = scene
        self.moved = moved
        """Where the camera was; None: as in the scene's view."""
        self.camera = camera_of(scene)
        self.scale = scale
        self.corner_px = np.array(corner_px)

    def px(self, points_m: ArrayLike, at_height_m: float = 0.0) -> Floats:
        """Pixels of places on the plane, (..., 2) to (..., 2)."""
        points = np.asarray(points_m, dtype=float)
        level = np.full((*points.shape[:-1], 1), at_height_m)
        film = self._project(np.concatenate([points, level], axis=-1))
        return np.asarray((film + 0.5) * self.scale - 0.5 - self.corner_px)

    def _project(self, points_m: Floats) -> Floats:
        """Pixels of the film of points in space, (..., 3) to (..., 2)."""
        if self.moved is None:
            return self.camera.project(points_m)
        seen = (points_m - self.camera.centre_m) @ self.camera.rotation().T
        motion = motion_of(self.moved)
        return self.camera.pixels_of(seen @ cv2.Rodrigues(motion.turn_rad)[0].T + motion.shift_m)

    def seen(self, row: Seen) -> tuple[float, float, float]:
        """A ball as it was seen: centre and radius, pixels."""
        x, y = row.x_px, row.y_px
        if self.moved is not None:
            x, y, w = homography(self.camera, self.moved) @ (x, y, 1.0)
            x, y = x / w, y / w
        at = (np.array([x, y]) + 0.5) * self.scale - 0.5 - self.corner_px
        return float(at[0]), float(at[1]), row.radius_px * self.scale

    def line(self, start_m: ArrayLike, end_m: ArrayLike) -> Floats:
        """A straight line on the plane, shape (64, 2); what is behind the camera is left out."""
        share = np.linspace(0, 1, _LINE_POINTS)[:, None]
        points = self.px(np.asarray(start_m) * (1 - share) + np.asarray(end_m) * share)
        return points[np.isfinite(points).all(axis=1)]

    def hole(self, radius_m: float = HOLE_RADIUS_M) -> Floats:
        """The hole's rim, closed, shape (n, 2)."""
        angle = np.linspace(0, 2 * np.pi, _RING_POINTS, endpoint=False)
        rim = np.asarray(self.scene.hole_m) + radius_m * np.column_stack([np.cos(angle), np.sin(angle)])
        ring = self.px(rim)
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
