"""Sampled pictures of a clip brought to one view, where the tripod did not quite stand still."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.green.anchors import choose_anchors, find_again
from puttvision.green.search import search_points

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]
Picture = tuple[Plane, Plane, Plane]

_STEADY_PX = 0.15
"""Anchors that move by less in the median have not moved."""
_SWAY_PX = 10.0
"""A view displaced by more is not drawn anew: things that stand up would lean."""
_LEAST_SHARE, _FEWEST = 1 / 3, 5
_FEWEST_ANCHORS = 6


@dataclass(frozen=True, slots=True)
class Aligned:
    """Pictures of one view."""

    pictures: list[Picture]
    n_left_out: int
    """Pictures from where the tripod stood at another time."""


def align(pictures: Sequence[Picture]) -> Aligned:
    """Pictures (luma, cb, cr) as the camera saw them at one moment; those of another stand are left out.

    The view is that of the first picture, unless less than a third of the others share its stand.
    """
    if len(pictures) < 2:
        return Aligned(list(pictures), 0)
    best: list[Picture] = []
    enough = max(min(_FEWEST, len(pictures)), int(_LEAST_SHARE * len(pictures)))
    tried = [0, len(pictures) - 1, len(pictures) // 2]
    for reference in tried:
        aligned = _to_view(pictures[reference], pictures)
        if len(aligned) > len(best):
            best = aligned
        if len(best) >= enough:
            break
    return Aligned(best, len(pictures) - len(best))


def _to_view(reference: Picture, pictures: Sequence[Picture]) -> list[Picture]:
    anchors = choose_anchors(reference[0])
    if len(anchors) < _FEWEST_ANCHORS:
        return list(pictures)
    kept: list[Picture] = []
    at_px = np.array([anchor.at_px for anchor in anchors])
    for picture in pictures:
        shifts = [find_again(anchor, picture[0], anchor.at_px) for anchor in anchors]
        seen = np.array([shift is not None for shift in shifts])
        moves = np.array([shift.by_px for shift in shifts if shift is not None]).reshape(-1, 2)
        if np.count_nonzero(seen) >= _FEWEST_ANCHORS:
            length = float(np.median(np.hypot(moves[:, 0], moves[:, 1])))
            if length < _STEADY_PX:
                kept.append(picture)
                continue
            before, now = at_px[seen], at_px[seen] + moves
        else:
            found = search_points(reference[0], picture[0])
            if found is None:
                continue
            before, now = found
            length = float(np.median(np.hypot(*(now - before).T)))
        if length > _SWAY_PX:
            continue
        homography, _ = cv2.findHomography(before, now, cv2.RANSAC, 0.5)
        if homography is not None:
            kept.append(_drawn(picture, np.asarray(homography, dtype=float)))
    return kept


def _drawn(picture: Picture, homography: Floats) -> Picture:
    """A picture as seen from the reference, of which the homography gives its pixels."""
    luma = picture[0]
    drawn = [_warped(luma, homography)]
    for plane in picture[1:]:
        ratio = np.diag([luma.shape[1] / plane.shape[1], luma.shape[0] / plane.shape[0], 1.0])
        drawn.append(_warped(plane, np.linalg.inv(ratio) @ homography @ ratio))
    return drawn[0], drawn[1], drawn[2]


def _warped(plane: Plane, homography: Floats) -> Plane:
    size = (plane.shape[1], plane.shape[0])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return np.asarray(
        cv2.warpPerspective(plane, homography, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), np.uint8
    )
