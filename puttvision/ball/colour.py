"""Colour tells a ball from the grass where brightness does not: a ball in shade, lit from beyond, or orange.

What is compared is chroma over luma (nearly the same in sun and in shade): a white ball has none, grass is
green. Chroma is recorded at half the size and compressed more, so places are measured in luma wherever the
outline shows there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_BLACK, _NEUTRAL = 16.0, 128.0
_LEAST_LUMA = 24.0
"""Over black; darker, the colour of a pixel is noise."""
_TELLS = 0.08
"""Grass of less colour than this is told from no ball: compression leaves chroma a few steps."""
_PART_WAY = 0.35
"""Of the way from grass to a white ball; a yellow ball's hue lies half as far off (on filmed scenes)."""
_DILUTED = 0.7
"""A smeared ball is grass by up to so much."""
_INNER = 0.6
"""Share of a ball's radius within which its colour is looked at."""
_GAIN = 1.7
"""Luma's units that full contrast of chroma is worth: about the red and blue weights of BT.709."""
_WAYS = 8
"""Directions from the colour of grass that are told apart."""


@dataclass(frozen=True, slots=True)
class GrassHue:
    """Chroma over luma of a clip's grass; a white ball has none."""

    cb: float
    cr: float

    @property
    def tells(self) -> bool:
        """Whether this grass can be told from a white ball."""
        return self._strength > _TELLS

    @property
    def _strength(self) -> float:
        return float(np.hypot(self.cb, self.cr))

    def is_other(self, hue: Floats) -> bool:
        """Whether a hue is no grass, on whatever side of it."""
        return float(np.hypot(hue[0] - self.cb, hue[1] - self.cr)) > _PART_WAY * self._strength

    def is_like(self, hue: Floats, ball: Floats) -> bool:
        """Whether a hue is that of a ball, of which grass may dilute a part."""
        off = float(np.hypot(*(hue - ball)))
        return off < _DILUTED * float(np.hypot(ball[0] - self.cb, ball[1] - self.cr))

    def weights(self, hue: Floats) -> tuple[float, float]:
        """Of Cb and Cr in the plane where this hue and grass are most apart, to the nearest of a few ways."""
        turn = 2 * np.pi / _WAYS
        way = turn * round(float(np.arctan2(hue[1] - self.cr, hue[0] - self.cb)) / turn)
        return round(_GAIN * float(np.cos(way)), 3), round(_GAIN * float(np.sin(way)), 3)


def grass_hue(luma: Plane, cb: Plane, cr: Plane, within: Plane) -> GrassHue:
    """The hue of a clip's grass.

    Parameters
    ----------
    luma, cb, cr : the still picture, luma of shape (h, w)
    within : where the green is, non-zero, at any scale
    """
    size = (cb.shape[1], cb.shape[0])
    light = cv2.resize(luma, size, interpolation=cv2.INTER_AREA).astype(float) - _BLACK
    green = cv2.resize(within, size, interpolation=cv2.INTER_NEAREST) > 0
    green &= light > _LEAST_LUMA
    if not green.any():
        return GrassHue(0.0, 0.0)
    return GrassHue(*(float(np.median((plane[green] - _NEUTRAL) / light[green])) for plane in (cb, cr)))


@dataclass
class FrameColour:
    """The colour of one frame, looked at only where it is asked for."""

    luma: Plane
    """As the reference camera sees it, shape (h, w)."""
    recorded: Callable[[], tuple[Plane, Plane]]
    """Gives Cb and Cr as recorded."""
    grass: GrassHue
    warp: Floats | None = None
    """Shape (3, 3): from the reference camera's picture to the recorded one."""

    @cached_property
    def chroma(self) -> tuple[Plane, Plane]:
        """Cb and Cr as recorded."""
        return self.recorded()

    def hue(self, at_px: tuple[float, float] | Floats, radius_px: float) -> Floats | None:
        """Mean chroma over luma about a place, shape (2,); None where it is too dark or outside."""
        cb, cr = self.chroma
        r = max(_INNER * radius_px, 1.0)
        height, width = self.luma.shape
        x0, x1 = int(max(0, at_px[0] - r)), int(min(width, at_px[0] + r + 1))
        y0, y1 = int(max(0, at_px[1] - r)), int(min(height, at_px[1] + r + 1))
        if x1 <= x0 or y1 <= y0:
            return None
        light = cv2.mean(self.luma[y0:y1, x0:x1])[0] - _BLACK
        if light < _LEAST_LUMA:
            return None
        corners = np.array([[x0, y0], [x1, y1]], dtype=float)
        if self.warp is not None:
            corners = cv2.perspectiveTransform(corners[:, None], self.warp)[:, 0]
        scale = np.array([cb.shape[1] / width, cb.shape[0] / height])
        (u0, v0), (u1, v1) = np.round(corners * scale).astype(int).tolist()
        box = slice(max(v0, 0), max(v1, v0 + 1)), slice(max(u0, 0), max(u1, u0 + 1))
        if cb[box].size == 0:
            return None
        return np.array([(cv2.mean(plane[box])[0] - _NEUTRAL) / light for plane in (cb, cr)])

    def is_grass(self, at_px: tuple[float, float] | Floats, radius_px: float) -> bool:
        """Whether grass shows its colour there; where it is too dark to tell, it does not."""
        hue = self.hue(at_px, radius_px)
        return hue is not None and not self.grass.is_other(hue)

    def off_grass(self, small: Plane) -> Plane:
        """How far each pixel's chroma is from that of grass as light as it, in luma's units.

        ``small``: this frame's luma at any size, shape (h, w); the result has its shape.
        """
        height, width = small.shape
        scale_x, scale_y = self.luma.shape[1] / width, self.luma.shape[0] / height
        to_whole = np.array(  # pixel middles, from the small picture's to the whole one's
            [[scale_x, 0.0, (scale_x - 1) / 2], [0.0, scale_y, (scale_y - 1) / 2], [0.0, 0.0, 1.0]]
        )
        return self._off_grass(small, to_whole)

    def off_grass_within(self, box: tuple[int, int, int, int]) -> Plane:
        """The same in a box x0, y0, x1, y1 of the whole picture, shape (y1 - y0, x1 - x0)."""
        x0, y0, x1, y1 = box
        return self._off_grass(self.luma[y0:y1, x0:x1], _from_corner(x0, y0))

    def _off_grass(self, luma: Plane, to_whole: Floats) -> Plane:
        light = np.maximum(luma.astype(np.float32) - np.float32(_BLACK), 0)
        blue, red = self.chroma_at(to_whole, (luma.shape[1], luma.shape[0]))
        blue -= np.float32(self.grass.cb) * light
        red -= np.float32(self.grass.cr) * light
        return np.asarray(np.minimum(np.float32(_GAIN) * cv2.magnitude(blue, red), 255), dtype=np.uint8)

    def kept(self, luma: Plane) -> FrameColour:
        """The same to live on after its frame; ``luma``: a copy of its luma."""
        cb, cr = (plane.copy() for plane in self.chroma)
        return FrameColour(luma, lambda: (cb, cr), self.grass, self.warp)

    def chroma_at(self, to_whole: Floats, size: tuple[int, int]) -> list[NDArray[np.float32]]:
        """Cb and Cr about neutral in a window; ``to_whole``: from its pixels to the reference picture's."""
        cb, cr = self.chroma
        height, width = self.luma.shape
        scale_x, scale_y = width / cb.shape[1], height / cb.shape[0]
        # chroma lies on the left of its pair of pixels, between its pair of rows (ITU-T H.264, annex E)
        to_chroma = np.array(
            [[1 / scale_x, 0.0, 0.0], [0.0, 1 / scale_y, 0.5 / scale_y - 0.5], [0.0, 0.0, 1.0]]
        )
        warp = np.eye(3) if self.warp is None else self.warp
        return [
            cv2.warpPerspective(
                plane, to_chroma @ warp @ to_whole, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                borderMode=cv2.BORDER_REPLICATE,
            ).astype(np.float32) - np.float32(_NEUTRAL)
            for plane in (cb, cr)
        ]  # fmt: skip

    def plane(self, hue: Floats) -> MixedPlane:
        """Luma with as much of Cb and Cr added as sets this hue off most from the grass, shape (h, w)."""
        return MixedPlane(self, self.grass.weights(hue))


@dataclass(frozen=True, slots=True)
class MixedPlane:
    """A picture that is worked out only where it is looked at."""

    colour: FrameColour
    weights: tuple[float, float]

    @property
    def shape(self) -> tuple[int, ...]:
        """(h, w)."""
        return self.colour.luma.shape

    def __getitem__(self, box: tuple[slice, slice]) -> Plane:
        rows, columns = box
        luma = self.colour.luma[box]
        corner = _from_corner(columns.start, rows.start)
        blue, red = self.colour.chroma_at(corner, (luma.shape[1], luma.shape[0]))
        mixed = luma + self.weights[0] * blue + self.weights[1] * red
        return np.asarray(np.clip(mixed, 0, 255), dtype=np.uint8)


def _from_corner(x0: int, y0: int) -> Floats:
    """From a window's pixels to the whole picture's, shape (3, 3)."""
    return np.array([[1.0, 0.0, x0], [0.0, 1.0, y0], [0.0, 0.0, 1.0]])
