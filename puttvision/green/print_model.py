"""What a blurred picture of a printed sheet looks like, and how that changes with where the sheet lies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.green import blurred_print
from puttvision.green.blurred_print import Footprints, footprints
from puttvision.green.print_tone import Tone
from puttvision.green.sheet import MARKER_CELLS, SHEET_SIDE_M, sheet_corners

Floats = NDArray[np.float64]

GAMMA_PRIOR = (2.2, 0.5)
"""Tone curve I = L^(1/gamma): video's usual exponent, weakly."""
BLUR_PRIOR_PX = (0.7, 0.5)
_LEAST_BLUR_PX = 0.05
_NUDGE_PX = 1e-4
"""Over so much are slopes told."""
CORNERS = sheet_corners()[:, :2] * (MARKER_CELLS / SHEET_SIDE_M)
"""Of the black square, in cells, shape (4, 2)."""


class PrintModel:
    """What a picture of a sheet looks like, against the one at hand, under 14 parameters.

    These are the moves of the corners x0 y0 x1 y1 ... in pixels, the blur, the logarithm of gamma, luma of
    black and of white, and the white's slopes along the sheet's x and y. Of a sheet partly in shade there
    are three more: the ratio of luma in shade to luma in the sun, and its slopes.
    """

    def __init__(
        self,
        sheet_id: int,
        xy_px: Floats,
        luma: Floats,
        rough_px: Floats,
        noise: float,
        shaded: NDArray[np.bool_] | None,
    ) -> None:
        self._print = blurred_print.crossings(sheet_id)
        self._xy_px, self._luma, self._rough_px, self._noise = xy_px, luma, rough_px, noise
        self._shaded = shaded
        self._n_places = blurred_print.n_places_for(footprints(xy_px, homography(rough_px, CORNERS), 1.0))

    def _footprints(self, moves_px: Floats, blur_px: float) -> Footprints:
        inverse = homography(self._rough_px + moves_px.reshape(4, 2), CORNERS)
        return footprints(self._xy_px, inverse, blur_px, slanted=self._n_places > 1)

    def misfit(self, p: Floats) -> Floats:
        """Model minus picture at every pixel, shape (n,)."""
        seen = self._footprints(p[:8], blur_of(p))
        share = blurred_print.whites(self._print, seen, self._n_places)
        return self._dimming(seen.cells, p) * Tone.at(seen.cells, p[9:14]).luma(share) - self._luma

    def _dimming(self, cells: Floats, p: Floats) -> Floats:
        """Luma as a share of what it would be if no shade fell there, shape (n,)."""
        if self._shaded is None:
            return np.ones(cells.shape[1])
        return np.where(self._shaded, p[14] + p[15:17] @ cells / MARKER_CELLS, 1.0)

    def residuals(self, p: Floats) -> Floats:
        """Misfits over their noise, and then the priors of blur and gamma, shape (n + 2,)."""
        of_blur = (p[8] - BLUR_PRIOR_PX[0]) / BLUR_PRIOR_PX[1]
        of_gamma = (np.exp(p[9]) - GAMMA_PRIOR[0]) / GAMMA_PRIOR[1]
        return np.append(self.misfit(p) / self._noise, (of_blur, of_gamma))

    def jacobian(self, p: Floats) -> Floats:
        """Slopes of the residuals, shape (n + 2, 14 or 17).

        Only where the pixels lie on the sheet is nudged corner by corner; the rest is exact.
        """
        seen = self._footprints(p[:8], blur_of(p))
        share, share_over = blurred_print.white_slopes(self._print, seen, self._n_places)
        tone = Tone.at(seen.cells, p[9:14])
        slopes, dimming = tone.slopes(share), self._dimming(seen.cells, p)
        columns = np.zeros((p.size, share.size + 2))
        pixels = columns[:, :-2]
        for column, nudge in zip(pixels, np.eye(8) * _NUDGE_PX, strict=False):
            step = self._footprints(p[:8] + nudge, blur_of(p)) - seen
            paler = p[12:14] @ step.cells / MARKER_CELLS
            column[:] = (slopes.share * share_over.change(step) + slopes.white * paler) / _NUDGE_PX
        wider = Footprints(np.zeros_like(seen.cells), seen.along, seen.rest)
        pixels[8] = slopes.share * share_over.change(wider) * (np.sign(p[8]) / blur_of(p))
        pixels[9] = slopes.log_gamma
        pixels[10], pixels[11] = slopes.black, slopes.white
        pixels[12:14] = slopes.white * seen.cells / MARKER_CELLS
        pixels *= dimming
        if self._shaded is not None:
            pixels[14] = tone.luma(share) * self._shaded
            pixels[15:] = pixels[14] * seen.cells / MARKER_CELLS
        pixels /= self._noise
        columns[8, -2] = 1 / BLUR_PRIOR_PX[1]
        columns[9, -1] = np.exp(p[9]) / GAMMA_PRIOR[1]
        return columns.T


def blur_of(p: Floats) -> float:
    return float(abs(p[8])) + _LEAST_BLUR_PX


def homography(source: Floats, target: Floats) -> Floats:
    """Homography through four point pairs, in double precision."""
    (x, y), (u, v) = source.T, target.T
    zero, one = np.zeros(4), np.ones(4)
    rows_u = np.column_stack([x, y, one, zero, zero, zero, -u * x, -u * y])
    rows_v = np.column_stack([zero, zero, zero, x, y, one, -v * x, -v * y])
    solved = np.linalg.solve(np.vstack([rows_u, rows_v]), np.concatenate([u, v]))
    return np.append(solved, 1.0).reshape(3, 3)
