"""The printed sheet: its marker, its size, its corners, and a coarse finder for it in a picture.

One sheet carries one square marker of OpenCV's predefined dictionary DICT_4X4_50. Sheet frame:
origin at the marker's centre, x to the right and y up as printed, z out of the paper; metres.
Corners run in OpenCV's order: top left, top right, bottom right, bottom left, as printed.
Pixels are counted from the centre of the top left pixel, x to the right and y down.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

SHEET_SIDE_M = 0.180
"""Outer side of the black square."""
QUIET_ZONE_M = 0.015
"""Least white around it, on every side."""
SHEET_IDS = tuple(range(10))
"""The ids that a sheet may have."""
DICTIONARY = cv2.aruco.DICT_4X4_50
MARKER_CELLS = 6
"""Cells along a side: four of code and one of black border at either end."""


def sheet_corners(side_m: float = SHEET_SIDE_M) -> NDArray[np.float64]:
    """Corners of the black square in the sheet frame, shape (4, 3), metres: TL, TR, BR, BL; z = 0."""
    half = side_m / 2
    return np.array([[-half, half, 0.0], [half, half, 0.0], [half, -half, 0.0], [-half, -half, 0.0]])


def marker_bits(sheet_id: int, dictionary: int = DICTIONARY) -> NDArray[np.bool_]:
    """Cells of a marker with its border, row 0 at the top as printed: True is white.

    Returns shape (cells, cells), 6 x 6 for a sheet. Raises ValueError for an id that the
    dictionary does not hold.
    """
    codes = cv2.aruco.getPredefinedDictionary(dictionary)
    n_codes = codes.bytesList.shape[0]
    if not 0 <= sheet_id < n_codes:
        raise ValueError(f"a marker id is 0 to {n_codes - 1}, got {sheet_id}")
    cells = codes.markerSize + 2
    image = cv2.aruco.generateImageMarker(codes, sheet_id, cells, borderBits=1)
    return np.asarray(image > 127)


@dataclass(frozen=True, slots=True)
class FinderSettings:
    """How the coarse finder looks for sheets."""

    smallest_perimeter_rate: float = 0.015
    """Least perimeter over the picture's longer side: 29 px at 1920 (OpenCV's own 0.03: a sheet 7 m off)."""
    window_max_px: int = 53
    """Widest window of the local threshold; a near sheet's border is some 25 px wide in 4K."""
    window_step_px: int = 10
    error_correction_rate: float = 0.6
    """Share of the dictionary's one correctable bit that may be wrong, rounded down: none (OpenCV's default).

    At 1.0 more far sheets are found (28 of the 40 below), but a photographed board of another
    dictionary then shows a false id 9."""
    pixels_per_cell: int = 8
    """Pixels a cell is resampled to before it is read. OpenCV's own 4 finds fewer far sheets (20 of 40
    rendered ones at 6 and 7 m, lens 1.5 m up, against 23) and one false marker more in photographs."""


def detect(
    luma: NDArray[np.uint8],
    dictionary: int = DICTIONARY,
    ids: Collection[int] | None = SHEET_IDS,
    settings: FinderSettings | None = None,
) -> dict[int, NDArray[np.float64]]:
    """Find markers in one picture, coarsely: to 1 or 2 pixels, enough to start an edge fit from.

    Parameters
    ----------
    luma : shape (height, width), 8 bit grey
    dictionary : one of OpenCV's predefined dictionaries
    ids : those looked for; None for all that the dictionary holds
    settings : None for those of ``FinderSettings()``

    Returns
    -------
    corners_px : by id, shape (4, 2), in the order of ``sheet_corners``. An id seen twice is left out:
        it cannot be said which is the sheet. An id alone is no proof of a sheet (print and patterns
        in the background can carry one): the caller checks it against the plane.
    """
    if luma.ndim != 2 or luma.dtype != np.uint8:
        raise ValueError(f"luma is (height, width) of uint8, got {luma.shape} of {luma.dtype}")
    chosen = settings or FinderSettings()
    parameters = cv2.aruco.DetectorParameters()
    parameters.minMarkerPerimeterRate = chosen.smallest_perimeter_rate
    parameters.adaptiveThreshWinSizeMax = chosen.window_max_px
    parameters.adaptiveThreshWinSizeStep = chosen.window_step_px
    parameters.errorCorrectionRate = chosen.error_correction_rate
    parameters.perspectiveRemovePixelPerCell = chosen.pixels_per_cell
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(dictionary), parameters)
    quads, found, _ = detector.detectMarkers(np.ascontiguousarray(luma))
    if found is None:
        return {}
    seen = [int(i) for i in np.ravel(found)]
    return {
        i: np.asarray(quad, dtype=np.float64).reshape(4, 2)
        for i, quad in zip(seen, quads, strict=True)
        if seen.count(i) == 1 and (ids is None or i in ids)
    }


_STRETCHES = ((2.0, 3.0), (1.0, 1.0), (3.0, 3.0))
"""Across and down: far sheets are seen flat. In the medians of ten clips in which a sheet is not found as it
is, six are found so, a seventh and an eighth in clips where there was none before."""
_WIDEST_PX = 6000
_SHARPEN, _BLURRED_PX = 1.2, 0.8
"""So much of what differs from the picture blurred by so many of its own pixels is added: a far sheet's cells
are as wide as the blur."""


def detect_far(luma: NDArray[np.uint8]) -> dict[int, NDArray[np.float64]]:
    """As ``detect``, for sheets that look small and flat: in the picture enlarged and sharpened."""
    found: dict[int, NDArray[np.float64]] = {}
    for wider, taller in _STRETCHES:
        too_wide = luma.shape[1] * wider > _WIDEST_PX
        across, down = (1.0, taller / wider) if too_wide else (wider, taller)
        large = cv2.resize(luma, None, fx=across, fy=down, interpolation=cv2.INTER_CUBIC)
        blurred = cv2.GaussianBlur(large, (0, 0), max(1.0, _BLURRED_PX * across))
        sharp = cv2.addWeighted(large, 1 + _SHARPEN, blurred, -_SHARPEN, 0)
        for sheet_id, corners in detect(np.asarray(sharp, dtype=np.uint8)).items():
            found.setdefault(sheet_id, (corners + 0.5) / (across, down) - 0.5)
    return found
