"""What the centres of all balls in a clip may be off by together: from how well their light is known."""

from __future__ import annotations

import numpy as np

from puttvision.ball.light import Light

U_CENTRES_PX = 0.22
"""Where nothing tells of the sun: a burnt-out ball's brighter side, or a sun behind the lens, pulls the
outline by up to half a pixel, the same way on every ball."""
_U_BY_SHADOW_PX = 0.08
_SHARES, _U_BY_LIGHT_PX = (0.05, 0.2), (0.06, 0.12)
"""Share of the sun in the light found, and what it leaves where only the balls themselves tell of it: under
clouds there is no sun to mistake (all measured on filmed scenes, whose balls are off by 0.03 to 0.06 px
together; another renderer's by 0.1)."""


def u_centres_px(light: Light | None) -> float:
    """Standard deviation, along either axis of the picture, of the error that a clip's ball centres share."""
    if light is None:
        return U_CENTRES_PX
    if light.by_shadow:
        return _U_BY_SHADOW_PX
    lights = light.shading.lights
    return float(np.interp(lights[2] / max(sum(lights), 1e-6), _SHARES, _U_BY_LIGHT_PX))
