"""How a ball is lit: a matt sphere (Lambert's cosine law) under one sun, an even light and a bright sky.

All light here is linear, as a share of the white of paper in the same light.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, nnls

from puttvision.ball.small_systems import solve3

Floats = NDArray[np.float64]

_BRIGHTEST = 2.5
"""No ball is brighter than this over white paper's white."""
_CENSOR_TURNS = 3
_SETTLED = 0.002
"""Lights that change by less from turn to turn are found."""
_LINE_SHARE = 0.15
"""Misfit of a sample, in shares of white at usual exposure, that halves its weight."""
_RIDGE = 6.0
"""Pull towards the shading learnt before, in samples: it rules where a smear hides the shading."""
_USUAL_MEAN = 0.65
"""Mean light over the face of a ball under the usual shading."""
_USUAL_PULL = 0.15
"""Pull towards them, in samples: where the visible face is all in the sun, its light tells little of the
sun's height."""
_SUN_STARTS = tuple((azimuth, 0.7) for azimuth in np.arange(0.0, 6.2, 0.8))


@dataclass(frozen=True, slots=True)
class Shading:
    """Where the sun stands and how much light comes evenly, from the sky, from the sun."""

    sun: tuple[float, float, float]
    """Unit vector towards the sun, in the frame of the green."""
    lights: tuple[float, float, float]
    """Even light, light of the sky from above, light of the sun: shares of white."""


USUAL_SHADING = Shading((0.0, 0.0, 1.0), (0.1, 0.3, 0.6))
"""A ball on a sunny day before anything is known of the sun; common practice, no source."""


def basis(surface: Floats, sun: tuple[float, float, float] | Floats) -> Floats:
    """Even light, sky and sun at unit strength on outward unit normals (..., 3): shape (..., 3)."""
    rows = np.empty(surface.shape)
    rows[..., 0] = 1.0
    rows[..., 1] = 0.5 + 0.5 * surface[..., 2]
    np.maximum(surface @ np.asarray(sun), 0.0, out=rows[..., 2])
    return rows


def learn(surface: Floats, light: Floats, top: float) -> Shading:
    """Find the sun and the lights from the inside of one sharp ball.

    Parameters
    ----------
    surface : shape (n, 3), outward unit normals
    light : shape (n,)
    top : light from which on a sample may have been brighter than it looks
    """
    full = light > top
    any_full = bool(full.any())
    usual = np.array(USUAL_SHADING.lights) * (float(light.mean()) / _USUAL_MEAN)

    def fitted(angles: Floats) -> tuple[Floats, Floats, Floats]:
        azimuth, elevation = angles
        sun = np.array(
            [np.cos(elevation) * np.cos(azimuth), np.cos(elevation) * np.sin(azimuth), np.sin(elevation)]
        )
        rows = basis(surface, sun)
        gram = rows.T @ rows + _USUAL_PULL * np.eye(3)
        raised = light
        for _ in range(_CENSOR_TURNS if any_full else 1):
            lights = _not_negative(gram, rows.T @ raised + _USUAL_PULL * usual)
            modelled = rows @ lights
            if any_full:
                raised = np.where(full, np.minimum(np.maximum(modelled, light), _BRIGHTEST), light)
        return sun, lights, np.append(modelled - raised, (lights - usual) * np.sqrt(_USUAL_PULL))

    best = min(_SUN_STARTS, key=lambda start: float(np.abs(fitted(np.array(start))[2]).sum()))
    refined = least_squares(
        lambda angles: fitted(angles)[2], best, bounds=([-1.0, 0.05], [7.5, 1.55]), loss="soft_l1",
        f_scale=0.03, max_nfev=8, diff_step=1e-3,
    )  # fmt: skip
    sun, lights, _ = fitted(refined.x)
    return Shading(
        sun=(float(sun[0]), float(sun[1]), float(sun[2])),
        lights=(float(lights[0]), float(lights[1]), float(lights[2])),
    )


def _not_negative(gram: Floats, right: Floats) -> Floats:
    """Least squares over lights that are not negative, from the normal equations, shapes (3, 3) and (3,)."""
    lights = np.array(solve3(gram + _TINY, right))
    if lights.min() >= 0:
        return lights
    root = np.linalg.cholesky(gram + _TINY)
    return np.asarray(nnls(root.T, np.linalg.solve(root, right))[0])


_TINY = 1e-9 * np.eye(3)


def lights_of(
    rows: Floats, light: Floats, known: Shading, top: float, modelled: Floats | None = None
) -> tuple[Floats, Floats]:
    """The three lights by ridge regression towards those learnt before, scaled to this picture.

    Where the picture is near its top the light was at least what is seen: such samples only pull
    upwards (a censored regression by alternating expectation and least squares). A bold line on the
    ball, or a putter's edge before it, counts little (weights of Cauchy's kind). No light is negative.

    Parameters
    ----------
    rows : shape (n, 3), ``basis`` under the known sun
    light : shape (n,)
    modelled : shape (n,), what an earlier look at the same ball gave; None to begin from what is known

    Returns the lights, shape (3,), and the light they make, shape (n,).
    """
    before = np.asarray(known.lights)
    expected = rows @ before
    gain = min(max(float(expected @ light) / max(float(expected @ expected), 1e-9), 0.2), 3.0)
    pull = _RIDGE * gain * before
    full = light > top
    any_full = bool(full.any())
    first = modelled is None or any_full  # a burnt-out ball's light would creep up from look to look
    if modelled is None or any_full:
        modelled = gain * expected
    lights = before
    for _ in range(_CENSOR_TURNS):
        raised = light
        if any_full:
            raised = np.where(full, np.minimum(np.maximum(modelled, light), _BRIGHTEST), light)
        if first:
            weighted = rows.T
        else:
            misfit = (raised - modelled) * (1 / (_LINE_SHARE * gain))
            weighted = rows.T / (1 + misfit * misfit)
        first = False
        settled, lights = lights, np.array(solve3(weighted @ rows + _RIDGES, weighted @ raised + pull))
        np.maximum(lights, 0.0, out=lights)
        modelled = rows @ lights
        if np.abs(lights - settled).max() < _SETTLED:
            break
    return lights, np.asarray(modelled)


_RIDGES = _RIDGE * np.eye(3)
