"""The light on a clip's balls: from the shadows they cast, else from how they are lit themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.disc import TOP_LUMA, BallFit, fit_ball
from puttvision.ball.inside import Inside
from puttvision.ball.light_by_rendering import light_by_rendering
from puttvision.ball.outline import fan_over, outline_of
from puttvision.ball.rim import PLATEAU_PX
from puttvision.ball.shading import Face, Shading, Sun, lights_under, towards
from puttvision.ball.sun_by_shadow import sun_by_shadow
from puttvision.green.camera import Camera

SeenBall = tuple[NDArray[np.uint8], BallFit]
"""A picture, shape (h, w), luma, and a ball that was fitted in it."""
_TURNS_BY_SHADOW = 2
_SUNS_BEYOND_DEG, _LOW_DEG, _LOW_LIGHTS = (90.0, 45.0, 135.0), 20.0, (0.03, 0.22, 1.6)
"""Straight beyond the green and on either side, in its frame; how high; and the light of a clear evening
(measured on filmed scenes)."""
_U_BY_SHADOW_RAD = 0.03
"""How well shadows tell the sun (measured on filmed scenes)."""
_MOST_BLUR_PX = 0.9
"""Where balls render best with more blur, they do not render as they look: their light stays unknown."""
_IN_SHADE = 0.2
"""Light of less than this share of white is that of balls in the player's shadow, which says nothing of the
sun outside: phones expose for the green (measured on filmed scenes)."""
_STILL_BALLS = 0.75
"""So many of the balls must be found again in the light that their shadows tell: else that is wrong."""


def suns_beyond() -> list[Shading]:
    """Low suns beyond the green, in which to look for balls where none is found.

    In such light too little of a ball shows to see it before its sun is known; the shadow of a ball so found
    tells the true one.
    """
    suns = [towards(*np.radians([azimuth, _LOW_DEG])).tolist() for azimuth in _SUNS_BEYOND_DEG]
    return [Shading((x, y, z), _LOW_LIGHTS) for x, y, z in suns]


@dataclass(frozen=True, slots=True)
class Light:
    """The light on a clip's balls."""

    shading: Shading
    by_shadow: bool
    """Whether the shadows that the balls cast tell where the sun stands."""

    @property
    def sun(self) -> Sun | None:
        """None where it gives no light to speak of (``light_by_rendering`` takes a weak one for none)."""
        return self.shading.sun if self.shading.lights[2] > 0 else None


def learn_light(balls: Sequence[SeenBall], camera: Camera, table: NDArray[np.float32]) -> Light | None:
    """The light on several balls of a clip; None for none, or where they do not tell it: all in shade, say.

    ``table``: ``puttvision.green.edges.linear_light`` of the clip's tone curve.
    """
    begin = _by_shadow(balls, camera, table)
    found = light_by_rendering(balls, camera, table, begin, None if begin is None else _U_BY_SHADOW_RAD)
    if found is not None and found.shading.blur_px > _MOST_BLUR_PX:
        found = None
    shading = begin if found is None else found.shading
    if shading is None or sum(shading.lights) < _IN_SHADE:
        return None
    return Light(shading, by_shadow=begin is not None)


def _by_shadow(balls: Sequence[SeenBall], camera: Camera, table: NDArray[np.float32]) -> Shading | None:
    """The light that fits the balls' shadows; None where none show, or balls look otherwise."""
    found = sun_by_shadow([(picture, fit.at_m) for picture, fit in balls], camera, table)
    if found is None:
        return None
    top, fits = float(table[TOP_LUMA]), [fit for _, fit in balls]
    shading: Shading | None = None
    for _ in range(_TURNS_BY_SHADOW):
        faces = _faces(balls, fits, camera, table)
        if not faces:
            return None
        shading = Shading(found.sun, lights_under(faces, top, found.sun, found.share))
        again = _fitted(balls, fits, camera, table, shading)
        if sum(fit is not None for fit in again) < _STILL_BALLS * len(balls):
            return None
        fits = [fit or before for fit, before in zip(again, fits, strict=True)]
    return shading


def _fitted(
    balls: Sequence[SeenBall],
    fits: Sequence[BallFit],
    camera: Camera,
    table: NDArray[np.float32],
    shading: Shading,
) -> list[BallFit | None]:
    """Each ball fitted again in this light, from where it was."""
    return [
        fit_ball(picture, camera, fit.at_m, table, shading=shading)
        for (picture, _), fit in zip(balls, fits, strict=True)
    ]


def _faces(
    balls: Sequence[SeenBall], fits: Sequence[BallFit], camera: Camera, table: NDArray[np.float32]
) -> list[Face]:
    """The inside of each ball as its picture shows it."""
    faces = []
    for (picture, _), fit in zip(balls, fits, strict=True):
        outline = outline_of(camera, np.array(fit.at_m))
        if outline is None:
            continue
        fan = fan_over(outline, PLATEAU_PX)
        light = fan.light(picture, outline.middle_px, fit.size_ratio, table)
        if light is not None:
            faces.append(Inside(outline, fan, 0.0, float(table[TOP_LUMA])).face(light))
    return faces
