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

    def off_px(self, ratio: Floats, radii_px: Floats) -> Floats:
        """How far middles of bright patches lie from the balls' middles, shape (n, 2).

        ``ratio``: their areas over the balls', shape (n,): a ball that lies in shade is bright all over.
        """
        partly = np.clip((1 - ratio) / max(1 - self.share, 1e-3), 0.0, 1.0)
        return np.asarray((partly * radii_px)[:, None] * np.array(self.off))


WHOLE = BrightPart(1.0, (0.0, 0.0))


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
