"""The camera over the green: from points in space to pixels and back to the plane.

Frame of the green: metres, z up, z = 0 the putting plane, origin on the plane right under the
lens; y runs the way the camera looks, x to its right. Pixels: (x, y) from the centre of the top
left pixel. Distortion is OpenCV's: radial with k1 and k2 (Brown 1966), and, where a lens profile gives them,
k3, the tangential p1 and p2, and the denominator k4, k5 and k6 that strong wide lenses need.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import hypot, isfinite, nan
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.errors import GreenError

Floats = NDArray[np.float64]
Number = TypeVar("Number", float, Floats)

_NEWTON_TURNS, _NEWTON_STEP = 30, 0.3
_LEAST_SLOPE = 0.05
_LEAST_AHEAD_M = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A pinhole camera with radial distortion, standing ``height_m`` above the plane."""

    width: int
    height: int
    f_px: float
    cx_px: float
    cy_px: float
    k1: float = 0.0
    k2: float = 0.0
    height_m: float
    tilt_rad: float
    """How far the lens looks down from the level."""
    roll_rad: float
    """How far the camera is turned clockwise about its own axis."""
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0
    k4: float = 0.0
    k5: float = 0.0
    k6: float = 0.0

    @property
    def coefficients(self) -> Floats:
        """Shape (8,), in OpenCV's order: k1, k2, p1, p2, k3, k4, k5, k6."""
        return np.array([self.k1, self.k2, self.p1, self.p2, self.k3, self.k4, self.k5, self.k6])

    def rotation(self) -> Floats:
        """Shape (3, 3), from the frame of the green to the camera's (x right, y down, z forward)."""
        return _rotation(float(self.tilt_rad), float(self.roll_rad))

    @property
    def centre_m(self) -> Floats:
        """Shape (3,), the lens in the frame of the green."""
        return np.array([0.0, 0.0, self.height_m])

    def project(self, points_m: ArrayLike) -> Floats:
        """Pixels of points in space.

        ``points_m`` shape (..., 3); returns (..., 2); NaN for points behind the camera.
        """
        points = np.asarray(points_m, dtype=float)
        if points.ndim == 1:
            return np.array(self._pixel(*points.tolist()))
        return self.pixels_of((points - self.centre_m) @ self.rotation().T)

    def _pixel(self, x_m: float, y_m: float, z_m: float) -> tuple[float, float]:
        """One point's pixel: in plain numbers a tenth of the time that an array of one takes."""
        right, down, ahead = self.rotation().tolist()
        up_m = z_m - self.height_m
        z = ahead[0] * x_m + ahead[1] * y_m + ahead[2] * up_m
        if not z > _LEAST_AHEAD_M:
            return nan, nan
        a, b = self._bent(
            (right[0] * x_m + right[1] * y_m + right[2] * up_m) / z,
            (down[0] * x_m + down[1] * y_m + down[2] * up_m) / z,
        )
        return self.cx_px + self.f_px * a, self.cy_px + self.f_px * b

    def pixels_of(self, seen_m: Floats) -> Floats:
        """Pixels of points in the camera's own frame (x right, y down, z forward), (..., 3) to (..., 2)."""
        z = seen_m[..., 2]
        z = np.where(z > _LEAST_AHEAD_M, z, np.nan)
        a, b = self._bent(seen_m[..., 0] / z, seen_m[..., 1] / z)
        at_px = np.empty((*seen_m.shape[:-1], 2))
        at_px[..., 0] = self.cx_px + self.f_px * a
        at_px[..., 1] = self.cy_px + self.f_px * b
        return at_px

    def _bent(self, a: Number, b: Number) -> tuple[Number, Number]:
        """Straight image coordinates over the focal length to bent ones; NaN far beyond the lens's field."""
        r2 = a * a + b * b
        bend = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        if self.k4 or self.k5 or self.k6:
            bend = bend / (1 + r2 * (self.k4 + r2 * (self.k5 + r2 * self.k6)))
        if not (self.p1 or self.p2):
            return a * bend, b * bend
        ab = 2 * a * b
        x = a * bend + self.p1 * ab + self.p2 * (r2 + 2 * a * a)
        y = b * bend + self.p1 * (r2 + 2 * b * b) + self.p2 * ab
        return x, y

    @property
    def _strong(self) -> bool:
        return bool(self.p1 or self.p2 or self.k3 or self.k4 or self.k5 or self.k6)

    def rays(self, points_px: ArrayLike) -> Floats:
        """Directions (not of unit length) in the frame of the green, (..., 2) to (..., 3).

        The distortion is undone by Newton's method, on the radius or, where a profile gives tangential and
        higher terms, in the plane. NaN where no ray comes to such a pixel.
        """
        points = np.asarray(points_px, dtype=float)
        if points.ndim == 1 and not self._strong:
            return np.array(self._ray(*points.tolist()))
        bent = (points - (self.cx_px, self.cy_px)) / self.f_px
        if self._strong:
            flat = self._straightened(bent)
            return np.asarray(
                np.concatenate([flat, np.ones((*flat.shape[:-1], 1))], axis=-1) @ self.rotation()
            )
        radius = np.hypot(bent[..., 0], bent[..., 1])
        straight = radius.copy()
        for _ in range(self._radial_turns):
            miss, slope = self._radial_miss(straight, radius)
            straight = straight - miss / np.where(np.abs(slope) > _LEAST_SLOPE, slope, _LEAST_SLOPE)
        scale = np.where(radius > 1e-12, straight / np.where(radius > 1e-12, radius, 1.0), 1.0)
        ahead = np.ones((*bent.shape[:-1], 3))
        ahead[..., :2] = bent * scale[..., None]
        return np.asarray(ahead @ self.rotation())

    @property
    def _radial_turns(self) -> int:
        return 4 if abs(self.k1) + abs(self.k2) < 0.1 else 10

    def _radial_miss(self, straight: Number, radius: Number) -> tuple[Number, Number]:
        """How far a straight radius is from giving the bent one, and the slope of that."""
        r2 = straight * straight
        miss = straight * (1 + r2 * (self.k1 + r2 * self.k2)) - radius
        return miss, 1 + r2 * (3 * self.k1 + 5 * r2 * self.k2)

    def _ray(self, x_px: float, y_px: float) -> tuple[float, float, float]:
        """One pixel's ray in plain numbers, through a lens with radial distortion only."""
        a, b = (x_px - self.cx_px) / self.f_px, (y_px - self.cy_px) / self.f_px
        radius = straight = hypot(a, b)
        for _ in range(self._radial_turns):
            miss, slope = self._radial_miss(straight, radius)
            straight -= miss / (slope if abs(slope) > _LEAST_SLOPE else _LEAST_SLOPE)
        scale = straight / radius if radius > 1e-12 else 1.0
        a, b = a * scale, b * scale
        right, down, ahead = self.rotation().tolist()
        x, y, z = (a * r + b * d + f for r, d, f in zip(right, down, ahead, strict=True))
        return x, y, z

    def _straightened(self, bent: Floats) -> Floats:
        """Newton's method in the plane from the bent place outwards, shapes (..., 2)."""
        goal = bent.reshape(-1, 2)
        flat = goal.copy()
        step = 1e-5
        for _ in range(_NEWTON_TURNS):
            a, b = flat.T
            x, y = self._bent(a, b)
            xa, ya = self._bent(a + step, b)
            xb, yb = self._bent(a, b + step)
            j11, j12, j21, j22 = (xa - x) / step, (xb - x) / step, (ya - y) / step, (yb - y) / step
            det = j11 * j22 - j12 * j21
            det = np.where(np.abs(det) > 0.01, det, np.where(det < 0, -0.01, 0.01))
            dx, dy = goal[:, 0] - x, goal[:, 1] - y
            move = np.column_stack([(j22 * dx - j12 * dy) / det, (j11 * dy - j21 * dx) / det])
            longest = np.hypot(move[:, 0], move[:, 1])[:, None]
            flat = flat + move * np.minimum(1.0, _NEWTON_STEP / np.maximum(longest, 1e-12))
            if float(np.nanmax(longest, initial=0.0)) < 1e-11:
                break
        there = np.column_stack(self._bent(*flat.T))
        missed = np.hypot(*(there - goal).T) * self.f_px > 0.01
        return np.where(missed[:, None], np.nan, flat).reshape(bent.shape)

    def to_plane(self, points_px: ArrayLike, at_height_m: float = 0.0) -> Floats:
        """Where the rays of pixels meet the level ``z = at_height_m``: (..., 2) px to (..., 2) m.

        A ball's centre lies one radius above the plane: give ``at_height_m=BALL_RADIUS_M``.
        NaN for pixels on or above the horizon.
        """
        rays = self.rays(points_px)
        if rays.ndim == 1:
            x, y, z = rays.tolist()
            reach_m = (at_height_m - self.height_m) / z if z < -1e-9 else nan
            return np.array([x * reach_m, y * reach_m])
        down = np.where(rays[..., 2] < -1e-9, rays[..., 2], np.nan)
        reach = (at_height_m - self.height_m) / down
        return np.asarray(rays[..., :2] * reach[..., None])

    def px_per_m(self, point_m: ArrayLike) -> float:
        """Pixels per metre square to the view at a point in space, shape (3,)."""
        away = self.rotation() @ (np.asarray(point_m, dtype=float) - self.centre_m)
        return float(self.f_px / max(away[2], 1e-6))

    def plane_jacobian(self, point_m: ArrayLike, at_height_m: float = 0.0) -> Floats:
        """Metres on the level per pixel at a plane point (2,), shape (2, 2)."""
        x, y = np.asarray(point_m, dtype=float).tolist()
        step = 1e-4
        u, v = self._pixel(x, y, at_height_m)
        u_x, v_x = self._pixel(x + step, y, at_height_m)
        u_y, v_y = self._pixel(x, y + step, at_height_m)
        u_x, u_y, v_x, v_y = u_x - u, u_y - u, v_x - v, v_y - v
        det = u_x * v_y - u_y * v_x
        if not isfinite(det):
            raise GreenError(f"the place ({x:.2f}, {y:.2f}) m is not in front of the camera")
        return np.array([[v_y, -u_y], [-v_x, u_x]]) * (step / det)


@lru_cache(maxsize=64)
def _rotation(tilt_rad: float, roll_rad: float) -> Floats:
    ct, st = np.cos(tilt_rad), np.sin(tilt_rad)
    cr, sr = np.cos(roll_rad), np.sin(roll_rad)
    tilted = np.array([[1.0, 0.0, 0.0], [0.0, -st, -ct], [0.0, ct, -st]])
    rolled = np.array([[cr, sr, 0.0], [-sr, cr, 0.0], [0.0, 0.0, 1.0]])
    rotation = np.asarray(rolled @ tilted)
    rotation.flags.writeable = False
    return rotation


def circle_on_plane(
    camera: Camera, centre_m: ArrayLike, radius_m: float, at_height_m: float = 0.0, n: int = 96
) -> Floats:
    """Pixels of a level circle, shape (n, 2); ``centre_m`` shape (2,)."""
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    x, y = np.asarray(centre_m, dtype=float)
    ring = np.column_stack(
        [x + radius_m * np.cos(angle), y + radius_m * np.sin(angle), np.full(n, at_height_m)]
    )
    return camera.project(ring)
