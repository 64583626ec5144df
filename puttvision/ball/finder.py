"""Finding balls: bright round patches of the size that a ball has at that place on the plane."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.disc import BallFit, Shading, fit_ball
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class FinderSettings:
    """Numbers of the search."""

    brighter_by: int = 24
    """Luma above the surrounding grass that a ball has at least; an orange ball in shade has about 30."""
    farthest_m: float = 14.0
    """No ball is looked for beyond; a 40 ft putt is 12.2 m."""
    most: int = 16
    """No more candidates than this are fitted in one picture, the roundest first."""


def ball_radius_px(camera: Camera, at_px: Floats) -> float:
    """Radius in pixels of a ball at a place in the picture; NaN above the horizon."""
    at_m = camera.to_plane(at_px, BALL_RADIUS_M)
    if not np.isfinite(at_m).all():
        return float("nan")
    return BALL_RADIUS_M * camera.px_per_m([at_m[0], at_m[1], BALL_RADIUS_M])


def round_patches(
    mask: Plane, offset_px: tuple[float, float], scale: float, camera: Camera, settings: FinderSettings
) -> list[Floats]:
    """Middles of patches in a mask that may be balls, in full picture pixels.

    ``mask``: shape (h, w), non-zero where something is bright, at ``scale`` full pixels a mask pixel,
    its top left at ``offset_px``. A patch larger than a ball is searched for round bulges, so that a
    ball that touches a shoe or a putter is still found.
    """
    count, labels, stats, centroids = cv2.connectedComponentsWithStats(mask, connectivity=4)
    found: list[tuple[float, Floats]] = []
    depth: NDArray[np.float32] | None = None
    for i in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[i])
        if area < 3:
            continue
        middle = np.array(offset_px) + (centroids[i] + 0.5) * scale - 0.5
        radius = ball_radius_px(camera, middle) / scale
        if not np.isfinite(radius) or radius < 1:
            continue
        disc = np.pi * radius * radius
        if 0.35 * disc < area < 1.9 * disc and max(w, h) < 3.2 * radius + 2:
            found.append((abs(np.log(area / disc)), middle))
        elif area >= 1.9 * disc and area < 400 * disc:
            if depth is None:
                depth = cv2.distanceTransform(mask, cv2.DIST_L2, 3)
            part = np.where(labels[y : y + h, x : x + w] == i, depth[y : y + h, x : x + w], 0)
            peak = (part >= cv2.dilate(part, np.ones((5, 5)))) & (part > 0.6 * radius) & (part < 1.5 * radius)
            rows, columns = np.nonzero(peak)
            for row, column in list(zip(rows, columns, strict=True))[:6]:
                at = np.array(offset_px) + (np.array([x + column, y + row]) + 0.5) * scale - 0.5
                found.append((1.0 + abs(float(part[row, column]) / radius - 1), at))
    found.sort(key=lambda item: item[0])
    return [at for _, at in found[: settings.most]]


def bright_mask(luma: Plane, scale: int, settings: FinderSettings) -> Plane:
    """Where a picture is brighter than its surroundings, at a whole fraction of its size."""
    height, width = luma.shape
    small = cv2.resize(luma, (width // scale, height // scale), interpolation=cv2.INTER_AREA)
    around = cv2.blur(small, (41, 41))
    return np.asarray(
        cv2.threshold(cv2.subtract(small, around), settings.brighter_by, 1, cv2.THRESH_BINARY)[1]
    )


def find_balls(
    luma: Plane,
    camera: Camera,
    table: NDArray[np.float32],
    *,
    shading: Shading | None = None,
    known_m: list[tuple[float, float]] | None = None,
    settings: FinderSettings | None = None,
    scale: int = 2,
) -> list[BallFit]:
    """All balls at rest in one picture, save those at places known already.

    ``luma`` shape (h, w); ``known_m``: places on the plane that need no second look.
    """
    settings = settings or FinderSettings()
    mask = bright_mask(luma, scale, settings)
    found: list[BallFit] = []
    for at_px in round_patches(mask, (0.0, 0.0), scale, camera, settings):
        at_m = camera.to_plane(at_px, BALL_RADIUS_M)
        if np.hypot(*at_m) > settings.farthest_m:
            continue
        if any(np.hypot(at_m[0] - x, at_m[1] - y) < BALL_RADIUS_M for x, y in known_m or ()):
            continue
        fit = fit_ball(luma, camera, at_m, table, shading=shading, reach_px=4.5)
        if fit and all(
            np.hypot(fit.at_m[0] - o.at_m[0], fit.at_m[1] - o.at_m[1]) > BALL_RADIUS_M for o in found
        ):
            found.append(fit)
    return found
