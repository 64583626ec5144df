"""The outline of a ball resting on the plane, and rays from its middle across the rim to sample along."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor
from typing import Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

RAYS = 40
_ANGLE = np.linspace(0, 2 * np.pi, RAYS, endpoint=False)
_CIRCLE = np.column_stack([np.cos(_ANGLE), np.sin(_ANGLE)])
_NEXT, _BEFORE = np.roll(np.arange(RAYS), -1), np.roll(np.arange(RAYS), 1)
_FIRST_SHARE = 0.15
_STEP_PX = 0.5


class Picture(Protocol):
    """What can be cut from like an array of luma, shape (h, w)."""

    @property
    def shape(self) -> tuple[int, ...]:
        """(h, w)."""

    def __getitem__(self, box: tuple[slice, slice], /) -> NDArray[np.uint8]: ...


@dataclass(frozen=True, slots=True)
class Outline:
    """The outline of a ball at one place: rays from its middle to the rim."""

    centre_px: Floats
    """Shape (2,), projection of the ball's centre."""
    middle_px: Floats
    """Shape (2,), middle of the outline."""
    rays_px: Floats
    """Shape (RAYS, 2), from the middle of the outline to the rim."""
    radius_px: float
    """Mean length of the rays."""
    normal: Floats
    """Shape (RAYS, 2), unit vectors outwards, square to the rim."""
    obliqueness: Floats
    """Shape (RAYS,), cosine between ray and normal."""
    axes: Floats
    """Shape (3, 3): towards the camera, sideways, up, in the frame of the green."""


def outline_of(camera: Camera, place_m: Floats) -> Outline | None:
    """Outline of a ball that rests over a place on the plane, shape (2,); None where it is out of view.

    The rim is the circle where the cone from the lens touches the sphere: at distance d, radius
    r sqrt(1 - (r/d)^2), nearer by r^2/d than the centre.
    """
    centre = np.array([place_m[0], place_m[1], BALL_RADIUS_M])
    to_ball = centre - camera.centre_m
    distance = float(np.sqrt(to_ball @ to_ball))
    x, y, z = (to_ball / distance).tolist()
    level = max(float(np.hypot(x, y)), 1e-12)
    axes = np.array([[-x, -y, -z], [y / level, -x / level, 0.0], [-x * z / level, -y * z / level, level]])
    sine = BALL_RADIUS_M / distance
    points = np.empty((RAYS + 1, 3))
    points[0] = centre
    points[1:] = centre + axes[0] * (BALL_RADIUS_M * sine)
    points[1:] += (BALL_RADIUS_M * np.sqrt(1 - sine * sine)) * (_CIRCLE @ axes[1:])
    px = camera.project(points)
    middle = px[1:].sum(axis=0) / RAYS
    if not np.isfinite(middle).all():
        return None
    rays = px[1:] - middle
    tangent = rays[_NEXT] - rays[_BEFORE]
    normal = np.empty_like(tangent)
    normal[:, 0], normal[:, 1] = tangent[:, 1], -tangent[:, 0]
    normal /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None] + 1e-12
    length = np.hypot(rays[:, 0], rays[:, 1])
    oblique = (normal[:, 0] * rays[:, 0] + normal[:, 1] * rays[:, 1]) / length
    if oblique[0] < 0:
        normal, oblique = -normal, -oblique
    return Outline(
        centre_px=px[0],
        middle_px=middle,
        rays_px=rays,
        radius_px=float(length.sum()) / RAYS,
        normal=normal,
        obliqueness=oblique,
        axes=axes,
    )


@dataclass(frozen=True, slots=True)
class Fan:
    """Points along the rays of an outline, at the same shares of each ray's length."""

    share: Floats
    """Shape (m,); 1 is the rim."""
    outwards_px: Floats
    """Shape (m,), pixels outwards of the rim, near enough on every ray."""
    step_px: float
    x: NDArray[np.float32]
    """Shape (RAYS, m), pixels from the middle; and ``y``."""
    y: NDArray[np.float32]
    bounds: tuple[float, float, float, float]
    """The least x and y, and the most."""
    axes: Floats

    def surface(self) -> Floats:
        """Outward unit normals of the ball at the points, (RAYS, m, 3); beyond the rim, the rim's."""
        rho = np.minimum(self.share, 1.0)
        across = _CIRCLE @ self.axes[1:]
        towards = np.sqrt(1 - rho * rho)[:, None] * self.axes[0]
        return np.asarray(towards + rho[:, None] * across[:, None, :])

    def light(
        self, picture: Picture, middle_px: Floats, size: float, table: NDArray[np.float32]
    ) -> Floats | None:
        """Light at the points about a middle, shape (RAYS, m); None where they leave the picture.

        ``size`` stretches the fan; ``table`` turns luma into light.
        """
        middle_x, middle_y = middle_px.tolist()
        left, top, right, bottom = self.bounds
        x0, y0 = floor(middle_x + left * size) - 1, floor(middle_y + top * size) - 1
        x1, y1 = int(middle_x + right * size) + 3, int(middle_y + bottom * size) + 3
        height, width = picture.shape
        if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
            return None
        at_x = self.x * np.float32(size) + np.float32(middle_x - x0)
        at_y = self.y * np.float32(size) + np.float32(middle_y - y0)
        along = cv2.remap(cv2.LUT(picture[y0:y1, x0:x1], table), at_x, at_y, cv2.INTER_LINEAR)
        return np.asarray(along, dtype=np.float64)


def fan_over(outline: Outline, reach_px: float) -> Fan:
    """Points each half pixel along an outline's rays, from near the middle to ``reach_px`` past the rim."""
    radius = outline.radius_px
    share = np.arange(_FIRST_SHARE, 1 + reach_px / radius, _STEP_PX / radius)
    ends = outline.rays_px * share[-1]
    return Fan(
        share=share,
        outwards_px=(share - 1) * radius,
        step_px=_STEP_PX,
        x=np.multiply.outer(outline.rays_px[:, 0], share).astype(np.float32),
        y=np.multiply.outer(outline.rays_px[:, 1], share).astype(np.float32),
        bounds=(*ends.min(axis=0).tolist(), *ends.max(axis=0).tolist()),
        axes=outline.axes,
    )
