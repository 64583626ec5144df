"""The light on a clip's balls, found together with their places.

Where phones burn a white ball out, its edge spills over and its face tells little: its place and the light on
it cannot be found one after the other. Here both are sought at once: the sun, the lights and the places of
several balls at rest whose rendered pictures come nearest to those seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import OptimizeResult, least_squares

from puttvision.ball.disc import TOP_LUMA, BallFit
from puttvision.ball.outline import outline_of
from puttvision.ball.rendering import MISFIT, Rendered, Window, window
from puttvision.ball.shading import BOUNCE, USUAL_SHADING, Shading, towards
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

_MOST_BALLS, _ROUNDS, _TURNS, _SETTLED = 4, 3, 9, 1e-4
_ARRIVED_PX = 0.5
_U_BLUR_PX = 0.05
_U_BOUNCE, _LEVEL, _U_LEVEL = 0.075, 0.95, 0.5
"""Ratios by which the light thrown back by grass and that on white balls may differ, and the usual level."""
_SUN_SHARE, _U_SUN_SHARE = 0.6, 0.1
_MOST_SUN_SHARE = 0.8
"""On a clear day a quarter of the light on level ground comes from the sky (from memory); phones make shade a
little darker than it is."""
_LEAST_SUN_SHARE, _LEAST_LOW_SHARE, _LOW_RAD = 0.12, 0.35, np.radians(15.0)
"""A sun that gives less than this share of the light is none, and its place means nothing; the second for one
so low, which lights but a rim: under clouds the rim's own blur passes for it."""
_ELEVATIONS_RAD = (np.radians(8.0), np.radians(85.0))
_LIGHT = 6
"""Parameters common to all balls: azimuth and elevation of the sun, its share of the light on the level
green, logarithms of that light and of the share of it that grass throws back, blur. Then the balls' moves."""
_STEP_PX = 0.02
_MOST_MOVE_PX = 3.0
_STARTS = (
    (0.0, 0.8, 0.05, 0.9),
    *(
        (azimuth, elevation, 0.7, level)
        for azimuth in np.arange(0, 2 * np.pi, np.pi / 4)
        for elevation in (0.35, 0.8)
        for level in (0.9, 1.8)
    ),
)
"""Azimuth and elevation of a sun, its share of the light, that light: where to begin, nothing being known."""
_START_BALLS, _ELSEWHERE = 2, 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class LightFound:
    """Light and places that render as the pictures look."""

    shading: Shading
    u_sun_rad: float
    """Standard deviation of the sun's direction; infinite where no sun shines."""
    at_px: tuple[tuple[float, float], ...]
    """Projection of the centre of each ball used."""


def light_by_rendering(
    balls: Sequence[tuple[NDArray[np.uint8], BallFit]],
    camera: Camera,
    table: NDArray[np.float32],
    begin: Shading | None = None,
    u_sun_rad: float | None = None,
) -> LightFound | None:
    """Find the light on the first few of several balls at rest, and their places, together.

    Parameters
    ----------
    balls : each ball's picture, shape (h, w), luma, and its fit, right to a pixel or so
    table : ``puttvision.green.edges.linear_light`` of the clip's tone curve
    begin : the light to begin from, and ``u_sun_rad`` how sure its sun is; None where nothing is known

    Returns None where no ball lies whole within its picture.
    """
    top = float(table[TOP_LUMA])
    seen = [(picture, np.array(fit.at_px)) for picture, fit in balls[:_MOST_BALLS]]
    starts = _likeliest(seen[:_START_BALLS], camera, table, top) if begin is None else [_parameters(begin)]
    # the shade on the grass is that of the sun found before, and windows lie about the places found before
    for turn in range(_ROUNDS):
        tried: list[tuple[_Task, OptimizeResult]] = []
        for start in starts:
            seen, windows = _windows(seen, camera, table, top, _shading(start))
            if not windows:
                return None
            task = _Task(windows, top, start, u_sun_rad)
            tried.append((task, task.solved()))
        task, found = min(tried, key=lambda one: float(one[1].cost))
        moves = found.x[_LIGHT:].reshape(-1, 2)
        seen = [(picture, at_px + move) for (picture, at_px), move in zip(seen, moves, strict=True)]
        starts = [np.append(found.x[: _LIGHT - 1], USUAL_SHADING.blur_px)]
        if np.abs(moves).max() < _ARRIVED_PX and (turn or u_sun_rad is not None):
            break
    shading = _shading(found.x)
    u_rad = task.u_sun_rad(found.x, found.fun, found.jac)
    if found.x[2] < (_LEAST_LOW_SHARE if found.x[1] < _LOW_RAD else _LEAST_SUN_SHARE):
        even, level = shading.lights[0], float(np.exp(found.x[3]))
        shading, u_rad = replace(shading, sun=USUAL_SHADING.sun, lights=(even, level, 0.0)), np.inf
    return LightFound(
        shading=shading, u_sun_rad=u_rad, at_px=tuple((float(u), float(v)) for _, (u, v) in seen)
    )


Ball = tuple[NDArray[np.uint8], Floats]
"""A picture, and where a ball's centre is in it."""


def _windows(
    seen: Sequence[Ball], camera: Camera, table: NDArray[np.float32], top: float, shade: Shading
) -> tuple[list[Ball], list[Window]]:
    """The balls that lie whole in their pictures, and what is about each."""
    whole, windows = [], []
    for picture, at_px in seen:
        outline = outline_of(camera, camera.to_plane(at_px, BALL_RADIUS_M))
        about = None if outline is None else window(picture, camera, outline, at_px, table, top, shade)
        if about is not None:
            whole.append((picture, at_px))
            windows.append(about)
    return whole, windows


def _likeliest(seen: Sequence[Ball], camera: Camera, table: NDArray[np.float32], top: float) -> list[Floats]:
    """Of several lights, that under which a few balls look most as they do, and the best from elsewhere."""

    def cost(light: Floats) -> float:
        _, windows = _windows(seen, camera, table, top, _shading(light))
        misfits = _Task(windows, top, light, None).misfits(np.append(light, np.zeros(2 * len(windows))))
        return float(np.log1p(misfits**2).sum())

    starts = [
        np.array([azimuth, elevation, share, np.log(level), np.log(BOUNCE), USUAL_SHADING.blur_px])
        for azimuth, elevation, share, level in _STARTS
    ]
    best, *others = sorted(starts, key=cost)
    return [best, next(other for other in others if np.cos(other[0] - best[0]) < _ELSEWHERE)]


def _parameters(shading: Shading) -> Floats:
    x, y, z = shading.sun
    even, sky, direct = shading.lights
    level = max(sky + direct * z, 0.05)
    return np.array(
        [
            np.arctan2(y, x),
            np.clip(np.arcsin(z), *_ELEVATIONS_RAD),
            np.clip(direct * z / level, 0.02, 0.95 * _MOST_SUN_SHARE),
            np.log(level),
            np.log(np.clip(even / level, BOUNCE / 2, 4 * BOUNCE)),
            shading.blur_px,
        ]
    )


def _shading(parameters: Floats) -> Shading:
    x, y, z = towards(parameters[0], parameters[1]).tolist()
    even, sky, direct = _lights(parameters).tolist()
    return Shading((x, y, z), (even, sky, direct), float(parameters[5]))


def _lights(parameters: Floats) -> Floats:
    """Even light, the sky's and the sun's, shape (3,)."""
    level, share = np.exp(parameters[3]), parameters[2]
    return np.asarray(level * np.array([np.exp(parameters[4]), 1 - share, share / np.sin(parameters[1])]))


class _Task:
    """The least-squares problem; misfits are those of all balls' pixels, then of what is known beforehand."""

    def __init__(self, windows: Sequence[Window], top: float, light: Floats, u_sun_rad: float | None) -> None:
        self._windows, self._top = windows, top
        self.start = np.concatenate([light, np.zeros(2 * len(windows))])
        u_sun = 10.0 if u_sun_rad is None else u_sun_rad
        self._known = np.array(
            [light[0], light[1], _SUN_SHARE, np.log(_LEVEL), np.log(BOUNCE), USUAL_SHADING.blur_px]
        )
        self._u_known = np.array(
            [u_sun / np.cos(light[1]), u_sun, _U_SUN_SHARE, _U_LEVEL, _U_BOUNCE, _U_BLUR_PX]
        )
        moves = np.full(2 * len(windows), _MOST_MOVE_PX)
        low = [light[0] - pi, _ELEVATIONS_RAD[0] - 0.01, 0.0, np.log(0.02), np.log(BOUNCE / 10), 0.3]
        high = [light[0] + pi, _ELEVATIONS_RAD[1] + 0.01, _MOST_SUN_SHARE, np.log(6.0), np.log(0.5), 1.6]
        self.bounds = (np.concatenate([low, -moves]), np.concatenate([high, moves]))

    def solved(self) -> OptimizeResult:
        """The light and the moves that leave least."""
        return least_squares(
            self.misfits, self.start, self.jacobian, bounds=self.bounds, loss="cauchy", x_scale="jac",
            xtol=_SETTLED, ftol=_SETTLED, max_nfev=_TURNS,
        )  # fmt: skip

    def _rendered(self, parameters: Floats, i: int) -> Rendered:
        light, move = parameters[:_LIGHT], parameters[_LIGHT + 2 * i : _LIGHT + 2 * i + 2]
        return self._windows[i].render(towards(light[0], light[1]), _lights(light), move, float(light[5]))

    def misfits(self, parameters: Floats) -> Floats:
        """In deviations."""
        rest = [
            (np.minimum(self._rendered(parameters, i).light, self._top) - about.seen)[about.used] / MISFIT
            for i, about in enumerate(self._windows)
        ]
        return np.concatenate([*rest, (parameters[:_LIGHT] - self._known) / self._u_known])

    def jacobian(self, parameters: Floats) -> Floats:
        """A ball's move changes its own pixels only."""
        azimuth, elevation = parameters[:2]
        level, up = float(np.exp(parameters[3])), float(np.sin(elevation))
        sun, lights = towards(azimuth, elevation), _lights(parameters)
        to_right = np.array([-sun[1], sun[0], 0.0])
        higher = np.array([-np.cos(azimuth) * up, -np.sin(azimuth) * up, np.cos(elevation)])
        blocks = []
        for i, about in enumerate(self._windows):
            looks = self._rendered(parameters, i)
            used, light = about.used, np.minimum(looks.light, self._top)
            open_ = (looks.light < self._top)[used][:, None]
            diffuse, sunny = looks.diffuse[used] * open_, looks.sunny[used] * open_ @ about.axes
            block = np.zeros((len(sunny), len(parameters)))
            block[:, 0] = sunny @ to_right * lights[2]
            block[:, 1] = sunny @ (higher - sun * np.cos(elevation) / up) * lights[2]
            block[:, 2] = level * (sunny @ sun / up - diffuse[:, 1])
            block[:, 3] = diffuse @ lights[:2] + sunny @ sun * lights[2]
            block[:, 4] = diffuse[:, 0] * lights[0]
            for j in (_LIGHT - 1, _LIGHT + 2 * i, _LIGHT + 2 * i + 1):
                there = parameters.copy()
                there[j] += _STEP_PX
                moved = np.minimum(self._rendered(there, i).light, self._top)
                block[:, j] = (moved - light)[used] / _STEP_PX
            blocks.append(block / MISFIT)
        known = np.zeros((_LIGHT, len(parameters)))
        known[:, :_LIGHT] = np.diag(1 / self._u_known)
        return np.vstack([*blocks, known])

    def u_sun_rad(self, parameters: Floats, misfits: Floats, jacobian: Floats) -> float:
        """Standard deviation of the sun's direction at the solution."""
        weight = 1 / (1 + misfits**2)
        cov = np.linalg.pinv((jacobian * weight[:, None]).T @ jacobian)
        return float(np.sqrt(cov[0, 0] * np.cos(parameters[1]) ** 2 + cov[1, 1]))
