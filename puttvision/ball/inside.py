"""The light on a ball's face: modelled, and as it is seen towards the rim."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.outline import RAYS, Fan, Outline
from puttvision.ball.shading import Face, Shading, basis, first_lights, learn, lights_of

Floats = NDArray[np.float64]

_SEEN_POINTS = 4
_SOFT_PX = 1.3
"""Half width of a sharp edge: lens blur, one pixel of area, demosaicing."""
_LEAST_AT_RIM = 0.4
"""Of the light seen just within, so much reaches the rim at least (measured on filmed scenes)."""
_PRINTED_SHARE = 0.15
"""So much of a ball may be printed with lines and letters."""


class Inside:
    """The light on the ball's face as modelled, and as it looks towards the rim."""

    def __init__(self, outline: Outline, fan: Fan, smear_px: float, top: float) -> None:
        soft = min(float(np.hypot(_SOFT_PX, smear_px / 2)), 0.55 * outline.radius_px)
        self.n_core = int(np.searchsorted(fan.outwards_px, -soft))
        """So many points of each ray lie inside, where the edge's blur does not reach."""
        self._near = slice(max(0, self.n_core - _SEEN_POINTS), self.n_core)
        self.inner_px = -(float(fan.outwards_px[self.n_core]) - fan.step_px / 2)
        self._surface = fan.surface()
        self.top = top
        self._sun: tuple[float, float, float] | None = None
        self._core = self._edge = self._brim = np.empty((0, 3))
        self._seen = np.empty(0)
        """Mean light seen just within the edge's blur, shape (RAYS,)."""
        self._modelled: Floats | None = None
        self._light = np.empty(0)
        self.lights = self._likely = np.empty(3)

    def learn(self, light: Floats, *, finely: bool) -> Shading:
        """The light on this ball alone; ``light`` shape (RAYS, m)."""
        return learn([self.face(light)], self.top, finely=finely)

    def face(self, light: Floats) -> Face:
        """The inside as seen; ``light`` shape (RAYS, m)."""
        return Face(self._surface[:, : self.n_core].reshape(-1, 3), light[:, : self.n_core].ravel())

    def light_up(self, light: Floats, known: Shading, *, afresh: bool = False) -> None:
        """Fit the lights to what is seen inside; ``afresh``: with no thought of what was seen elsewhere."""
        near = light[:, self._near]
        self._seen = near.sum(axis=1) / near.shape[1]
        # neighbours along a ray tell the same light: every other one will do
        self._light = light[:, : self.n_core : 2].ravel()
        if known.sun != self._sun:
            rows = basis(self._surface, known.sun)
            self._core = np.ascontiguousarray(rows[:, : self.n_core : 2]).reshape(-1, 3)
            self._brim = np.ascontiguousarray(rows[:, self._near]).mean(axis=1)
            self._edge = np.ascontiguousarray(rows[:, self.n_core :]).reshape(-1, 3)
            self._sun, afresh = known.sun, True
        if afresh:
            self._modelled = None
            self._likely = first_lights(self._core, self._light, known, self.top)
        self.lights, self._modelled = lights_of(
            self._core, self._light, self._likely, self.top, self._modelled
        )

    def at_edge(self) -> Floats:
        """Light that the ball would have at the points across the rim, shape (RAYS, m - n_core)."""
        return np.asarray((self._edge @ self.lights).reshape(RAYS, -1))

    def as_seen(self, edge: Floats) -> Floats:
        """Modelled light across the rim, (RAYS, k), brought to what is seen just within the edge's blur.

        What is burnt out may be as bright as modelled; what is darker than modelled, in shade or under print,
        is so in proportion, and no rim falls to nothing within two pixels.
        """
        seen = self._seen
        modelled = np.maximum(self._brim @ self.lights, 1e-6)
        surplus = seen - modelled
        lighter = edge + np.where(seen > self.top, np.maximum(surplus, 0.0), surplus)[:, None]
        darker = np.maximum(edge * (seen / modelled)[:, None], _LEAST_AT_RIM * seen[:, None])
        return np.asarray(np.where((surplus < 0)[:, None] & (seen < self.top)[:, None], darker, lighter))

    def burnt_out(self) -> NDArray[np.bool_]:
        """Rays along which the light seen just within the edge's blur is past the picture's top, (RAYS,)."""
        return np.asarray(self._seen > self.top)

    def brightest(self) -> float:
        """Light as bright as it may be seen here: that of the brightest rim, or the picture's top."""
        return max(float(self._seen.max()), self.top)

    def misfit(self) -> float:
        """Root mean square misfit over that of the light, the worst points, a ball's print, left out."""
        modelled = self._core @ self.lights
        rest = np.abs(modelled - self._light)
        rest[self._light > self.top] = 0.0
        n_plain = int((1 - _PRINTED_SHARE) * rest.size)
        plain = np.partition(rest, n_plain)[:n_plain]
        return float(np.sqrt((plain @ plain / n_plain) / (self._light @ self._light / rest.size)))
