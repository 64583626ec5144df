"""How a hole looks in a picture, and its place where it looks most as it is seen.

The rim is a circle on the plane; inside, each ray meets the wall of a cylinder: dark soil above, the lining
below, in the sun where the sun shines over the rim. What is dark or bright along the rim says little of where
the rim is unless the sun is known: a shadow's edge on the lining passes for the rim, and bruised grass about
the cut seems to widen it. Here the place, the depth of the lining and the blur are sought for which a picture
made of those parts comes nearest to the one seen, each part's light being solved for (variable projection).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from puttvision.green.camera import Camera, circle_on_plane
from puttvision.physics import HOLE_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]
Sun = tuple[float, float, float]
"""Unit vector towards it, in the frame of the green."""

_FINE, _MOST_ACROSS = 3, 150
"""A pixel is rendered in so many pieces across, of a large hole in fewer, and so many in all at most."""
_ROUND_M = 0.018
"""Grass round the rim that is compared."""
_FRINGE_M = 0.004
"""Bruised grass and soil darken the edge of the cut over about so much (common practice, no source)."""
_LINING_M, _U_LINING_M = 0.028, 0.006
"""Depth of the lining's upper edge: at least one inch, 25.4 mm, below the surface (Rules of Golf, definition
of the hole)."""
_BLUR_PX, _U_BLUR_PX = 0.55, 0.1
_U_SUN_RAD, _LOWEST_RAD = 0.04, np.radians(5.0)
_STEPS = np.array([0.1, 0.1, 0.0005, 0.03, 0.01, 0.01])
"""Of the place in pixels, the lining's depth in metres, the blur in pixels and the sun's azimuth and
elevation in radians, for slopes."""
_LOW = np.array([-3.0, -3.0, 0.012, 0.3, -0.2, -0.2])
_HIGH = np.array([3.0, 3.0, 0.06, 1.4, 0.2, 0.2])
_MOST_TURNS, _SETTLED = 20, 1e-3
_MISFIT = 0.04
"""Light, as a share of white, that a pixel may differ by; what differs by more counts less
(a soft L1 loss)."""
_ALIKE, _FLOOR_PX = 2.5, 0.1
"""Neighbouring pixels' misfits, of texture and compression, are alike: so many tell what one would; and what
the centre can claim at best (errors of 73 filmed holes are 0.9 of the deviations told so)."""
_LEAST_EXPLAINED = 0.75
_MOST_MOVE_PX = 2.9
_LIGHT_TURNS = 4
_GRASS, _FRINGE, _SOIL, _SOIL_SUN, _LINING, _LINING_SKY, _LINING_SUN = range(7)
_U_GRASS, _USUAL_FRINGE, _U_FRINGE = 0.3, -0.2, 0.25
"""Shares of the grass's light: how far it may be from that farther round, and what the fringe adds to it."""
_USUAL = np.array([0.04, 0.04, 0.08, 0.3, 0.65])
_U_USUAL = np.array([0.03, 0.04, 0.08, 0.3, 0.2])
"""Light of the parts inside, as a share of white paper's, those in the sun for one straight above: soil
throws back a twentieth, white plastic some eight tenths of it, and three quarters of the light come from the
sun (from memory)."""


@dataclass(frozen=True, slots=True)
class Rendered:
    """A hole placed where it renders as it looks."""

    at_px: tuple[float, float]
    """Projection of the centre of the rim."""
    cov_px2: Floats
    """Shape (2, 2)."""
    explained: float
    """Of what sets the pixels off from grass, in squares, the share that the rendered hole explains."""
    lining_m: float
    """Depth of the lining's upper edge."""
    blur_px: float


def place_by_rendering(
    picture: Plane,
    camera: Camera,
    at_px: tuple[float, float],
    table: NDArray[np.float32],
    top: float,
    sun: Sun | None,
    blur_px: float | None = None,
) -> Rendered | None:
    """Bring a hole from where its rim was found to where it renders as it looks.

    Parameters
    ----------
    picture : shape (h, w), luma
    table : ``puttvision.green.edges.linear_light``
    top : light from which on a pixel may have been brighter than it looks
    sun : where it stands, to a few degrees; None where none shines
    blur_px : deviation of the picture's blur, where it is known

    Returns None where the hole is not whole in the picture, or does not look like one there.
    """
    about = _window(picture, camera, at_px, table, top, sun)
    if about is None:
        return None
    task = _Task(about, _BLUR_PX if blur_px is None else blur_px)
    found = least_squares(
        task.misfits, task.usual, task.jacobian, bounds=task.bounds, x_scale=task.scale, loss="soft_l1",
        xtol=_SETTLED, ftol=_SETTLED, max_nfev=_MOST_TURNS,
    )  # fmt: skip
    looks = about.parts(found.x)
    lights, weight = about.lights(looks)
    rest = about.rest(looks, lights)
    stands_out = (about.seen - lights[_GRASS]) / _MISFIT
    explained = 1 - float(weight @ rest**2) / max(float(weight @ stands_out**2), 1.0)
    if explained < _LEAST_EXPLAINED or np.abs(found.x[:2]).max() > _MOST_MOVE_PX:
        return None
    cov = np.linalg.inv(found.jac.T @ found.jac)[:2, :2] * _ALIKE + _FLOOR_PX**2 * np.eye(2)
    return Rendered(
        at_px=(at_px[0] + float(found.x[0]), at_px[1] + float(found.x[1])),
        cov_px2=cov,
        explained=explained,
        lining_m=float(found.x[2]),
        blur_px=float(found.x[3]),
    )


class _Task:
    """The least-squares problem: misfits of all pixels, then of what is known beforehand."""

    def __init__(self, about: _Window, blur_px: float) -> None:
        self._about = about
        n = len(_STEPS) if about.sun is not None else len(_STEPS) - 2
        self.usual = np.array([0.0, 0.0, _LINING_M, blur_px, 0.0, 0.0])[:n]
        self._u = np.array([np.inf, np.inf, _U_LINING_M, _U_BLUR_PX, _U_SUN_RAD, _U_SUN_RAD])[:n]
        self._steps = _STEPS[:n]
        self.scale = np.array([1.0, 1.0, *self._u[2:]])
        self.bounds = (_LOW[:n], _HIGH[:n])

    def misfits(self, now: Floats) -> Floats:
        """In deviations, with the lights that leave least."""
        about = self._about
        looks = about.parts(now)
        lights, _ = about.lights(looks)
        rest = about.rest(looks, lights)
        pulled = (lights - about.usual) / about.u_usual
        return np.concatenate([rest, pulled, (now - self.usual)[2:] / self._u[2:]])

    def jacobian(self, now: Floats) -> Floats:
        """Differences of ``misfits``, the lights following."""
        here = self.misfits(now)
        there = [self.misfits(now + step) for step in np.diag(self._steps)]
        return np.asarray((np.array(there) - here).T / self._steps)


@dataclass(frozen=True, slots=True)
class _Window:
    """The picture about one hole."""

    camera: Camera
    at_px: Floats
    sun: Sun | None
    seen: Floats
    """Light of its pixels, cut off at the top, shape (h * w,)."""
    shape: tuple[int, int]
    top: float
    rays: Floats
    """Of the pieces, shape (h * fine, w * fine, 3)."""
    fine: int
    usual: Floats
    """The parts' usual lights, shape (7,), and ``u_usual`` how far they may be off."""
    u_usual: Floats

    def parts(self, now: Floats) -> Floats:
        """Each part at unit light, shape (h * w, 7), of a hole moved by ``now[:2]`` pixels."""
        x, y = self.camera.to_plane(self.at_px + now[:2]).tolist()
        reach = -self.camera.height_m / np.minimum(self.rays[..., 2], -1e-6)
        px, py = self.rays[..., 0] * reach - x, self.rays[..., 1] * reach - y
        beyond = np.hypot(px, py) - HOLE_RADIUS_M
        inside = _below(beyond)
        out = np.zeros((*beyond.shape, 7), dtype=np.float32)
        out[..., _GRASS] = 1 - inside
        out[..., _FRINGE] = (1 - inside) * np.exp(-np.maximum(beyond, 0) / _FRINGE_M)
        sun = None if self.sun is None else _turned(self.sun, now[4:])
        _wall(out, inside, px, py, self.rays, float(now[2]), sun)
        blurred = cv2.GaussianBlur(out, (0, 0), float(now[3]) * self.fine)
        small = cv2.resize(blurred, (self.shape[1], self.shape[0]), interpolation=cv2.INTER_AREA)
        return np.asarray(small, dtype=float).reshape(-1, 7)

    def lights(self, looks: Floats) -> tuple[Floats, Floats]:
        """The parts' lights that render most alike, shape (7,), and the pixels' weights, shape (h * w,)."""
        lights: Floats = self.usual
        weight: Floats = np.ones(len(looks))
        for turn in range(_LIGHT_TURNS):
            if turn:
                weight = (1 + self.rest(looks, lights) ** 2) ** -0.5
            # cut off both as seen and as rendered, a pixel tells nothing
            open_ = (self.seen < self.top) | (looks @ lights < self.top)
            told = looks * open_[:, None]
            weighted = told.T * (weight / _MISFIT**2)
            matrix = weighted @ told + np.diag(self.u_usual**-2)
            right = weighted @ self.seen + self.usual / self.u_usual**2
            lights = np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
        return lights, weight

    def rest(self, looks: Floats, lights: Floats) -> Floats:
        """What the rendered hole lacks, in deviations, shape (h * w,)."""
        return np.asarray((self.seen - np.minimum(looks @ lights, self.top)) / _MISFIT)


def _window(
    picture: Plane,
    camera: Camera,
    at_px: tuple[float, float],
    table: NDArray[np.float32],
    top: float,
    sun: Sun | None,
) -> _Window | None:
    """None where it is not whole in the picture."""
    ring = circle_on_plane(camera, camera.to_plane(at_px), HOLE_RADIUS_M + _ROUND_M)
    if not np.isfinite(ring).all():
        return None
    x0, y0 = (int(v) - 2 for v in np.floor(ring.min(axis=0)))
    x1, y1 = (ceil(v) + 3 for v in ring.max(axis=0))
    height, width = picture.shape
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        return None
    light = np.minimum(cv2.LUT(np.ascontiguousarray(picture[y0:y1, x0:x1]), table), top).astype(np.float64)
    grass = max(float(np.median(np.concatenate([light[:2].ravel(), light[-2:].ravel()]))), 1e-3)
    # what lights level ground so strongly lights a wall the more the lower the sun
    wall = np.ones(5)
    if sun is not None:
        wall[[_SOIL_SUN - _SOIL, _LINING_SUN - _SOIL]] = 1 / max(sun[2], np.sin(_LOWEST_RAD))
    fine = max(1, min(_FINE, _MOST_ACROSS // (x1 - x0)))
    columns, rows = np.meshgrid(
        x0 + (np.arange((x1 - x0) * fine) + 0.5) / fine - 0.5,
        y0 + (np.arange((y1 - y0) * fine) + 0.5) / fine - 0.5,
    )
    return _Window(
        camera=camera,
        at_px=np.array(at_px),
        sun=sun,
        seen=light.ravel(),
        shape=(y1 - y0, x1 - x0),
        top=top,
        rays=camera.rays(np.stack([columns, rows], axis=-1)),
        fine=fine,
        usual=np.concatenate([grass * np.array([1.0, _USUAL_FRINGE]), _USUAL * wall]),
        u_usual=np.concatenate([grass * np.array([_U_GRASS, _U_FRINGE]), _U_USUAL * wall]),
    )


def _below(field: Floats) -> Floats:
    """Share of each piece in which a smooth field, shape (h, w), is below zero."""
    down, across = np.gradient(field)
    return np.asarray(np.clip(0.5 - field / np.maximum(np.hypot(across, down), 1e-9), 0, 1))


def sky_seen(depth_m: Floats) -> Floats:
    """Share of what lights a wall's element that comes through the opening, from an even sky, at a depth.

    The configuration factor from an element of a cylinder's wall to its open end (Howell, A Catalog of
    Radiation Heat Transfer Configuration Factors; from memory).
    """
    deep = depth_m / (2 * HOLE_RADIUS_M)
    return np.asarray((deep**2 + 0.5) / np.sqrt(deep**2 + 1) - deep)


def _turned(sun: Sun, by_rad: Floats) -> Sun:
    """A sun so much farther round and higher."""
    azimuth = np.arctan2(sun[1], sun[0]) + by_rad[0]
    elevation = np.clip(np.arcsin(sun[2]) + by_rad[1], _LOWEST_RAD, np.pi / 2)
    level = np.cos(elevation)
    return float(level * np.cos(azimuth)), float(level * np.sin(azimuth)), float(np.sin(elevation))


def _wall(
    out: NDArray[np.float32],
    inside: Floats,
    px: Floats,
    py: Floats,
    rays: Floats,
    lining_m: float,
    sun: Sun | None,
) -> None:
    """Fill in the parts of the wall that rays through the opening meet.

    ``px``, ``py``: shape (h, w), where they pass the opening's level, from its middle.
    """
    dx, dy = rays[..., 0], rays[..., 1]
    square = np.maximum(dx**2 + dy**2, 1e-12)
    along = px * dx + py * dy
    root = np.sqrt(np.maximum(along**2 + square * (HOLE_RADIUS_M**2 - px**2 - py**2), 0))
    reach = (root - along) / square
    z = reach * rays[..., 2]
    wall_x, wall_y = px + reach * dx, py + reach * dy
    lining = inside * _below(z + lining_m)
    soil = inside - lining
    out[..., _SOIL], out[..., _LINING] = soil, lining
    out[..., _LINING_SKY] = lining * sky_seen(np.maximum(-z, 0))
    if sun is None:
        return
    over = np.hypot(wall_x - z / sun[2] * sun[0], wall_y - z / sun[2] * sun[1])
    facing = np.maximum(-(wall_x * sun[0] + wall_y * sun[1]) / HOLE_RADIUS_M, 0)
    shines = facing * _below(over - HOLE_RADIUS_M)
    out[..., _SOIL_SUN], out[..., _LINING_SUN] = soil * shines, lining * shines
