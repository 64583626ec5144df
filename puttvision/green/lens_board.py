"""The board that a lens is measured with: a chessboard with a marker in every white square, one page.

All of it lies on a grid of 4 mm: squares of 36 mm, markers of 28 mm in their middle. Its markers are of
another dictionary than the sheets', so that neither is taken for the other. Board frame: OpenCV's, origin at
the top left corner as printed, x to the right and y down, metres.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

CELL_M = 0.004
SQUARE_CELLS, MARKER_CELLS = 9, 7
SQUARE_M, MARKER_M = SQUARE_CELLS * CELL_M, MARKER_CELLS * CELL_M
COLUMNS, ROWS = 5, 6
DICTIONARY = cv2.aruco.DICT_5X5_50
N_CORNERS = (COLUMNS - 1) * (ROWS - 1)


def board() -> cv2.aruco.CharucoBoard:
    """OpenCV's own description of the board."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    return cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE_M, MARKER_M, dictionary)


def board_cells() -> NDArray[np.bool_]:
    """The print on its grid, shape (rows, columns) of cells, True is black."""
    size = (COLUMNS * SQUARE_CELLS, ROWS * SQUARE_CELLS)
    return np.asarray(board().generateImage(size, marginSize=0, borderBits=1) < 128)
