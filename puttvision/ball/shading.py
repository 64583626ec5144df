"""How a ball is lit: a matt sphere (Lambert's cosine law) under one sun, an even light and a bright sky.

All light here is linear, as a share of the white of paper in the same light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, nnls

from puttvision.ball.small_systems import solve3

Floats = NDArray[np.float64]
Sun = tuple[float, float, float]
"""Unit vector towards it, in the frame of the green."""

_CENSOR_TURNS = 3
_SETTLED = 0.002
"""Lights that change by less from turn to turn are found."""
_LINE_SHARE = 0.15
"""Misfit of a sample, in shares of white at usual exposure, that halves its weight."""
_PRINT_STANDS_OUT = 0.1
"""Misfit of a sample, in shares of white, that halves its weight when the sun is sought."""
_RIDGE = 3.0
"""Pull towards the shading learnt before, in samples: it rules where a smear hides the shading."""
_USUAL_MEAN = 0.65
"""Mean light over the face of a ball under the usual shading."""
_USUAL_PULL = 0.15
"""Pull towards them, in samples: where the visible face is all in the sun, its light tells little of the
sun's height."""
BOUNCE = 0.03
"""Light thrown back by grass, which reflects little, as a share of what falls on it."""
_LOWEST = 0.15
"""Sine of the sun's least elevation: lower, it lights little but hills."""
_GAIN_TURNS, _GAIN_PULL = 10, 3.0
"""Turns in which a ball's brightness settles, and the pull towards that of white paper, in samples."""
_EVEN_PULL = 20.0
"""The same for the even light: grass, which is dark, throws back little under any sky."""
_SUN_STARTS = (*((azimuth, 0.7) for azimuth in np.arange(0.0, 6.2, 0.8)), (1.6, 1.4))


@dataclass(frozen=True, slots=True)
class Shading:
    """Where the sun stands and how much light comes evenly, from the sky, from the sun."""

    sun: Sun
    lights: tuple[float, float, float]
    """Even light, light of the sky from above, light of the sun: shares of white."""
    blur_px: float = 0.5
    """Deviation of the picture's blur; a pixel's area comes on top. The usual one is common for phones, which
    sharpen (measured on filmed scenes and prints)."""


USUAL_SHADING = Shading((0.0, 0.0, 1.0), (0.05, 0.3, 0.65))
"""A ball on a sunny day before anything is known of the sun; common practice, no source."""


def basis(surface: Floats, sun: Sun | Floats) -> Floats:
    """Even light, sky and sun at unit strength on outward unit normals (..., 3): shape (..., 3)."""
    rows = np.empty(surface.shape)
    rows[..., 0] = 1.0
    rows[..., 1] = 0.5 + 0.5 * surface[..., 2]
    np.maximum(surface @ np.asarray(sun), 0.0, out=rows[..., 2])
    return rows


_USUAL_LIGHTS = np.array(USUAL_SHADING.lights)
_USUAL_PULLS = np.diag([_EVEN_PULL, _USUAL_PULL, _USUAL_PULL])
_MANY_LIGHTS = np.array(
    [
        (gain * even, gain * sky, gain * sun)
        for gain in (0.4, 0.7, 1.0, 1.5)
        for even in (0.05, 0.2)
        for sky in (0.1, 0.3, 0.7)
        for sun in (0.0, 0.3, 0.6, 1.0, 1.5, 2.5)
    ]
)


@dataclass(frozen=True, slots=True)
class Face:
    """What is seen of one sharp ball's inside."""

    surface: Floats
    """Shape (n, 3), outward unit normals."""
    light: Floats
    """Shape (n,)."""


def learn(faces: Sequence[Face], top: float, *, finely: bool = True) -> Shading:
    """Find the sun that stands over one or more balls, and the mean of the lights on them.

    Each ball has lights of its own: a cloud may pass, the player's shadow fall on it. Print on the balls
    counts little (weights of Cauchy's kind). The two angles of the sun are sought with the lights solved
    for at each step (variable projection).

    Parameters
    ----------
    faces : at least one
    top : light from which on a sample may have been brighter than it looks
    finely : whether to go beyond the best of a few suns
    """
    seen = [_Seen(face, face.light > top, float(face.light.mean()) / _USUAL_MEAN) for face in faces]

    def rest(angles: Floats, begun: Sequence[Floats]) -> Floats:
        sun = towards(*angles)
        return np.concatenate([one.lit_by(sun, lights)[1] for one, lights in zip(seen, begun, strict=True)])

    looks = [[one.first_lights(towards(*start)) for one in seen] for start in _SUN_STARTS]
    best = int(np.argmin([sum(cost for _, cost in look) for look in looks]))
    begun = [lights for lights, _ in looks[best]]
    angles = np.array(_SUN_STARTS[best])
    if finely:
        angles = least_squares(
            rest, angles, bounds=([-1.0, 0.05], [7.5, 1.55]), loss="soft_l1", f_scale=0.03, max_nfev=8,
            diff_step=1e-3, args=(begun,),
        ).x  # fmt: skip
    sun = towards(*angles)
    lights = np.mean([one.lit_by(sun, lights)[0] for one, lights in zip(seen, begun, strict=True)], axis=0)
    if lights[2] < _NO_SUN * lights.sum():
        sun = np.array(USUAL_SHADING.sun)
    return Shading(
        sun=(float(sun[0]), float(sun[1]), float(sun[2])),
        lights=(float(lights[0]), float(lights[1]), float(lights[2])),
    )


def lights_under(faces: Sequence[Face], top: float, sun: Sun, share: float) -> tuple[float, float, float]:
    """The lights on balls under a sun that is known, with the sky's: the median ball's.

    Only how bright all is together is sought: a burnt-out face does not tell sun from sky.

    Parameters
    ----------
    share : of the light on the level green, what comes from the sun itself
    """
    level = np.array([BOUNCE, 1 - share, share / max(sun[2], _LOWEST)])
    gains = []
    for face in faces:
        shape = basis(face.surface, sun) @ level
        full, gain = face.light > top, 1.0
        for _ in range(_GAIN_TURNS):
            misfit = (gain * shape - face.light) / _PRINT_STANDS_OUT
            weighted = shape * _told(full, gain * shape, face.light) / (1 + misfit * misfit)
            # the level green's light is that of white paper, give or take the phone's exposure
            gain = float((weighted @ face.light + _GAIN_PULL) / (weighted @ shape + _GAIN_PULL))
        gains.append(gain)
    even, sky, direct = (float(np.median(gains)) * level).tolist()
    return even, sky, direct


def towards(azimuth_rad: float, elevation_rad: float) -> Floats:
    """Unit vector towards a sun, shape (3,), in the frame of the green."""
    level = np.cos(elevation_rad)
    return np.array([level * np.cos(azimuth_rad), level * np.sin(azimuth_rad), np.sin(elevation_rad)])


@dataclass(frozen=True, slots=True)
class _Seen:
    """One face, where it is burnt out, and the usual lights at its exposure."""

    face: Face
    full: NDArray[np.bool_]
    gain: float
    """Over the usual exposure."""

    def first_lights(self, sun: Floats) -> tuple[Floats, float]:
        """The likeliest of many lights under this sun, and how badly it fits."""
        some = slice(None, None, _EVERY)
        rows = basis(self.face.surface[some], sun)
        return _likeliest(rows, self.face.light[some], self.full[some], self.gain * _MANY_LIGHTS)

    def lit_by(self, sun: Floats, begun: Floats) -> tuple[Floats, Floats]:
        """The lights under this sun, shape (3,), found from ``begun``, and what rests, shape (n + 3,)."""
        rows, light = basis(self.face.surface, sun), self.face.light
        usual = self.gain * _USUAL_LIGHTS
        lights, modelled = begun, rows @ begun
        misfit = modelled - light
        weight = np.ones(len(light))
        for _ in range(_CENSOR_TURNS):
            shares = misfit / _PRINT_STANDS_OUT
            weight = _told(self.full, modelled, light) / (1 + shares * shares)
            weighted = rows.T * weight
            lights = _not_negative(weighted @ rows + _USUAL_PULLS, weighted @ light + _USUAL_PULLS @ usual)
            modelled = rows @ lights
            misfit = modelled - light
        return lights, np.append(misfit * np.sqrt(weight), np.sqrt(_USUAL_PULLS) @ (lights - usual))


def _likeliest(
    rows: Floats, light: Floats, full: NDArray[np.bool_], lights: Floats, handicap: Floats | float = 1.0
) -> tuple[Floats, float]:
    """Of several lights, shape (k, 3), the one whose model misses fewest samples, and its misfit.

    ``handicap``: times its misfit, shape (k,), for what is less likely beforehand.
    """
    miss = lights @ rows.T
    np.subtract(light, miss, out=miss)
    np.maximum(miss, np.where(full, 0.0, -np.inf), out=miss)
    worst = _PRINT_STANDS_OUT * float(light.mean()) / _USUAL_MEAN
    np.minimum(np.abs(miss, out=miss), worst, out=miss)
    # of several that miss nothing, as on a face all burnt out, the likeliest
    cost = (miss.sum(axis=1) + _TIE * miss.shape[1] * worst) * (handicap / worst)
    best = int(np.argmin(cost))
    return lights[best], float(cost[best])


def _told(full: NDArray[np.bool_], modelled: Floats, light: Floats) -> NDArray[np.bool_]:
    """Whether a sample tells the light: it is not burnt out, or modelled less bright than it is seen."""
    return ~full | (modelled < light)


def _not_negative(gram: Floats, right: Floats) -> Floats:
    """Least squares over lights that are not negative, from the normal equations, shapes (3, 3) and (3,)."""
    lights = solve3(gram + _TINY, right)
    if min(lights) >= 0:
        return np.array(lights)
    root = np.linalg.cholesky(gram + _TINY)
    return np.asarray(nnls(root.T, np.linalg.solve(root, right))[0])


_TIE = 0.02
"""Misfit, in shares of the worst, by which lights must differ to be told apart."""
_TINY = 1e-9 * np.eye(3)


def first_lights(rows: Floats, light: Floats, known: Shading, top: float) -> Floats:
    """The likeliest lights on a ball before they are fitted, shape (3,).

    Those learnt before, at another exposure or without the sun.

    Parameters
    ----------
    rows : shape (n, 3), ``basis`` under the known sun
    light : shape (n,)
    """
    some = slice(None, None, _EVERY)
    rows, light = rows[some], light[some]
    full = light > top
    return _likeliest(rows, light, full, np.asarray(known.lights) * _GAINS, _HANDICAPS)[0]


def lights_of(
    rows: Floats, light: Floats, likely: Floats, top: float, modelled: Floats | None = None
) -> tuple[Floats, Floats]:
    """The three lights by ridge regression towards likely ones.

    Where the picture is near its top the light was at least what is seen: such samples only pull
    upwards (a censored regression, by the samples that tell and those that do not in turn). A bold line
    on the ball, or a putter's edge before it, counts little (weights of Cauchy's kind). No light is negative.

    Parameters
    ----------
    rows : shape (n, 3), ``basis`` under the known sun
    light : shape (n,)
    likely : shape (3,), ``first_lights``
    modelled : shape (n,), what an earlier look at the same ball gave; None to begin from what is likely

    Returns the lights, shape (3,), and the light they make, shape (n,).
    """
    full = light > top
    lights = likely
    turns = _CENSOR_TURNS if modelled is None else 1  # what was seen a moment ago has settled
    if modelled is None:
        modelled = rows @ lights
    scale = 1 / (_LINE_SHARE * max(float(likely.sum()), _LEAST_LIGHT))
    for turn in range(turns):
        misfit = (light - modelled) * scale
        weighted = rows.T * (_told(full, modelled, light) / (1 + misfit * misfit))
        settled, lights = (
            lights, np.array(solve3(weighted @ rows + _RIDGES, weighted @ light + _RIDGE * likely))
        )  # fmt: skip
        np.maximum(lights, 0.0, out=lights)
        modelled = rows @ lights
        if turn and np.abs(lights - settled).max() < _SETTLED:
            break
    return lights, np.asarray(modelled)


_GAINS = np.array(
    [(gain, gain, gain * sun) for gain in (0.25, 0.4, 0.6, 0.8, 1.0, 1.25, 1.6, 2.2) for sun in (1.0, 0.0)]
)
"""A ball's lights over those learnt: another exposure, a cloud, in the player's shadow."""
_HANDICAPS = 1.0 + 0.1 * np.abs(np.log2(_GAINS[:, 0])) + 0.2 * (_GAINS[:, 2] == 0)
_NO_SUN = 0.12
"""A sun that gives less than this share of the light is none, and its place means nothing."""
_EVERY = 3
"""Every third sample suffices to choose among lights."""
_LEAST_LIGHT = 0.1
_RIDGES = _RIDGE * np.eye(3)
