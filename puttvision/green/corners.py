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

from puttvision.green import blurred_print
from puttvision.green.blurred_print import footprints
from puttvision.green.print_model import (
    BLUR_PRIOR_PX,
    CORNERS,
    GAMMA_PRIOR,
    PrintModel,
    blur_of,
    homography,
)
from puttvision.green.shade_on_print import shade_on
from puttvision.green.sheet import MARKER_CELLS, SHEET_SIDE_M

Floats = NDArray[np.float64]

_QUIET_M = 0.012
"""How far outside the black square the fit looks; the print leaves 15 mm of white."""
_NOISE = 0.03
"""Expected misfit as a share of white minus black; the covariance grows where it is more."""
_FLOOR_PX = 0.02
"""What a corner can claim at best: sharpening and compression bend edges by a few hundredths."""
_FLOOR_IN_SHADE_PX = 0.1
"""The same where shade lies across: close to a shoe it fades unevenly (measured on filmed scenes)."""
_VIDEO_BLACK, _VIDEO_SPAN = 16.0, 219.0
"""Luma of black and the step to white (ITU-R BT.709); full-range video differs by less than gamma's prior."""
_MAX_PIXELS = 3500
"""A sheet close to the camera is thinned to about this many pixels."""
_ALIKE = 1.3
"""Compression errs alike over whole cells: corners of far sheets are out by 1.3 times what the pixels tell
(measured on filmed scenes)."""
_CORRELATION_AREA_PX = 4.0
"""Neighbouring pixels share lens blur and compression error: so many count as one."""
_AGAIN_CELLS = 0.1
"""Where a corner was out by more, in cells, the pixels were not those of the sheet: once more with the right
ones."""
_ENOUGH = 1e-5
"""Changes of cost and of corners, relative, that end a fit: far below what a corner can claim."""
_MOST_RESIDUAL = 0.12
_UNEVEN, _EXPLAINS = 0.045, 0.8
"""A sheet that fits worse may lie partly in shade; it does if the fit is then so much better."""
_SHADE_TURNS = 2
_MOST_MOVE_PX = 6.0
_FEWEST_PIXELS = 150
_LEAST_CONTRAST = 0.1


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
    pixels = _pixels_of(picture, rough_px)
    found = None if pixels is None else _fit(pixels, sheet_id, rough_px)
    if pixels is None or found is None:
        return None
    if _out_by(found, rough_px) > _AGAIN_CELLS:
        pixels = _pixels_of(picture, found.corners_px) or pixels
        found = _fit(pixels, sheet_id, found.corners_px) or found
    if found.residual > _UNEVEN:
        found = _fit_in_shade(pixels, sheet_id, found) or found
    return found if found.residual < _MOST_RESIDUAL else None


def _out_by(found: SheetCorners, rough_px: Floats) -> float:
    """How far off the rough corners were, in cells of the sheet's shortest side."""
    sides = np.roll(found.corners_px, -1, axis=0) - found.corners_px
    cell_px = float(np.hypot(sides[:, 0], sides[:, 1]).min()) / MARKER_CELLS
    return float(np.abs(found.corners_px - rough_px).max()) / cell_px


def _fit_in_shade(pixels: _Pixels, sheet_id: int, first: SheetCorners) -> SheetCorners | None:
    """The fit of a sheet that lies partly in shade; None where that explains the picture no better."""
    best: SheetCorners | None = None
    at = first
    for _ in range(_SHADE_TURNS):
        shade = _shade_on(pixels, sheet_id, at)
        found = None if shade is None else _fit(pixels, sheet_id, at.corners_px, shade)
        if found is None or found.residual > _EXPLAINS * first.residual:
            break
        best = at = found
    return best


def _shade_on(pixels: _Pixels, sheet_id: int, at: SheetCorners) -> NDArray[np.int8] | None:
    height, width = pixels.luma.shape
    xy_px = np.mgrid[:height, :width][::-1].reshape(2, -1) + np.array(pixels.corner_px)[:, None]
    seen = footprints(xy_px.astype(float), homography(at.corners_px, CORNERS), at.blur_px, slanted=False)
    white = blurred_print.whites(blurred_print.crossings(sheet_id), seen, 1)
    return shade_on(pixels.luma, white.reshape(height, width), pixels.inside)


@dataclass(frozen=True, slots=True)
class _Pixels:
    """The box of a picture that holds a sheet."""

    luma: Floats
    """Shape (h, w), 0 black to 1 white."""
    inside: NDArray[np.bool_]
    """Which lie on the sheet."""
    corner_px: tuple[int, int]


def _pixels_of(picture: NDArray[np.uint8] | Floats, rough_px: Floats) -> _Pixels | None:
    """Those that lie on a sheet as it is roughly known; None where the picture does not hold all of it."""
    height, width = picture.shape
    grown = 1 + 2 * _QUIET_M / SHEET_SIDE_M
    to_px, _ = cv2.findHomography(CORNERS, rough_px)
    hull = cv2.perspectiveTransform((CORNERS * grown)[None], to_px)[0]
    x0, y0 = np.floor(hull.min(axis=0)).astype(int).tolist()
    x1, y1 = (np.ceil(hull.max(axis=0)).astype(int) + 1).tolist()
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        return None
    inside = np.zeros((y1 - y0 + 2, x1 - x0 + 2), np.uint8)
    cv2.fillConvexPoly(inside, np.round(hull - (x0 - 1, y0 - 1)).astype(np.int32), 1)
    # the outermost pixels hold grass: the paper's edge is a pixel away on a sheet seen flat
    inside = cv2.erode(inside, np.ones((3, 3), np.uint8))[1:-1, 1:-1].astype(bool)
    luma = (np.asarray(picture[y0:y1, x0:x1], dtype=float) - _VIDEO_BLACK) / _VIDEO_SPAN
    return _Pixels(luma, inside, (x0, y0))


def _fit(
    pixels: _Pixels, sheet_id: int, rough_px: Floats, shade: NDArray[np.int8] | None = None
) -> SheetCorners | None:
    """Corners by all pixels of a sheet; ``shade``: what of it is lit and what in shade, from ``shade_on``."""
    used = pixels.inside if shade is None else pixels.inside & (shade != 0)
    rows, columns = np.nonzero(used)
    stride = max(1, round(rows.size / _MAX_PIXELS))
    rows, columns = rows[::stride], columns[::stride]
    if rows.size < _FEWEST_PIXELS:
        return None
    xy = np.array([columns, rows], dtype=float) + np.array(pixels.corner_px, dtype=float)[:, None]
    values = pixels.luma[rows, columns]
    shaded = None if shade is None else shade[rows, columns] < 0
    low, high = np.percentile(values if shaded is None else values[~shaded], (4, 96))
    if high - low < _LEAST_CONTRAST:
        return None
    noise = _NOISE * (high - low) * np.sqrt(_CORRELATION_AREA_PX / min(stride, _CORRELATION_AREA_PX))
    model = PrintModel(sheet_id, xy, values, rough_px, noise, shaded)
    start = np.zeros(14 if shaded is None else 17)
    start[8:12] = BLUR_PRIOR_PX[0], np.log(GAMMA_PRIOR[0]), max(low, 0.01), high
    if shaded is not None:
        start[14] = np.percentile(values[shaded], 96) / high
    fit = least_squares(
        model.residuals,
        start,
        model.jacobian,
        loss="soft_l1",
        f_scale=3.0,
        x_scale="jac",
        ftol=_ENOUGH,
        xtol=_ENOUGH,
        max_nfev=40,
    )
    rms = float(np.sqrt(np.mean(model.misfit(fit.x) ** 2)) / (high - low))
    if np.abs(fit.x[:8]).max() > _MOST_MOVE_PX:
        return None
    floor_px = _FLOOR_PX if shaded is None else _FLOOR_IN_SHADE_PX
    inflation = _ALIKE * max(1.0, (rms / _NOISE) ** 2)
    cov = np.linalg.pinv(fit.jac.T @ fit.jac) * inflation
    return SheetCorners(
        id=sheet_id,
        corners_px=rough_px + fit.x[:8].reshape(4, 2),
        cov_px2=cov[:8, :8] + np.eye(8) * floor_px**2,
        residual=rms,
        blur_px=blur_of(fit.x),
        gamma=float(np.exp(fit.x[9])),
    )
