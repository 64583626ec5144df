"""Projection of world points into the picture and back, written out from the textbook formulas.

Brown-Conrady lens (Brown 1966), coefficients in the order k1, k2, p1, p2, k3. Camera frame: x right,
y down, z forward. Nothing here is shared with the measuring code.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sample_media.film.scene import Bump, Camera, Sway

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class View:
    """One camera pose with its lens: ``x_camera = rotation @ x_world + translation``."""

    matrix: Array
    """shape (3, 3), K"""
    distortion: Array
    """shape (5,)"""
    rotation: Array
    translation: Array
    width: int
    height: int

    @property
    def centre(self) -> Array:
        """Where the camera stands, shape (3,), world metres."""
        return -self.rotation.T @ self.translation

    def project(self, world: ArrayLike) -> Array:
        """World points, shape (..., 3), to pixels, shape (..., 2); NaN behind the camera."""
        p = np.asarray(world, dtype=float) @ self.rotation.T + self.translation
        z = np.where(p[..., 2] > 1e-6, p[..., 2], np.nan)
        x, y = distort(p[..., 0] / z, p[..., 1] / z, self.distortion)
        k = self.matrix
        return np.stack([k[0, 0] * x + k[0, 2], k[1, 1] * y + k[1, 2]], axis=-1)

    def depth(self, world: ArrayLike) -> Array:
        """Distance along the optical axis, shape (...,), metres."""
        p = np.asarray(world, dtype=float)
        return p @ self.rotation[2] + self.translation[2]

    def rays(self, u: ArrayLike, v: ArrayLike) -> NDArray[np.float32]:
        """Unit directions in the world of the rays through pixels, shape (..., 3)."""
        k = self.matrix
        x, y = undistort(
            (np.asarray(u, dtype=float) - k[0, 2]) / k[0, 0],
            (np.asarray(v, dtype=float) - k[1, 2]) / k[1, 1],
            self.distortion,
        )
        d = np.stack([x, y, np.ones_like(x)], axis=-1) @ self.rotation
        return (d / np.linalg.norm(d, axis=-1, keepdims=True)).astype(np.float32)

    def px_per_m(self, world: ArrayLike) -> float:
        """Pixels per metre across the line of sight at a world point."""
        return float(self.matrix[0, 0] / self.depth(world))


def distort(x: Array, y: Array, k: Array) -> tuple[Array, Array]:
    """Ideal normalised coordinates to those of the lens."""
    k1, k2, p1, p2, k3 = k
    r2 = x * x + y * y
    radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    return (
        x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x),
        y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
    )


def undistort(x: Array, y: Array, k: Array) -> tuple[Array, Array]:
    """Inverse of :func:`distort` by fixed-point iteration, to 1e-10; slow for a strong lens only."""
    if not np.any(k):
        return x, y
    a, b = x, y
    for _ in range(80):
        da, db = distort(a, b, k)
        left_x, left_y = x - da, y - db
        a, b = a + left_x, b + left_y
        if max(np.abs(left_x).max(initial=0.0), np.abs(left_y).max(initial=0.0)) < 1e-10:
            break
    return a, b


def view_of(camera: Camera, bump: Bump | None = None) -> View:
    """The view of a camera that looks from ``place`` at ``look_at``, picture upright, then rolled."""
    place = np.asarray(camera.place, dtype=float)
    target = np.asarray(camera.look_at, dtype=float)
    roll_deg = camera.roll_deg
    if bump is not None:
        place = place + bump.shift_m
        target = target + bump.look_shift_m
        roll_deg += bump.roll_deg
    forward = target - place
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, (0.0, 0.0, 1.0))
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    rotation = np.stack([c * right + s * down, c * down - s * right, forward])
    f = camera.focal_px
    matrix = np.array([[f, 0, camera.centre_px[0]], [0, f, camera.centre_px[1]], [0, 0, 1.0]])
    return View(
        matrix,
        np.asarray(camera.distortion, dtype=float),
        rotation,
        -rotation @ place,
        camera.width,
        camera.height,
    )


def views_of(camera: Camera) -> list[tuple[float, View]]:
    """(from second, view) in order of time; more than one where the tripod was bumped."""
    return [(0.0, view_of(camera)), *((b.at_s, view_of(camera, b)) for b in camera.bumps)]


def view_at(camera: Camera, t_s: float) -> View:
    """The view at a time, with bumps and sway."""
    view = next(v for at, v in reversed(views_of(camera)) if t_s >= at - 1e-9)
    return view if camera.sway is None else swayed(view, camera.sway, t_s)


def swayed(view: View, sway: Sway, t_s: float) -> View:
    """A view turned about its lens as the wind has turned it."""
    turn = sway_turn(sway, t_s)
    return replace(view, rotation=turn @ view.rotation, translation=turn @ view.translation)


def sway_turn(sway: Sway, t_s: float) -> Array:
    """Rotation of the camera frame at a time, shape (3, 3); none at 0 s."""
    w = 2 * np.pi / sway.period_s
    wave = 0.75 * np.sin(w * t_s) + 0.25 * np.sin(2.3 * w * t_s)
    other = 0.75 * np.sin(0.83 * w * t_s) + 0.25 * np.sin(1.9 * w * t_s)
    a, b = np.radians(sway.pan_deg) * wave, np.radians(sway.tilt_deg) * other
    pan = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
    tilt = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    return np.asarray(tilt @ pan)
