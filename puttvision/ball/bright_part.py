"""What of a ball stands out bright from the grass: all of it, or a crescent under a low sun from beyond."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.outline import fan_over, outline_of
from puttvision.ball.shading import Shading, basis
from puttvision.green.camera import Camera

Floats = NDArray[np.float64]

_LEAST_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class BrightPart:
    """The part of a ball that a search for what is bright comes upon."""

    share: float
    """Of the area within the outline."""
    off: tuple[float, float]
    """Its middle from the ball's, in the ball's radii, along the picture's axes."""


WHOLE = BrightPart(1.0, (0.0, 0.0))


@dataclass(frozen=True, slots=True)
class BrightParts:
    """The same across the picture: towards its sides a ball is seen, and so lit, from another side."""

    columns_px: tuple[float, ...]
    """Where each was worked out, in rising order; between them it changes evenly."""
    parts: tuple[BrightPart, ...]

    def share(self, x_px: Floats) -> Floats:
        """Share of the area within the outline, by column, shape (n,)."""
        return np.interp(x_px, self.columns_px, [part.share for part in self.parts])

    def off_px(self, x_px: Floats, ratio: Floats, radii_px: Floats) -> Floats:
        """How far middles of bright patches lie from the balls' middles, shape (n, 2).

        ``x_px``: their columns; ``ratio``: their areas over the balls', both of shape (n,): a ball that lies
        in shade is bright all over.
        """
        off = [np.interp(x_px, self.columns_px, [part.off[i] for part in self.parts]) for i in (0, 1)]
        partly = np.clip((1 - ratio) / np.maximum(1 - self.share(x_px), 1e-3), 0.0, 1.0)
        return np.asarray((partly * radii_px)[:, None] * np.column_stack(off))


ALL_WHOLE = BrightParts((0.0,), (WHOLE,))


def bright_part(
    camera: Camera, at_m: tuple[float, float] | Floats, shading: Shading, least_light: float
) -> BrightPart:
    """The part of a ball at one place that is brighter than ``least_light``, a share of white."""
    outline = outline_of(camera, np.asarray(at_m, dtype=float))
    if outline is None:
        return WHOLE
    fan = fan_over(outline, 0.0)
    light = basis(fan.surface(), shading.sun) @ np.asarray(shading.lights)
    area = np.where(light > least_light, fan.share, 0.0)
    share = float(area.sum() / (len(area) * fan.share.sum()))
    if share < _LEAST_SHARE:
        return WHOLE  # it does not stand out at all under this light
    off = np.array([(area * fan.x).sum(), (area * fan.y).sum()]) / area.sum() / outline.radius_px
    return BrightPart(share, (float(off[0]), float(off[1])))
