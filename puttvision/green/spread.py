"""What a covariance may move: steps of one standard deviation along its principal axes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def principal_steps(cov: Floats) -> Floats:
    """One step a row, shape (n, n): the sum of their outer products is the covariance, shape (n, n)."""
    values, vectors = np.linalg.eigh(cov)
    return np.asarray((vectors * np.sqrt(np.clip(values, 0, None))).T)
