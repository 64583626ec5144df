"""Paint on the planes of a video picture: worked out once, then laid over every frame it shows in.

A picture is Y'CbCr, 4:2:0 (ITU-R BT.709). A layer holds, for each touched sample, how much of the film stays
and what is added, as whole numbers, sorted by the time from which it shows: laying it over a frame
costs three array operations a plane, and equal film gives equal samples, so nothing flickers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from puttvision.clip.writer import OpenPicture
from puttvision.review.clips.paint import Paint

Plane = NDArray[np.uint8]
Floats = NDArray[np.float64]

_HALF = 127
_BOX_FROM = 0.25
"""A box touched so far is quicker done whole: single samples cost several times as much."""
_LUMA = np.array([0.2126, 0.7152, 0.0722])


class _Part(Protocol):
    """Samples of one plane."""

    def lay(self, plane: Plane, time_s: float) -> None:
        """Draw what shows at a time."""


@dataclass(frozen=True, slots=True)
class _Few:
    """Samples here and there, in the order in which they show."""

    row: NDArray[np.int64]
    column: NDArray[np.int64]
    keep: NDArray[np.uint16]
    """Of 256."""
    add: NDArray[np.uint16]
    """256 times what is added."""
    shows_s: Floats

    def lay(self, plane: Plane, time_s: float) -> None:
        n = len(self.shows_s)
        if n == 0 or self.shows_s[0] > time_s:
            return
        if self.shows_s[-1] > time_s:
            n = int(np.searchsorted(self.shows_s, time_s, side="right"))
        at = (self.row[:n], self.column[:n])
        plane[at] = (plane[at] * self.keep[:n] + self.add[:n]) >> 8


@dataclass(frozen=True, slots=True)
class _Box:
    """A rectangle that is touched nearly everywhere, from the first moment on."""

    x: int
    y: int
    keep: NDArray[np.uint16]
    add: NDArray[np.uint16]

    def lay(self, plane: Plane, time_s: float) -> None:  # noqa: ARG002
        height, width = self.keep.shape
        window = plane[self.y : self.y + height, self.x : self.x + width]
        mixed = window * self.keep
        mixed += self.add
        np.right_shift(mixed, 8, out=window, casting="unsafe")


@dataclass(frozen=True, slots=True)
class Layer:
    """Paint ready to be laid over pictures of one size."""

    luma: _Part
    cb: _Part
    cr: _Part

    def lay(self, picture: OpenPicture, time_s: float = 0.0) -> None:
        """Draw over ``picture`` what shows at ``time_s``."""
        self.luma.lay(picture.luma, time_s)
        self.cb.lay(picture.cb, time_s)
        self.cr.lay(picture.cr, time_s)


def layer(paint: Paint, *, full_range: bool = False) -> Layer:
    """Work out a layer; ``full_range``: luma from 0 to 255, else 16 to 235."""
    low, luma_scale, chroma_scale = (0.0, 255.0, 255.0) if full_range else (16.0, 219.0, 224.0)
    y = paint.rgb @ _LUMA
    cb, cr = (paint.rgb[:, 2] - y) / 1.8556, (paint.rgb[:, 0] - y) / 1.5748
    luma = _part(paint.y, paint.x, paint.alpha, low * paint.alpha + luma_scale * y, paint.shows_s)
    # a chroma sample stands for four luma samples
    row, column = paint.y // 2, paint.x // 2
    keys, group = np.unique(row * 65536 + column, return_inverse=True)
    n = len(keys)
    alpha = np.bincount(group, paint.alpha, n) / 4
    shows = np.full(n, np.inf)
    np.minimum.at(shows, group, paint.shows_s)
    parts = [
        _part(
            keys // 65536,
            keys % 65536,
            alpha,
            128 * alpha + chroma_scale * np.bincount(group, value, n) / 4,
            shows,
        )
        for value in (cb, cr)
    ]
    return Layer(luma, parts[0], parts[1])


def _part(
    row: NDArray[np.int64], column: NDArray[np.int64], alpha: Floats, add: Floats, shows_s: Floats
) -> _Part:
    order = np.argsort(shows_s, kind="stable")
    keep = np.round(256 * (1 - alpha[order]))
    # half is added so that shifting rounds; the sum stays below 2**16
    whole = np.clip(np.round(256 * add[order] + _HALF), 0, 65535 - 255 * keep)
    row, column = row[order], column[order]
    few = _Few(row, column, keep.astype(np.uint16), whole.astype(np.uint16), shows_s[order])
    if len(row) == 0 or few.shows_s[-1] > -np.inf:
        return few
    x, y = int(column.min()), int(row.min())
    height, width = int(row.max()) - y + 1, int(column.max()) - x + 1
    if len(row) < _BOX_FROM * height * width:
        return few
    kept, added = np.full((height, width), 256, np.uint16), np.full((height, width), _HALF, np.uint16)
    kept[row - y, column - x], added[row - y, column - x] = few.keep, few.add
    return _Box(x, y, kept, added)
