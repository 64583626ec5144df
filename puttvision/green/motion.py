"""How a camera has moved since a reference picture, from what stands still in both.

The camera's frame: x right, y down, z forward. A point at X in the reference camera's frame lies at
``R(turn) X + shift_m`` in that of the camera that has moved (Rodrigues's formula for R). Points on the
green are at known places, so turn and shift follow by least squares (Gauss and Newton).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

_TURNS = 12
_STEP = 1e-5
_U_PX = 0.05
"""An anchor's shift is known to so much; grass and compression are not the same in any two frames."""
_OUTLIER_PX = 0.15
"""A shift that is off by so much counts half (weights of Cauchy's kind)."""
_FARTHEST_M = 6.0
"""Beyond stand hedges and people: a camera that shifts moves their pictures otherwise than the green's."""
_GRID = (9, 7)
_MASK_STEP_PX = 16


@dataclass(frozen=True, slots=True)
class Motion:
    """From the reference camera to the camera as it stands now."""

    turn_rad: Floats
    """Shape (3,), rotation vector."""
    shift_m: Floats
    """Shape (3,)."""


STILL = Motion(np.zeros(3), np.zeros(3))


@dataclass(frozen=True, slots=True)
class View:
    """A reference camera and points of the green that it sees, in its own frame."""

    camera: Camera
    points_m: Floats
    """Shape (n, 3)."""

    def part(self, kept: NDArray[np.bool_]) -> View:
        """The same camera with some of the points."""
        return View(self.camera, self.points_m[kept])

    def pixels(self, motion: Motion) -> Floats:
        """Where the points lie in the picture of the camera that has moved, shape (n, 2)."""
        rotation = cv2.Rodrigues(motion.turn_rad)[0]
        return self.camera.pixels_of(self.points_m @ rotation.T + motion.shift_m)


def view_of(camera: Camera, at_px: Floats, height_m: float = 0.0) -> tuple[View, NDArray[np.bool_]]:
    """The points of a level at pixels (n, 2), and which of these are on it and not too far off."""
    on_plane = camera.to_plane(at_px, height_m)
    far_m = np.hypot(on_plane[:, 0], on_plane[:, 1])
    near = np.asarray(np.nan_to_num(far_m, nan=np.inf) < _FARTHEST_M)
    points = np.column_stack([on_plane[near], np.full(np.count_nonzero(near), height_m)])
    return View(camera, (points - camera.centre_m) @ camera.rotation().T), near


def solve_motion(
    view: View, seen_px: Floats, guess: Motion, *, u_turn_rad: float, u_shift_m: float
) -> tuple[Motion, float]:
    """The motion that brings the points to where they are seen, and the robust misfit in pixels.

    Parameters
    ----------
    seen_px : shape (n, 2)
    guess : what is known before, to within ``u_turn_rad`` and ``u_shift_m``
    """
    at = np.concatenate([guess.turn_rad, guess.shift_m])
    before = at.copy()
    pull = np.diag(1 / np.repeat([u_turn_rad, u_shift_m], 3) ** 2)
    for _ in range(_TURNS):
        miss = seen_px - view.pixels(Motion(at[:3], at[3:]))
        slopes = np.stack(
            [(view.pixels(_stepped(at, k)) - view.pixels(Motion(at[:3], at[3:]))) / _STEP for k in range(6)],
            axis=-1,
        )
        off = np.hypot(miss[:, 0], miss[:, 1])
        # what is an outlier is told by the others' misfit, which is large before the first turns
        weight = 1 / (1 + (off / max(_OUTLIER_PX, 1.5 * float(np.median(off)))) ** 2) / _U_PX**2
        design = slopes.reshape(-1, 6)
        weighted = design * np.repeat(weight, 2)[:, None]
        step = np.linalg.solve(weighted.T @ design + pull, weighted.T @ miss.ravel() + pull @ (before - at))
        at = at + step
        if np.abs(step).max() < 1e-7:
            break
    miss = seen_px - view.pixels(Motion(at[:3], at[3:]))
    return Motion(at[:3], at[3:]), float(np.median(np.hypot(miss[:, 0], miss[:, 1])))


def _stepped(at: Floats, k: int) -> Motion:
    moved = at.copy()
    moved[k] += _STEP
    return Motion(moved[:3], moved[3:])


@dataclass(frozen=True, slots=True)
class BallPlane:
    """What a motion does to the picture of balls on the green: seen from a grid of their centres' places."""

    view: View
    at_px: Floats
    """Shape (n, 2), the grid in the reference picture."""

    def displaced_px(self, motion: Motion) -> float:
        """How far the farthest point of the grid has moved."""
        away = self.view.pixels(motion) - self.at_px
        return float(np.sqrt((away * away).sum(axis=1).max()))

    def homography(self, motion: Motion) -> Floats:
        """From the reference picture to that of the camera that has moved, shape (3, 3)."""
        return np.asarray(cv2.findHomography(self.at_px, self.view.pixels(motion), 0)[0], dtype=float)


def ball_plane(camera: Camera) -> BallPlane:
    """A grid over the part of the picture where balls can lie."""
    across = np.linspace(0, camera.width - 1, _GRID[0])
    down = np.linspace(0, camera.height - 1, _GRID[1])
    at_px = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2)
    view, near = view_of(camera, at_px, BALL_RADIUS_M)
    return BallPlane(view, at_px[near])


def near_green(camera: Camera) -> NDArray[np.uint8]:
    """Where a picture shows the green near by, 255 or 0, shape (h, w)."""
    across, down = np.arange(0, camera.width, _MASK_STEP_PX), np.arange(0, camera.height, _MASK_STEP_PX)
    at_px = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 2).astype(float) + _MASK_STEP_PX / 2
    coarse = view_of(camera, at_px)[1].reshape(len(down), len(across)).astype(np.uint8) * 255
    size = (len(across) * _MASK_STEP_PX, len(down) * _MASK_STEP_PX)
    full = cv2.resize(coarse, size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(full[: camera.height, : camera.width], dtype=np.uint8)
