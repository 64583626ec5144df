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
from puttvision.green.blurred_print import Footprints, footprints
from puttvision.green.print_tone import Tone
from puttvision.green.sheet import MARKER_CELLS, SHEET_SIDE_M, sheet_corners

Floats = NDArray[np.float64]

_QUIET_M = 0.012
"""How far outside the black square the fit looks; the print leaves 15 mm of white."""
_GAMMA_PRIOR = (2.2, 0.5)
"""Tone curve I = L^(1/gamma): video's usual exponent, weakly."""
_BLUR_PRIOR_PX = (0.7, 0.5)
_LEAST_BLUR_PX = 0.05
_NUDGE_PX = 1e-4
"""Over so much are slopes told."""
_NOISE = 0.03
"""Expected misfit as a share of white minus black; the covariance grows where it is more."""
_FLOOR_PX = 0.02
"""What a corner can claim at best: sharpening and compression bend edges by a few hundredths."""
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
_CORNERS = sheet_corners()[:, :2] * (MARKER_CELLS / SHEET_SIDE_M)
"""Of the black square, in cells, shape (4, 2)."""


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
    found = _fit(picture, sheet_id, rough_px)
    if found is None:
        return None
    sides = np.roll(found.corners_px, -1, axis=0) - found.corners_px
    cell_px = float(np.hypot(sides[:, 0], sides[:, 1]).min()) / MARKER_CELLS
    if np.abs(found.corners_px - rough_px).max() > _AGAIN_CELLS * cell_px:
        return _fit(picture, sheet_id, found.corners_px) or found
    return found


def _fit(picture: NDArray[np.uint8] | Floats, sheet_id: int, rough_px: Floats) -> SheetCorners | None:
    """``fit_corners``, to the pixels that lie on the sheet as it is roughly known."""
    height, width = picture.shape
    grown = 1 + 2 * _QUIET_M / SHEET_SIDE_M
    to_px, _ = cv2.findHomography(_CORNERS, rough_px)
    hull = cv2.perspectiveTransform((_CORNERS * grown)[None], to_px)[0]
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
    noise = _NOISE * (high - low) * np.sqrt(_CORRELATION_AREA_PX / min(stride, _CORRELATION_AREA_PX))
    model = _Model(sheet_id, xy, values, rough_px, noise)
    start = np.zeros(14)
    start[8:12] = _BLUR_PRIOR_PX[0], np.log(_GAMMA_PRIOR[0]), max(low, 0.01), high
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
    if rms > 0.12 or np.abs(fit.x[:8]).max() > 6:
        return None
    inflation = _ALIKE * max(1.0, (rms / _NOISE) ** 2)
    cov = np.linalg.pinv(fit.jac.T @ fit.jac) * inflation
    return SheetCorners(
        id=sheet_id,
        corners_px=rough_px + fit.x[:8].reshape(4, 2),
        cov_px2=cov[:8, :8] + np.eye(8) * _FLOOR_PX**2,
        residual=rms,
        blur_px=_blur_px(fit.x),
        gamma=float(np.exp(fit.x[9])),
    )


class _Model:
    """What a picture of a sheet looks like, against the one at hand, under 14 parameters.

    These are the moves of the corners x0 y0 x1 y1 ... in pixels, the blur, the logarithm of gamma, luma of
    black and of white, and the white's slopes along the sheet's x and y.
    """

    def __init__(self, sheet_id: int, xy_px: Floats, luma: Floats, rough_px: Floats, noise: float) -> None:
        self._print = blurred_print.crossings(sheet_id)
        self._xy_px, self._luma, self._rough_px, self._noise = xy_px, luma, rough_px, noise
        self._n_places = blurred_print.n_places_for(footprints(xy_px, _homography(rough_px, _CORNERS), 1.0))

    def _footprints(self, moves_px: Floats, blur_px: float) -> Footprints:
        inverse = _homography(self._rough_px + moves_px.reshape(4, 2), _CORNERS)
        return footprints(self._xy_px, inverse, blur_px, slanted=self._n_places > 1)

    def misfit(self, p: Floats) -> Floats:
        """Model minus picture at every pixel, shape (n,)."""
        seen = self._footprints(p[:8], _blur_px(p))
        share = blurred_print.whites(self._print, seen, self._n_places)
        return Tone.at(seen.cells, p[9:]).luma(share) - self._luma

    def residuals(self, p: Floats) -> Floats:
        """Misfits over their noise, and then the priors of blur and gamma, shape (n + 2,)."""
        of_blur = (p[8] - _BLUR_PRIOR_PX[0]) / _BLUR_PRIOR_PX[1]
        of_gamma = (np.exp(p[9]) - _GAMMA_PRIOR[0]) / _GAMMA_PRIOR[1]
        return np.append(self.misfit(p) / self._noise, (of_blur, of_gamma))

    def jacobian(self, p: Floats) -> Floats:
        """Slopes of the residuals, shape (n + 2, 14).

        Only where the pixels lie on the sheet is nudged corner by corner; the rest is exact.
        """
        seen = self._footprints(p[:8], _blur_px(p))
        share, share_over = blurred_print.white_slopes(self._print, seen, self._n_places)
        slopes = Tone.at(seen.cells, p[9:]).slopes(share)
        columns = np.zeros((14, share.size + 2))
        pixels = columns[:, :-2]
        for column, nudge in zip(pixels, np.eye(8) * _NUDGE_PX, strict=False):
            step = self._footprints(p[:8] + nudge, _blur_px(p)) - seen
            paler = p[12:14] @ step.cells / MARKER_CELLS
            column[:] = (slopes.share * share_over.change(step) + slopes.white * paler) / _NUDGE_PX
        wider = Footprints(np.zeros_like(seen.cells), seen.along, seen.rest)
        pixels[8] = slopes.share * share_over.change(wider) * (np.sign(p[8]) / _blur_px(p))
        pixels[9] = slopes.log_gamma
        pixels[10], pixels[11] = slopes.black, slopes.white
        pixels[12:] = slopes.white * seen.cells / MARKER_CELLS
        pixels /= self._noise
        columns[8, -2] = 1 / _BLUR_PRIOR_PX[1]
        columns[9, -1] = np.exp(p[9]) / _GAMMA_PRIOR[1]
        return columns.T


def _blur_px(p: Floats) -> float:
    return float(abs(p[8])) + _LEAST_BLUR_PX


def _homography(source: Floats, target: Floats) -> Floats:
    """Homography through four point pairs, in double precision."""
    (x, y), (u, v) = source.T, target.T
    zero, one = np.zeros(4), np.ones(4)
    rows_u = np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y])
    rows_v = np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y])
    solved = np.linalg.solve(np.vstack([rows_u, rows_v]), np.concatenate([u, v]))
    return np.append(solved, 1.0).reshape(3, 3)
