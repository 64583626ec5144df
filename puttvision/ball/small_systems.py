"""Three equations with three unknowns, solved where a general solver's overhead would count."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def solve3(matrix: Floats, right: Floats) -> tuple[float, float, float]:
    """Solve a well-conditioned 3 by 3 system by Cramer's rule: shapes (3, 3) and (3,).

    Raises
    ------
    ZeroDivisionError
        The matrix is singular.
    """
    (a, b, c), (d, e, f), (g, h, i) = matrix.tolist()
    x, y, z = right.tolist()
    ei_fh, di_fg, dh_eg = e * i - f * h, d * i - f * g, d * h - e * g
    yi_fz, dz_yg, ez_yh = y * i - f * z, d * z - y * g, e * z - y * h
    det = a * ei_fh - b * di_fg + c * dh_eg
    return (
        (x * ei_fh - b * yi_fz - c * ez_yh) / det,
        (a * yi_fz - x * di_fg + c * dz_yg) / det,
        (a * ez_yh - b * dz_yg + x * dh_eg) / det,
    )
