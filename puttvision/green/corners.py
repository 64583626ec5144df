"""The corners of a printed sheet to a few hundredths of a pixel, by fitting its whole printed pattern.

A corner finder looks at one corner; the print has two dozen edges. The picture of the marker is
modelled as the known pattern seen through a homography, blurred by a Gaussian, averaged in linear
light and then bent by the tone curve (so that white grows into black, as on every camera), and all
pixels of the marker are fitted at once. Picture coordinates: pixels, (x, y) from the centre of the
top left pixel. Sheet coordinates: metres, x right and y up from the marker's centre.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtr

from puttvision.green.sheet import MARKER_CELLS, SHEET_SIDE_M, marker_bits, sheet_corners

Floats = NDArray[np.float64]

_QUIET_M = 0.012
"""How far outside the black square the fit looks; the print leaves 15 mm of white."""
_GAMMA_PRIOR = (2.2, 0.5)
"""Tone curve I = L^(1/gamma): video's usual exponent, weakly."""
_BLUR_PRIOR_PX = (0.7, 0.5)
_NOISE = 0.03
"""Expected misfit as a share of white minus black; the covariance grows where it is more."""
_FLOOR_PX = 0.025
"""What a corner can claim at best: sharpening and compression bend edges by a few hundredths."""
_VIDEO_BLACK, _VIDEO_SPAN = 16.0, 219.0
"""Luma of black and the step to white (ITU-R BT.709); full-range video differs by less than gamma's prior."""
_MAX_PIXELS = 3500
"""A sheet close to the camera is thinned to about this many pixels."""
_ALIKE = 2.0
"""Compression errs alike over whole cells: corners of far sheets are out by 1.3 times what the pixels tell
(measured on filmed scenes)."""
_CORRELATION_AREA_PX = 4.0
"""Neighbouring pixels share lens blur and compression error: so many count as one."""


@dataclass(frozen=True, slots=True)
class SheetCorners:
    """One sheet as seen: the four outer corners of its black square."""

    id: int
    corners_px: Floats
    """Shape (4, 2), in the sheet's order: top left, top right, bottom right, bottom left."""
    cov_px2: Floats
    """Shape (8, 8), of the corners x0 y0 x1 y1 ...; scaled by the fit's own residual."""
    residual: float
    """Root mean square of picture minus model, as a share of white minus black."""
    blur_px: float
    gamma: float


def _pattern(sheet_id: int) -> Floats:
    """Shape (8, 8): rows from the top, 1 white, 0 black; the outer ring is the white paper."""
    full = np.ones((MARKER_CELLS + 2, MARKER_CELLS + 2))
    full[1:-1, 1:-1] = marker_bits(sheet_id)
    return full


def _weights(at: Floats, spread: Floats) -> Floats:
    """Share of each of 8 bands (edges every cell from -3 to 3) in a Gaussian, shape (8, n)."""
    edges = np.arange(-3.0, 4.0)
    below = ndtr((edges[:, None] - at[None, :]) / spread[None, :])
    padded = np.vstack([np.zeros_like(at), below, np.ones_like(at)])
    return np.diff(padded, axis=0)


@dataclass(frozen=True, slots=True)
class _Seen:
    """Pixels on a sheet, shapes (2, n): where, and how the lens' blur spreads there, in cells."""

    cells: Floats
    spread: Floats
    alike: Floats
    """Correlation of the spread along the two axes, shape (n,): far from 0 on a turned sheet seen flat."""


def _seen(xy_px: Floats, inverse: Floats, blur_px: float) -> _Seen:
    u = inverse @ np.vstack([xy_px, np.ones(xy_px.shape[1])])
    cells = u[:2] / u[2]
    # gradient of a cell coordinate over the picture: the width of the blur in cells
    step_x = (inverse[:2, 0, None] - cells * inverse[2, 0]) / u[2]
    step_y = (inverse[:2, 1, None] - cells * inverse[2, 1]) / u[2]
    length = np.hypot(step_x, step_y) + 1e-9
    alike = (step_x[0] * step_x[1] + step_y[0] * step_y[1]) / (length[0] * length[1])
    return _Seen(cells, blur_px * length + 1e-9, alike)


def _coverage(seen: _Seen, pattern: Floats, n_places: int) -> Floats:
    """Blurred share of white at each pixel.

    What the spreads along the two axes share is summed over ``n_places`` along it; the rest is separate.
    """
    places, weights = np.polynomial.hermite_e.hermegauss(n_places)
    shared = np.sqrt(np.minimum(np.abs(seen.alike), _MOST_ALIKE)) * (n_places > 1)
    along = seen.spread * shared * np.vstack([np.ones_like(shared), np.sign(seen.alike)])
    rest = seen.spread * np.sqrt(1 - shared**2)
    white = np.zeros_like(shared)
    for at, weight in zip(places, weights / weights.sum(), strict=True):
        across = _weights(seen.cells[0] + at * along[0], rest[0])
        down = _weights(-(seen.cells[1] + at * along[1]), rest[1])
        white += weight * np.einsum("rn,rc,cn->n", down, pattern, across)
    return white


_MOST_ALIKE = 0.999
_LITTLE_ALIKE, _HALF_ALIKE = 0.1, 0.5
"""Up to here one place and three do as well as five, and take less time."""


def fit_corners(picture: NDArray[np.uint8] | Floats, sheet_id: int, rough_px: Floats) -> SheetCorners | None:
    """Fit the whole marker ``sheet_id`` near its roughly known corners.

    Parameters
    ----------
    picture : shape (h, w), luma; best an average of several frames
    sheet_id : 0 to 9
    rough_px : shape (4, 2), within about 3 px

    Returns None where too little of the marker is in the picture or the picture does not look
    like the marker there.
    """
    height, width = picture.shape
    model_corners = sheet_corners()[:, :2] * (MARKER_CELLS / SHEET_SIDE_M)
    grown = 1 + 2 * _QUIET_M / SHEET_SIDE_M
    to_px, _ = cv2.findHomography(model_corners, rough_px)
    hull = cv2.perspectiveTransform((model_corners * grown)[None], to_px)[0]
    x0, y0 = np.floor(hull.min(axis=0)).astype(int)
    x1, y1 = np.ceil(hull.max(axis=0)).astype(int) + 1
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        return None
    grid = np.mgrid[y0:y1, x0:x1]
    inside = np.zeros((y1 - y0 + 2, x1 - x0 + 2), np.uint8)
    cv2.fillConvexPoly(inside, np.round(hull - (x0 - 1, y0 - 1)).astype(np.int32), 1)
    # the outermost pixels hold grass: the paper's edge is a pixel away on a sheet seen flat
    inside = cv2.erode(inside, np.ones((3, 3), np.uint8))[1:-1, 1:-1].astype(bool)
    xy = grid[::-1].reshape(2, -1)[:, inside.ravel()].astype(float)
    values = np.asarray(picture[y0:y1, x0:x1], dtype=float).ravel()[inside.ravel()]
    stride = max(1, round(xy.shape[1] / _MAX_PIXELS))
    xy, values = xy[:, ::stride], values[::stride]
    if values.size < 150:
        return None
    values = (values - _VIDEO_BLACK) / _VIDEO_SPAN
    low, high = np.percentile(values, (4, 96))
    if high - low < 0.1:
        return None
    pattern = _pattern(sheet_id)
    noise = _NOISE * (high - low) * np.sqrt(_CORRELATION_AREA_PX / min(stride, _CORRELATION_AREA_PX))

    alike = float(np.abs(_seen(xy, _homography(rough_px, model_corners), 1.0).alike).max())
    n_places = 1 if alike < _LITTLE_ALIKE else 3 if alike < _HALF_ALIKE else 5

    def misfit(p: Floats) -> Floats:
        inverse = _homography(rough_px + p[:8].reshape(4, 2), model_corners)
        seen = _seen(xy, inverse, abs(p[8]) + 0.05)
        cells, white = seen.cells, _coverage(seen, pattern, n_places)
        gamma = np.exp(p[9])
        top = np.clip(p[11] + (p[12] * cells[0] + p[13] * cells[1]) / MARKER_CELLS, 0.02, 2) ** gamma
        bottom = np.clip(p[10], 1e-3, 1) ** gamma
        return np.asarray((bottom + (top - bottom) * white) ** (1 / gamma) - values)

    def residuals(p: Floats) -> Floats:
        priors = (
            (np.exp(p[9]) - _GAMMA_PRIOR[0]) / _GAMMA_PRIOR[1],
            (p[8] - _BLUR_PRIOR_PX[0]) / _BLUR_PRIOR_PX[1],
        )
        return np.append(misfit(p) / noise, priors)

    start = np.zeros(14)
    start[8:12] = _BLUR_PRIOR_PX[0], np.log(_GAMMA_PRIOR[0]), max(low, 0.01), high
    fit = least_squares(residuals, start, loss="soft_l1", f_scale=3.0, x_scale="jac", max_nfev=40)
    rms = float(np.sqrt(np.mean(misfit(fit.x) ** 2)) / (high - low))
    if rms > 0.12 or np.abs(fit.x[:8]).max() > 6:
        return None
    inflation = _ALIKE * max(1.0, (rms / _NOISE) ** 2)
    cov = np.linalg.pinv(fit.jac.T @ fit.jac) * inflation
    return SheetCorners(
        id=sheet_id,
        corners_px=rough_px + fit.x[:8].reshape(4, 2),
        cov_px2=cov[:8, :8] + np.eye(8) * _FLOOR_PX**2,
        residual=rms,
        blur_px=float(abs(fit.x[8]) + 0.05),
        gamma=float(np.exp(fit.x[9])),
    )


def _homography(source: Floats, target: Floats) -> Floats:
    """Homography through four point pairs, in double precision."""
    (x, y), (u, v) = source.T, target.T
    zero, one = np.zeros(4), np.ones(4)
    rows_u = np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y])
    rows_v = np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y])
    solved = np.linalg.solve(np.vstack([rows_u, rows_v]), np.concatenate([u, v]))
    return np.append(solved, 1.0).reshape(3, 3)
