"""Anchors: small patches of what stands still, by which a camera that moves is told from one that does not.

A patch is found again by the method of Lucas and Kanade (1981) in its inverse compositional form
(Baker and Matthews 2004): its gradients are taken once, and each look costs a few small sums.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_SIDE_PX = 31
_EDGE_PX = 24
"""No anchor is so near the picture's edge."""
_TURNS = 6
_STILL_PX = 0.01
_FAR_PX = 6.0
"""A patch is not sought farther off."""
_ALIKE = 0.85
"""Least correlation of a patch with itself as it was."""
_LEAST_CONTRAST = 4.0
"""Standard deviation of luma below which a patch shows nothing to hold on to."""
_CANDIDATES = 60


@dataclass(frozen=True, slots=True)
class Anchor:
    """A patch of a reference picture."""

    at_px: Floats
    """Shape (2,), its middle."""
    look: NDArray[np.float32]
    """Shape (n, n), less its mean, over its standard deviation."""
    gradient: Floats
    """Shape (2, n * n), of the look along x and y."""
    solve: Floats
    """Shape (2, n * n): misfit of the look to shift."""


@dataclass(frozen=True, slots=True)
class AnchorShift:
    """Where an anchor was found again."""

    by_px: Floats
    """Shape (2,), from where it was expected."""
    alike: float
    """Normalised cross-correlation."""


def anchor_at(picture: Plane, at_px: Floats) -> Anchor | None:
    """The patch of a picture about a place; None where it shows nothing to hold on to."""
    patch = _patch(picture, at_px, _SIDE_PX + 2)
    spread = float(patch.std())
    if spread < _LEAST_CONTRAST:
        return None
    whole = (patch - patch.mean()) / spread
    along_x = (whole[1:-1, 2:] - whole[1:-1, :-2]) / 2
    along_y = (whole[2:, 1:-1] - whole[:-2, 1:-1]) / 2
    gradient = np.vstack([along_x.ravel(), along_y.ravel()]).astype(np.float64)
    gradient -= gradient.mean(axis=1, keepdims=True)
    information = gradient @ gradient.T
    if np.linalg.eigvalsh(information)[0] < 1.0:
        return None  # an edge without a corner: it can slide along
    return Anchor(
        at_px=np.asarray(at_px, dtype=float),
        look=_normalised(patch[1:-1, 1:-1]),
        gradient=gradient,
        solve=np.asarray(np.linalg.solve(information, gradient), dtype=float),
    )


def choose_anchors(picture: Plane, within: Plane | None = None, most: int = 16) -> tuple[Anchor, ...]:
    """The patches of a picture that are the easiest to find again, spread over it.

    Corners by the least eigenvalue of the gradients' covariance (Shi and Tomasi 1994). ``within``: shape
    (h, w), non-zero where anchors may lie.
    """
    height, width = picture.shape
    allowed = np.zeros((height, width), np.uint8)
    allowed[_EDGE_PX : height - _EDGE_PX, _EDGE_PX : width - _EDGE_PX] = 255
    if within is not None:
        allowed = np.asarray(cv2.bitwise_and(allowed, within), np.uint8)
    corners = cv2.goodFeaturesToTrack(picture, _CANDIDATES, 0.02, width / 24, mask=allowed, blockSize=7)
    if corners is None:
        return ()
    anchors = (anchor_at(picture, at.astype(float)) for at in corners.reshape(-1, 2))
    return tuple([anchor for anchor in anchors if anchor is not None][:most])


def find_again(anchor: Anchor, picture: Plane, expected_px: Floats) -> AnchorShift | None:
    """The anchor in another picture, near where it is expected; None where it is hidden or gone."""
    by = np.zeros(2)
    for _ in range(_TURNS):
        at = expected_px + by
        now = _normalised(_patch(picture, at, _SIDE_PX))
        step = anchor.solve @ (now - anchor.look).ravel()
        by = by - step
        if np.abs(by).max() > _FAR_PX:
            return None
        if np.abs(step).max() < _STILL_PX:
            break
    alike = _alike(now, anchor.look)
    return AnchorShift(by, alike) if alike > _ALIKE else None


def glance(anchor: Anchor, picture: Plane, expected_px: Floats) -> float | None:
    """About how far an anchor is from where it is expected, pixels, by one step; None where it is hidden."""
    now = _normalised(_patch(picture, expected_px, _SIDE_PX))
    if _alike(now, anchor.look) < _ALIKE:
        return None
    step = anchor.solve @ (now - anchor.look).ravel()
    return float(np.sqrt(step @ step))


def _patch(picture: Plane, at_px: Floats, side_px: int) -> NDArray[np.float32]:
    at = (float(at_px[0]), float(at_px[1]))
    return np.asarray(cv2.getRectSubPix(picture, (side_px, side_px), at, patchType=cv2.CV_32F), np.float32)


def _normalised(patch: NDArray[np.float32]) -> NDArray[np.float32]:
    centred = patch - patch.sum() / patch.size
    return np.asarray(centred / max(np.sqrt(_alike(centred, centred)), 1e-3), dtype=np.float32)


def _alike(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """Mean product of two patches: the correlation of normalised ones."""
    return float(np.vdot(one, other)) / one.size
