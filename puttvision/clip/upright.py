"""From the picture as stored to the picture as seen: quarter turns, mirroring, square pixels.

Stored and upright pictures have x to the right and y down, row 0 at the top. A container's display
matrix says where a stored point is shown: ``x' = a x + c y``, ``y' = b x + d y`` (QuickTime File
Format, "Matrices"; FFmpeg ``libavutil/display.h`` holds the nine numbers row by row as a b u c d v x y w).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.errors import ClipError

ONE = 1 << 16
"""One in the 16.16 fixed-point numbers of a display matrix."""

NEARLY_SQUARE = 0.002
"""Pixels less than this far from square are taken as square: resampling would blur the picture by more
than the 0.2 % of one axis is worth beside a lens whose focal length is known to about 1 %."""


@dataclass(frozen=True, slots=True)
class Upright:
    """How a stored picture is brought upright: mirror left-right first, then turn clockwise.

    ``turn_deg`` is 0, 90, 180 or 270. ``stretch_x`` and ``stretch_y`` (1 or more) make the pixels of
    the stored picture square before that.
    """

    turn_deg: int = 0
    mirrored: bool = False
    stretch_x: float = 1.0
    stretch_y: float = 1.0

    @property
    def changes_nothing(self) -> bool:
        return self == Upright()

    def size(self, width: int, height: int) -> tuple[int, int]:
        """Width and height of the upright picture."""
        width, height = round(width * self.stretch_x), round(height * self.stretch_y)
        return (height, width) if self.turn_deg in (90, 270) else (width, height)

    def apply(self, plane: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Turn one plane upright; shape (rows, columns) in, a contiguous new array out."""
        picture: Any = plane
        if (self.stretch_x, self.stretch_y) != (1.0, 1.0):
            rows, columns = plane.shape
            size = (round(columns * self.stretch_x), round(rows * self.stretch_y))
            picture = cv2.resize(picture, size, interpolation=cv2.INTER_LINEAR)
        if self.mirrored:
            picture = cv2.flip(picture, 1)
        if self.turn_deg:
            picture = cv2.rotate(picture, _CV_TURNS[self.turn_deg])
        upright: NDArray[np.uint8] = np.ascontiguousarray(picture)
        return upright


_CV_TURNS = {
    90: cv2.ROTATE_90_CLOCKWISE,
    180: cv2.ROTATE_180,
    270: cv2.ROTATE_90_COUNTERCLOCKWISE,
}


def from_display(matrix: Sequence[int] | None, sample_aspect: float, file: str) -> Upright:
    """Read a display matrix (nine 16.16 numbers, row by row) and the width of a pixel over its height.

    Raises
    ------
    ClipError
        The matrix turns the picture by something else than quarter turns.
    """
    stretch_x = stretch_y = 1.0
    if abs(sample_aspect - 1.0) > NEARLY_SQUARE:
        stretch_x, stretch_y = max(sample_aspect, 1.0), max(1.0 / sample_aspect, 1.0)
    turn_deg, mirrored = _turn(matrix, file) if matrix is not None else (0, False)
    return Upright(turn_deg, mirrored, stretch_x, stretch_y)


def _turn(matrix: Sequence[int], file: str) -> tuple[int, bool]:
    """Split the matrix into a left-right mirror and, after it, a clockwise turn."""
    a, b, c, d = (matrix[i] / ONE for i in (0, 1, 3, 4))
    mirrored = a * d - b * c < 0
    along_x = (-a, -b) if mirrored else (a, b)  # where the (mirrored) stored x axis points
    angle_deg = math.degrees(math.atan2(along_x[1], along_x[0]))
    turn_deg = round(angle_deg / 90) * 90
    if abs(angle_deg - turn_deg) > 1.0 or abs(a * c + b * d) > 0.02 * (a * a + b * b):
        raise ClipError(
            f"{file}: the file says to show the picture turned by {angle_deg:.0f} degrees; "
            "only quarter turns can be measured: save the clip again without that turn"
        )
    return turn_deg % 360, mirrored
