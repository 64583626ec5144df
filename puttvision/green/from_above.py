"""A second look for sheets: the green as seen from straight above, where far sheets are square again.

Seen flat from afar, a sheet's cells are a pixel or two high, and the finder reads no code in them. Where one
sheet has told the plane, the picture can be drawn as a map of it, and the finder looks there.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera
from puttvision.green.sheet import SHEET_SIDE_M, detect

Floats = NDArray[np.float64]

_M_PER_PX = 0.005
"""A sheet is 36 of these wide; at 8 mm the finder loses sheets that it still reads at 5."""
_FARTHEST_M = 10.0
_KNOT_PX = 16
"""The map's places in the picture are projected at so many pixels' distance and interpolated between."""


def detect_from_above(picture: NDArray[np.uint8], camera: Camera) -> dict[int, Floats]:
    """Markers found in a map of the plane: by id, corners in the picture, shape (4, 2), as ``detect``."""
    box = _seen_m(camera)
    if box is None:
        return {}
    left, near, right, far = box
    across = np.arange(left, right, _M_PER_PX * _KNOT_PX)
    away = np.arange(far, near, -_M_PER_PX * _KNOT_PX)
    if len(across) < 2 or len(away) < 2:
        return {}
    x, y = np.meshgrid(across, away)
    knots = camera.project(np.stack([x, y, np.zeros_like(x)], axis=-1).reshape(-1, 3))
    knots = np.nan_to_num(knots, nan=-1e4).reshape(*x.shape, 2).astype(np.float32)
    # knot k is pixel k * _KNOT_PX of the map: no half-pixel shift as cv2.resize would make
    rows, columns = (np.arange((n - 1) * _KNOT_PX + 1) / _KNOT_PX for n in x.shape)
    x, y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
    u, v = cv2.split(cv2.remap(knots, x, y, cv2.INTER_LINEAR))
    above = cv2.remap(picture, u, v, cv2.INTER_LINEAR)
    found = {}
    for sheet_id, corners in detect(np.asarray(above, dtype=np.uint8)).items():
        ground = np.column_stack(
            [left + corners[:, 0] * _M_PER_PX, far - corners[:, 1] * _M_PER_PX, np.zeros(4)]
        )
        sides = np.hypot(*(np.roll(ground, -1, axis=0) - ground)[:, :2].T)
        if np.abs(sides / SHEET_SIDE_M - 1).max() < _SIDE_OFF:
            found[sheet_id] = camera.project(ground)
    return found


_SIDE_OFF = 0.35
"""What is read as a sheet is as large as one, within what one sheet alone tells of the plane far off."""


def _seen_m(camera: Camera) -> tuple[float, float, float, float] | None:
    """The part of the plane that the picture shows: left, near, right, far in metres; None for nothing."""
    u = np.linspace(0, camera.width - 1, 12)
    v = np.linspace(0, camera.height - 1, 40)
    ground = camera.to_plane(np.stack(np.meshgrid(u, v), axis=-1).reshape(-1, 2))
    ground = ground[np.isfinite(ground).all(axis=1)]
    ground = ground[np.hypot(*(ground - camera.centre_m[:2]).T) < _FARTHEST_M]
    if not len(ground):
        return None
    left, near = ground.min(axis=0)
    right, far = ground.max(axis=0)
    return float(left), float(near), float(right), float(far)
