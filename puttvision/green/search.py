"""Finding a picture's features again in another, when it has moved by more than a few pixels."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_SCALE = 2
_FEATURES = 160
_LEVELS = 5
_BACK_PX = 0.5
"""A feature followed there and back must come back to within so much."""
_RANSAC_PX = 1.5
_FEWEST = 12


def search_points(
    reference: Plane, picture: Plane, within: Plane | None = None
) -> tuple[Floats, Floats] | None:
    """Places (n, 2) in a reference picture and the same in another, or None where too few agree.

    ``within``: shape (h, w), non-zero where places of the reference may lie.
    Corners are followed through a pyramid (Bouguet's form of Lucas and Kanade's method) there and
    back; those that one homography explains are kept (RANSAC).
    """
    size = (reference.shape[1] // _SCALE, reference.shape[0] // _SCALE)
    before = np.asarray(cv2.resize(reference, size, interpolation=cv2.INTER_AREA), np.uint8)
    now = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)
    mask = None if within is None else np.ascontiguousarray(within[::_SCALE, ::_SCALE][: size[1], : size[0]])
    corners = cv2.goodFeaturesToTrack(before, _FEATURES, 0.01, 12, mask=mask, blockSize=7)
    if corners is None or len(corners) < _FEWEST:
        return None
    there, seen = _followed(before, now, corners)
    back, seen_back = _followed(now, before, there)
    start, end = corners.reshape(-1, 2).astype(float), there.reshape(-1, 2).astype(float)
    good = (seen.ravel() > 0) & (seen_back.ravel() > 0)
    good &= np.hypot(*(back.reshape(-1, 2) - start).T) < _BACK_PX
    if np.count_nonzero(good) < _FEWEST:
        return None
    start, end = (start[good] + 0.5) * _SCALE - 0.5, (end[good] + 0.5) * _SCALE - 0.5
    homography, inliers = cv2.findHomography(start, end, cv2.RANSAC, _RANSAC_PX)
    if homography is None or np.count_nonzero(inliers) < max(_FEWEST, len(start) // 4):
        return None
    kept = inliers.ravel() > 0
    return start[kept], end[kept]


def _followed(before: Plane, now: Plane, points: NDArray[Any]) -> tuple[NDArray[Any], NDArray[Any]]:
    places, seen, _ = cv2.calcOpticalFlowPyrLK(
        before, now, points, np.empty_like(points), winSize=(21, 21), maxLevel=_LEVELS
    )
    return np.asarray(places), np.asarray(seen)
