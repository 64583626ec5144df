"""Which part of a printed sheet lies in shade: the player's shadow falls across it with a sharp edge.

What is white and what is black of the print is known; the light on either has two levels, which lie as far
apart on black as on white. Otsu's threshold (1979) parts them.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.filters import threshold_otsu

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_GAMMA = 2.2
_PURE = 0.04
"""Share of the other colour that a pixel of black or white may hold."""
_LEAST_SHARE = 0.04
"""A part that holds less of the white is a speck of dirt or a leaf."""
_LEAST_STEP = 0.3
"""Logarithm of the ratio of sunlit to shaded; sky alone gives a quarter of what sun and sky do."""
_BLACK_WEIGHT = 0.4
"""Black is the less sure: it holds noise, and light that strays in the lens."""
_EDGE_PX = 1.2
"""Deviation over which neighbours vote."""
_SURE = 0.6
"""Votes of one side less those of the other, as a share: less is near the shadow's edge."""


def shade_on(luma: Floats, white: Floats, inside: Mask) -> NDArray[np.int8] | None:
    """For every pixel -1 in shade, 1 lit, 0 where it cannot be told, shape (h, w); None where all is alike.

    Parameters
    ----------
    luma : shape (h, w), 0 black to 1 white
    white : share of white that the print has there, shape (h, w)
    inside : pixels on the print
    """
    light = _GAMMA * np.log(np.maximum(luma, 0.01))
    pale, dark = inside & (white > 1 - _PURE), inside & (white < _PURE)
    if not pale.any() or np.ptp(light[pale]) < _LEAST_STEP:
        return None
    between = float(threshold_otsu(light[pale]))  # type: ignore[no-untyped-call]
    lit, shaded = light[pale & (light > between)], light[pale & (light <= between)]
    if min(lit.size, shaded.size) < _LEAST_SHARE * np.count_nonzero(pale):
        return None
    step = float(np.median(lit) - np.median(shaded))
    if step < _LEAST_STEP:
        return None
    votes = np.zeros(luma.shape)
    votes[pale] = np.where(light[pale] > between, 1.0, -1.0)
    if dark.any():
        votes[dark] = _BLACK_WEIGHT * np.where(light[dark] > _middle(light[dark], step), 1.0, -1.0)
    cast = cv2.GaussianBlur(np.abs(votes), (0, 0), _EDGE_PX)
    sway = cv2.GaussianBlur(votes, (0, 0), _EDGE_PX) / np.maximum(cast, 1e-9)
    told = np.where(sway > 0, 1, -1) * (np.abs(sway) > _SURE) * (cast > 1e-3)
    return np.asarray(told, np.int8)


def _middle(light: Floats, step: float) -> float:
    """Between two levels a known step apart about which values, shape (n,), lie."""
    brighter = np.quantile(light, np.linspace(0.02, 0.98, 33))[:, None]
    off = np.minimum(np.abs(light - brighter), np.abs(light - brighter + step)).sum(axis=1)
    return float(brighter[int(np.argmin(off)), 0]) - step / 2
