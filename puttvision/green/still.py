"""The still picture of a clip: what stands, with everything that moves taken out.

A tripod stands still, so the median of frames spread over the clip shows green, sheets, hole and
tees, with less noise than any one frame.
"""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class StillPicture:
    """Median luma and chroma of sampled frames."""

    luma: Plane
    """Shape (h, w)."""
    cb: Plane
    cr: Plane
    """At the clip's own subsampling."""
    n_frames: int


def median_plane(planes: list[Plane]) -> Plane:
    """Median of equally shaped 8-bit planes (the lower middle of an even number); both halves at once."""
    half = planes[0].shape[0] // 2
    parts = [[plane[:half] for plane in planes], [plane[half:] for plane in planes]]
    with ThreadPoolExecutor(max_workers=2) as workers:
        return np.vstack(list(workers.map(_median, parts)))


def _median(planes: list[Plane]) -> Plane:
    """In place of a sort by exchanging neighbours, which runs at memory speed."""
    row = list(planes)
    middle = (len(row) - 1) // 2
    for i in range(middle + 1):
        for j in range(len(row) - 1, i, -1):
            low, high = cv2.min(row[j - 1], row[j]), cv2.max(row[j - 1], row[j])
            row[j - 1], row[j] = np.asarray(low, np.uint8), np.asarray(high, np.uint8)
    return np.asarray(row[middle], dtype=np.uint8)


def still_picture(frames: Iterable[tuple[Plane, Plane, Plane]]) -> StillPicture | None:
    """Median of (luma, cb, cr) frames; None where there are none."""
    lumas: list[Plane] = []
    blues: list[Plane] = []
    reds: list[Plane] = []
    for luma, cb, cr in frames:
        lumas.append(np.ascontiguousarray(luma))
        blues.append(np.ascontiguousarray(cb))
        reds.append(np.ascontiguousarray(cr))
    if not lumas:
        return None
    return StillPicture(median_plane(lumas), median_plane(blues), median_plane(reds), len(lumas))


def full_size(plane: NDArray[np.uint8], shape: tuple[int, int]) -> NDArray[np.float32]:
    """A chroma plane at luma's size, ``shape`` (h, w).

    Samples are taken to sit in the middle of the luma samples they stand for. Some makers put them on
    the left column; that is a quarter of a luma pixel, well inside what a foot or a rim in colour can claim.
    """
    fx, fy = shape[1] / plane.shape[1], shape[0] / plane.shape[0]
    move = np.array([[1 / fx, 0, -0.5 * (1 - 1 / fx)], [0, 1 / fy, -0.5 * (1 - 1 / fy)]])
    return np.asarray(
        cv2.warpAffine(
            plane.astype(np.float32), move, shape[::-1],
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
        )
    )  # fmt: skip
