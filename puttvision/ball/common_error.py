"""What the centres of all balls in a clip may be off by together: from how well their light is known."""

from __future__ import annotations

import numpy as np

from puttvision.ball.shading import Shading

U_CENTRES_PX = 0.4
"""Where the light on the balls is not known, or cannot be: a burnt-out ball's brighter side, or a sun behind
the lens, pulls the outline by up to two thirds of a pixel, the same way on every ball."""
_U_BEST_PX = 0.13
_SHARES, _UNSURE = (0.05, 0.2, 0.6, 0.75), (0.0, 1.0, 1.0, 0.0)
"""Share of the sun in the light found, and how unsure it leaves the outline: under clouds there is no sun to
mistake, a strong one shows where it stands; in between, a burnt-out face passes for one lit evenly
(both measured on filmed scenes)."""


def u_centres_px(shading: Shading | None) -> float:
    """Standard deviation, along either axis of the picture, of the error that a clip's ball centres share."""
    if shading is None:
        return U_CENTRES_PX
    share = shading.lights[2] / max(sum(shading.lights), 1e-6)
    return float(np.hypot(_U_BEST_PX, U_CENTRES_PX * np.interp(share, _SHARES, _UNSURE)))
