"""A printed sheet as a blurred picture shows it: the share of white at each pixel, and its slopes.

The blur is a Gaussian in the picture; on the sheet it is one too, stretched and slanted, so that its spreads
along the sheet's two axes go partly together. Places on the sheet are in cells of the marker, x right and
y up from its centre.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from puttvision.green.sheet import MARKER_CELLS, marker_bits

Floats = NDArray[np.float64]

_MOST_ALIKE = 0.999
_LITTLE_ALIKE, _HALF_ALIKE = 0.1, 0.5
"""Up to here one place and three do as well as five, and take less time."""
_EDGES = np.arange(-3.0, 4.0)[:, None]
"""Between the cells of one axis, the outermost between black and the white paper."""
_BANDS = np.eye(8) - np.eye(8, k=-1)
"""From the shares of a Gaussian below each edge (and below infinity) to the shares within each band."""


@dataclass(frozen=True, slots=True)
class Footprints:
    """Where pixels lie on a sheet and how the blur spreads there, in cells; shapes (2, n)."""

    cells: Floats
    along: Floats
    """Spread that the two axes share, one of them with its sign: large on a turned sheet seen flat."""
    rest: Floats
    """Spread that each axis has of its own."""

    def __sub__(self, other: Footprints) -> Footprints:
        return Footprints(self.cells - other.cells, self.along - other.along, self.rest - other.rest)

    def change(self, step: Footprints) -> Floats:
        """Of what has these slopes, shape (n,), over a small step."""
        each = self.cells * step.cells + self.along * step.along + self.rest * step.rest
        return np.asarray(each[0] + each[1])


def footprints(xy_px: Floats, inverse: Floats, blur_px: float, *, slanted: bool = True) -> Footprints:
    """Footprints of pixels, shape (2, n), under the homography from the picture to the sheet.

    ``slanted``: whether the spreads along the two axes go together; where they hardly do, False is cheaper.
    """
    u = inverse[:, :2] @ xy_px + inverse[:, 2:]
    cells = u[:2] / u[2]
    # gradient of a cell coordinate over the picture: the width of the blur in cells
    step_x = (inverse[:2, 0, None] - cells * inverse[2, 0]) / u[2]
    step_y = (inverse[:2, 1, None] - cells * inverse[2, 1]) / u[2]
    length = np.hypot(step_x, step_y) + 1e-9
    spread = blur_px * length
    if not slanted:
        return Footprints(cells, np.zeros_like(spread), spread)
    alike = (step_x[0] * step_x[1] + step_y[0] * step_y[1]) / (length[0] * length[1])
    shared = np.minimum(np.abs(alike), _MOST_ALIKE)
    along = spread * np.sqrt(shared)
    along[1] *= np.sign(alike)
    return Footprints(cells, along, spread * np.sqrt(1 - shared))


def n_places_for(seen: Footprints) -> int:
    """Over how many places along what the spreads share the blur has to be summed."""
    alike = float((seen.along[0] ** 2 / (seen.along[0] ** 2 + seen.rest[0] ** 2)).max())
    return 1 if alike < _LITTLE_ALIKE else 3 if alike < _HALF_ALIKE else 5


def crossings(sheet_id: int) -> Floats:
    """What the print's white changes by where two edges cross, rows from the top, shape (8, 8)."""
    pattern = np.ones((MARKER_CELLS + 2, MARKER_CELLS + 2))
    pattern[1:-1, 1:-1] = marker_bits(sheet_id)
    return np.asarray(_BANDS.T @ pattern @ _BANDS)


def whites(print_: Floats, seen: Footprints, n_places: int) -> Floats:
    """Share of white at each pixel, shape (n,); ``print_`` from ``crossings``."""
    total = np.zeros(seen.cells.shape[1])
    for place, weight in _places(n_places):
        across, down = (_below(z) for z in _from_edges(seen, place))
        total += weight * np.einsum("en,en->n", down, print_ @ across)
    return total


def white_slopes(print_: Floats, seen: Footprints, n_places: int) -> tuple[Floats, Footprints]:
    """``whites``, and its slopes over the footprints."""
    total, slopes = np.zeros(seen.cells.shape[1]), np.zeros((3, *seen.cells.shape))
    for place, weight in _places(n_places):
        z_across, z_down = _from_edges(seen, place)
        across, down = _below(z_across), _below(z_down)
        under, beside = print_ @ across, print_.T @ down
        total += weight * np.einsum("en,en->n", down, under)
        for axis, z, other, sign in ((0, z_across, beside, -1.0), (1, z_down, under, 1.0)):
            density = np.exp(-z * z / 2) * other[:-1]
            scale = weight / (np.sqrt(2 * np.pi) * seen.rest[axis])
            moved = sign * scale * density.sum(axis=0)
            slopes[0, axis] += moved
            slopes[1, axis] += place * moved
            slopes[2, axis] -= scale * np.einsum("en,en->n", density, z)
    return total, Footprints(*slopes)


def _places(n_places: int) -> list[tuple[float, float]]:
    """Places along a normal distribution, in deviations, and their weights, which sum up to one."""
    places, weights = np.polynomial.hermite_e.hermegauss(n_places)
    return list(zip(places.tolist(), (weights / weights.sum()).tolist(), strict=True))


def _from_edges(seen: Footprints, place: float) -> tuple[Floats, Floats]:
    """How far all edges lie beyond the pixels, across and down, in deviations of the blur, shapes (7, n)."""
    at = seen.cells + place * seen.along
    return (_EDGES - at[0]) / seen.rest[0], (_EDGES + at[1]) / seen.rest[1]


def _below(z: Floats) -> Floats:
    """Share of a Gaussian below each edge and, last, below infinity, shape (8, n)."""
    shares = np.ones((8, z.shape[1]))
    ndtr(z, out=shares[:-1])
    return shares
