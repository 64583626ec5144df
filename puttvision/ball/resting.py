"""A ball at rest that is watched, and whether its patch of picture still looks as with the ball in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.departure import Departure
from puttvision.ball.disc import BallFit
from puttvision.ball.look import Place
from puttvision.ball.track import Track

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_STANDS_OUT_LUMA, _LIKE_GRASS_LUMA = 30.0, 10.0
"""A ball is so much lighter than the grass about it; a patch that differs by less in the mean is grass."""


@dataclass(slots=True)
class Resting:
    """A ball at rest, and what has become of it since."""

    fits: list[tuple[float, BallFit]]
    box: tuple[int, int, int, int]
    patch: Plane
    last_seen_s: float
    hue: Floats | None = None
    """Of the ball, shape (2,); None where luma shows it."""
    leaving: Departure | None = None
    nudged: tuple[float, BallFit] | None = None
    """A ball fitted less than a ball's radius from here; at rest there, it is this one, moved."""
    gone_as: Track | None = None
    """The track that began here; for a moment the ball may yet be found at its place."""
    gone_s: float = 0.0

    @property
    def at_m(self) -> Place:
        return self.fits[-1][1].at_m


def is_bare(patch: Plane, before: Plane) -> bool:
    """Whether there is nothing but grass in a ball's patch, as light as it was about the ball."""
    away = np.abs(patch.astype(np.float32) - _grass_luma(before))
    return bool(away.mean() < _LIKE_GRASS_LUMA)


def _grass_luma(patch: Plane) -> float:
    """Of the grass above and below the ball in its patch."""
    return float(np.median(np.concatenate([patch[0], patch[-1]])))


def as_bright(patch: Plane, before: Plane) -> bool:
    """Whether the middle of a ball's patch is still as bright as the ball: it has not left."""
    height, width = before.shape
    rows = slice(height // 2 - max(1, height // 8), height // 2 + max(1, height // 8) + 1)
    columns = slice(width // 2 - max(1, width // 8), width // 2 + max(1, width // 8) + 1)
    edge = _grass_luma(before)
    ball = float(before[rows, columns].mean())
    if ball - edge < _STANDS_OUT_LUMA:
        return False  # lit from beyond, its middle is no brighter than grass
    return float(patch[rows, columns].mean()) > edge + 0.7 * (ball - edge)
