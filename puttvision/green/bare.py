"""Where the green is bare: a picture of how much grass colour shows, whatever the light.

In a low sun the soil and the lining of a hole may be as bright as grass, and shadows on the grass are as dark
as a hole; but they are of another hue, or of none.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.green.still import full_size

Plane = NDArray[np.uint8]

_TELLS = 8.0
"""Chroma of grass from which on its hue tells."""
_FULL_SHARE = 1.2
"""Share of the usual grass's chroma that the plane's white stands for."""


def grass_plane(chroma: tuple[Plane, Plane], shape: tuple[int, int]) -> Plane | None:
    """Chroma along the hue of the picture's grass, 16 for none to 235, of shape (h, w).

    ``chroma``: Cb and Cr, each of a whole fraction of the size. None where the grass has too little of it.
    """
    cb, cr = (plane.astype(np.float32) - 128 for plane in chroma)
    hue = np.array([np.median(cb), np.median(cr)])
    strength = float(np.hypot(*hue))
    if strength < _TELLS:
        return None
    share = (cb * hue[0] + cr * hue[1]) / strength**2
    small = np.clip(16 + 219 / _FULL_SHARE * share, 0, 255).astype(np.uint8)
    return np.asarray(full_size(small, shape), dtype=np.uint8)
