"""The set-up that the field guide draws, in metres, and how a phone sees it.

Ground frame: origin at the ball's place, x to the hole, y to the left of the line, z up.
Picture: shares of its width, x right and y down from its top left corner (so y runs to 9/16).
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.green.sheet import SHEET_SIDE_M
from puttvision.printing.paper import PAPERS
from puttvision.printing.sheet_pdf import marker_outlines

PICTURE_HEIGHT = 9 / 16
FOCAL = 1442.22 / 1920
"""Focal length over picture width of a 26 mm equivalent main lens, 16:9 across the full sensor width."""


@dataclass(frozen=True, slots=True)
class LaidSheet:
    """A sheet on the ground: where its marker's centre lies and how it is turned."""

    sheet_id: int
    x_m: float
    y_m: float
    turn_deg: float

    def _ground(self, xy_m: NDArray[np.float64]) -> NDArray[np.float64]:
        c, s = np.cos(np.radians(self.turn_deg)), np.sin(np.radians(self.turn_deg))
        turned = xy_m @ np.array([[c, s], [-s, c]]) + [self.x_m, self.y_m]
        return np.asarray(turned, dtype=np.float64)

    def paper(self) -> NDArray[np.float64]:
        """Outline of the A4 page on the ground, shape (4, 2)."""
        paper = PAPERS["a4"]
        half = paper.width_mm / 2000
        top = SHEET_SIDE_M / 2 + paper.black_top_mm / 1000
        low = top - paper.height_mm / 1000
        return self._ground(np.array([[-half, top], [half, top], [half, low], [-half, low]]))

    def marker(self) -> list[NDArray[np.float64]]:
        """Outlines of the marker on the ground, to be filled by the even-odd rule."""
        upright = np.array([SHEET_SIDE_M, -SHEET_SIDE_M])
        return [self._ground((outline - 0.5) * upright) for outline in marker_outlines(self.sheet_id)]


BALL = np.array([0.0, 0.0])
HOLE = np.array([3.05, 0.0])
"""A putt of 10 ft."""
GATE_X_M = 0.45
GATE_HALF_M = 0.035
SHEETS = (LaidSheet(0, 0.16, -0.50, 14.0), LaidSheet(1, 2.62, 0.46, -22.0))
SHOES = (np.array([-0.24, 0.46]), np.array([0.10, 0.46]))
"""Middles of a right-handed player's feet."""
SHOE_HALF_M = (0.055, 0.15)
PHONE = np.array([1.525, -3.0, 1.5])
LOOKS_AT = np.array([1.525, 0.0, 0.0])


def half_angle_rad() -> float:
    """Half the phone's horizontal angle of view."""
    return float(np.arctan(0.5 / FOCAL))


def picture(points_m: ArrayLike) -> NDArray[np.float64]:
    """Project ground points of shape (n, 2), or space points (n, 3), to the picture; returns (n, 2)."""
    points = np.asarray(points_m, dtype=float)
    if points.shape[1] == 2:
        points = np.column_stack([points, np.zeros(len(points))])
    ahead = (LOOKS_AT - PHONE) / np.linalg.norm(LOOKS_AT - PHONE)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.vstack([right, np.cross(ahead, right), ahead])
    matrix = np.array([[FOCAL, 0, 0.5], [0, FOCAL, PICTURE_HEIGHT / 2], [0, 0, 1]])
    pixels, _ = cv2.projectPoints(points, cv2.Rodrigues(rotation)[0], -rotation @ PHONE, matrix, None)
    return np.asarray(pixels, dtype=np.float64).reshape(-1, 2)
