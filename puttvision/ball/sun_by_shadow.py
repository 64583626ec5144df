"""Where the sun stands, by the shadows that balls at rest cast on the grass.

A burnt-out ball tells little of the light on it, but its shadow tells all: it is the part of the plane
from which the ball hides the sun, an ellipse that begins under the ball and is longer the lower the sun.
How dark it is tells how much of the light comes from the sun and how much from the sky.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtr

from puttvision.ball.shading import towards
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Place = tuple[float, float]

_REACH_M = 9.0 * BALL_RADIUS_M
"""A sun a seventh of a right angle high casts the ball's shadow so far."""
_CLEAR_PX = 2.0
"""So near to the ball's outline its own blur shows."""
_PIXELS, _FEW_PIXELS = 1500, 300
"""So many pixels about each ball are fitted, and so few suffice to choose where to begin."""
_AZIMUTHS_RAD = np.arange(0.0, 2 * np.pi, np.pi / 18)
_ELEVATIONS_RAD = np.radians([14.0, 19.0, 26.0, 35.0, 46.0, 60.0])
_BOUNDS_RAD = ((-0.5, np.radians(8.0)), (2 * np.pi + 0.5, np.radians(80.0)))
_BLUR_PX = 0.9
_LIGHTS = (0.2, 1.5)
"""Over the usual: what is darker or brighter than grass in or out of the sun counts as that."""
_ALIKE = 2.0
"""Neighbouring pixels of grass are alike: a misfit counts for so much less."""
_LEAST_SHARE = 0.4
"""Of all the light; under an overcast sky the grass's own spots pass for a sun of up to 0.3 (measured on
filmed scenes)."""
_LEAST_GAIN = 25.0
"""So much the shadows must explain, in squares of the noise."""
_MOST_TOLD = 30.0
"""What one ball may add to a sun's likelihood when the best is chosen to begin from."""
_U_SHARE = 0.2
"""Between balls, in the share of the light that their shadows lack."""
_MOST_U_RAD = np.radians(4.5)
_CLEAR_SKY_SHARE = 0.75
"""On a clear day a quarter of the light on level ground comes from the sky (from memory). Phones sharpen: a
shadow that looks darker than that is not."""
_TURNS = 12


@dataclass(frozen=True, slots=True)
class SunByShadow:
    """The sun over a clip."""

    sun: tuple[float, float, float]
    """Unit vector towards it, in the frame of the green."""
    share: float
    """Of the light on the level green, what comes from the sun itself."""
    u_rad: float
    """Standard deviation of its direction."""


@dataclass(frozen=True, slots=True)
class _Patch:
    """The grass about one ball."""

    away: Floats
    """Shape (n, 3), from the ball's centre to the grass."""
    light: Floats
    """Shape (n,), of the grass, over what is usual there."""
    hidden: Floats
    """Shape (n,), share of an even sky that the ball hides."""
    blur_m: float
    """The picture's blur on the plane."""
    noise: float

    def few(self) -> _Patch:
        """Every so many pixels."""
        some = slice(None, None, max(1, len(self.light) // _FEW_PIXELS))
        return _Patch(self.away[some], self.light[some], self.hidden[some], self.blur_m, self.noise)

    def shadows(self, suns: Floats) -> Floats:
        """Share of each sun, shape (k, 3), that the ball hides, shape (k, n)."""
        along = suns @ self.away.T
        beside = np.sqrt(np.maximum((self.away**2).sum(axis=1) - along**2, 0.0))
        return np.asarray(ndtr((BALL_RADIUS_M - beside) / self.blur_m) * (along < 0))

    def fit(self, shadows: Floats) -> tuple[Floats, Floats]:
        """The usual light, what of it the sky and what the sun lose, shape (k, 3), and the misfit that rests,
        shape (k, n), by least squares for each shadow, shape (k, n)."""
        rows = np.empty((len(shadows), 3, len(self.light)))
        rows[:, 0], rows[:, 1], rows[:, 2] = 1.0, -self.hidden, -shadows
        gram = rows @ rows.transpose(0, 2, 1) + 1e-6 * np.eye(3)
        found = np.linalg.solve(gram, rows @ self.light[:, None])[..., 0]
        return np.asarray(found), self.light - np.einsum("ki,kin->kn", found, rows)


def sun_by_shadow(
    balls: Sequence[tuple[NDArray[np.uint8], Place]], camera: Camera, table: NDArray[np.float32]
) -> SunByShadow | None:
    """The sun that casts the shadows of balls; None where there is none, or the shadows do not show.

    Parameters
    ----------
    balls : each ball's picture, shape (h, w), luma, and its place on the plane
    camera : the camera over the green
    table : ``puttvision.green.edges.linear_light`` of the clip's tone curve
    """
    patches = [p for luma, at_m in balls if (p := _patch(luma, np.array(at_m), camera, table)) is not None]
    if not patches:
        return None

    def residuals(angles: Floats) -> Floats:
        sun = towards(*angles)[None]
        rest = [patch.fit(patch.shadows(sun))[1][0] / patch.noise for patch in patches]
        return np.concatenate(rest) / _ALIKE

    found = least_squares(
        residuals, _likeliest(patches), bounds=_BOUNDS_RAD, loss="cauchy", diff_step=1e-3,
        max_nfev=_TURNS,
    )  # fmt: skip
    sun = towards(*found.x)
    seen = [_share(patch, sun) for patch in patches]
    shares, u_shares, gains = (np.array(column) for column in zip(*seen, strict=True))
    weights = 1 / (u_shares**2 + _U_SHARE**2)
    cov = np.linalg.pinv(found.jac.T @ found.jac)
    u_rad = float(np.sqrt(cov[0, 0] * np.cos(found.x[1]) ** 2 + cov[1, 1]))
    if weights @ shares < _LEAST_SHARE * weights.sum() or gains.sum() < _LEAST_GAIN or u_rad > _MOST_U_RAD:
        return None
    # a ball in the player's shadow casts none: the middle one tells
    share = min(float(np.median(shares)), _CLEAR_SKY_SHARE)
    return SunByShadow((float(sun[0]), float(sun[1]), float(sun[2])), share, u_rad)


def _likeliest(patches: Sequence[_Patch]) -> tuple[float, float]:
    """Azimuth and elevation of the one of many suns that most balls' shadows speak for."""
    starts = [(azimuth, elevation) for azimuth in _AZIMUTHS_RAD for elevation in _ELEVATIONS_RAD]
    suns = np.array([towards(*start) for start in starts])
    told = np.zeros(len(starts))
    for patch in patches:
        few = patch.few()
        lights, rest = few.fit(few.shadows(suns))
        _, without = few.fit(np.zeros((1, len(few.light))))
        gain = len(few.light) * np.log((without**2).mean() / (rest**2).mean(axis=1))
        # a shoe or a putter beside one ball does not outweigh the shadows of all
        told += np.where(lights[:, 2] > _LEAST_SHARE / 3, np.minimum(gain, _MOST_TOLD), 0.0)
    return starts[int(np.argmax(told))]


def _share(patch: _Patch, sun: Floats) -> tuple[float, float, float]:
    """The share of the light that one ball's shadow lacks, its uncertainty, and what the shadow explains in
    squares of the noise."""
    shadow = patch.shadows(sun[None])
    (lights,), (rest,) = patch.fit(shadow)
    rows = np.stack([np.ones(len(rest)), patch.hidden, shadow[0]])
    u_light = _ALIKE * patch.noise * float(np.sqrt(np.linalg.inv(rows @ rows.T + 1e-6 * np.eye(3))[2, 2]))
    usual = max(float(lights[0]), 1e-6)
    gain = float(np.sum((rest - lights[2] * shadow[0]) ** 2 - rest**2)) / (_ALIKE * patch.noise) ** 2
    return float(lights[2]) / usual, u_light / usual, gain


def _patch(
    luma: NDArray[np.uint8], at_m: Floats, camera: Camera, table: NDArray[np.float32]
) -> _Patch | None:
    """The grass about a ball at a place on the plane; None where too little of it is in the picture."""
    centre_m = np.array([at_m[0], at_m[1], BALL_RADIUS_M])
    turn = np.linspace(0.0, 2 * np.pi, 16, endpoint=False)
    ring_m = np.column_stack([at_m[0] + _REACH_M * np.cos(turn), at_m[1] + _REACH_M * np.sin(turn), 0 * turn])
    ring = camera.project(ring_m)
    if not np.isfinite(ring).all():
        return None
    height, width = luma.shape
    x0, y0 = np.maximum(np.floor(ring.min(axis=0)).astype(int), 0)
    x1, y1 = np.minimum(np.ceil(ring.max(axis=0)).astype(int) + 1, (width, height))
    if x1 - x0 < 8 or y1 - y0 < 8:
        return None
    step = max(1, int(np.sqrt((x1 - x0) * (y1 - y0) / _PIXELS)))
    at_px = np.moveaxis(np.mgrid[y0:y1:step, x0:x1:step][::-1], 0, -1).reshape(-1, 2).astype(float)
    grass_m = np.column_stack([camera.to_plane(at_px), np.zeros(len(at_px))])
    away = grass_m - centre_m
    px_per_m = camera.px_per_m(centre_m)
    off_px = np.hypot(*(at_px - camera.project(centre_m)).T)
    use = (off_px > BALL_RADIUS_M * px_per_m + _CLEAR_PX) & (np.hypot(away[:, 0], away[:, 1]) < _REACH_M)
    if use.sum() < 60:
        return None
    light = cv2.LUT(luma[y0:y1:step, x0:x1:step], table).ravel().astype(float)[use]
    away = away[use]
    light = np.clip(light / max(float(np.median(light)), 1e-3), *_LIGHTS)
    distance = np.linalg.norm(away, axis=1)
    # the view is flat: a pixel is longer on the plane along the line of sight than across it
    flat = float(camera.height_m / np.linalg.norm(camera.centre_m - centre_m))
    return _Patch(
        away=away,
        light=light,
        # configuration factor of a sphere (r / d)^2 cos(angle), as in textbooks on radiative transfer
        hidden=(BALL_RADIUS_M / distance) ** 3,
        blur_m=_BLUR_PX / px_per_m / float(np.sqrt(flat)),
        noise=1.4826 * float(np.median(np.abs(light - np.median(light)))) + 1e-3,
    )
