"""One frame: its time, and its luma and chroma planes brought upright on demand."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from puttvision.clip.upright import Upright

Plane = NDArray[np.uint8]


class Frame:
    """A decoded picture with its time.

    ``index`` counts the frames that were handed out (-1 in samples); ``time_s`` is the presentation
    time in real seconds from the first frame of the clip. The arrays are read-only and stay valid for
    as long as they, or the frame, are kept.
    """

    __slots__ = ("_luma", "_picture", "_upright", "index", "time_s")

    def __init__(self, index: int, time_s: float, picture: Any, upright: Upright) -> None:
        self.index = index
        self.time_s = time_s
        self._picture = picture
        self._upright = upright
        self._luma: Plane | None = None

    def __repr__(self) -> str:
        return f"Frame(index={self.index}, time_s={self.time_s:.6f})"

    @property
    def luma(self) -> Plane:
        """Luma of the upright picture, shape (height, width), 0 to 255.

        Where the picture is stored upright with 8 bit, this is the decoder's own plane, not a copy;
        each row is contiguous (and the whole array, unless the decoder pads its rows).
        """
        if self._luma is None:
            picture, layout = _readable(self._picture)
            luma = _plane_8bit(picture, 0, layout.luma_bits)
            self._luma = luma if self._upright.changes_nothing else _frozen(self._upright.apply(luma))
        return self._luma

    def chroma(self) -> tuple[Plane, Plane]:
        """Cb and Cr of the upright picture, at the subsampling of the file, 0 to 255 with 128 neutral.

        A picture without colour gives neutral planes of half the size.
        """
        picture, layout = _readable(self._picture)
        if layout.chroma == "none":
            grey = np.full(((picture.height + 1) // 2, (picture.width + 1) // 2), 128, np.uint8)
            planes = (grey, grey)
        elif layout.chroma == "interleaved":
            both = _plane_8bit(picture, 1, layout.luma_bits, samples=2)
            first, second = both[:, 0::2], both[:, 1::2]
            planes = (second, first) if layout.swapped else (first, second)
        else:
            planes = (
                _plane_8bit(picture, 1, layout.luma_bits),
                _plane_8bit(picture, 2, layout.luma_bits),
            )
        if self._upright.changes_nothing:
            return planes
        return _frozen(self._upright.apply(planes[0])), _frozen(self._upright.apply(planes[1]))


class _Layout:
    """How the samples of a pixel format lie in memory."""

    __slots__ = ("chroma", "luma_bits", "readable", "swapped")

    def __init__(self, name: str) -> None:
        stem = name.removesuffix("le")
        bits = 8
        for depth in (9, 10, 12, 14, 16):
            if stem.endswith(f"p{depth}") or stem == f"gray{depth}":
                bits = depth
        self.luma_bits = bits
        self.swapped = stem == "nv21"
        self.chroma = "planar"
        planar = stem.removeprefix("yuvj" if stem.startswith("yuvj") else "yuv")
        self.readable = stem.startswith("yuv") and planar in {
            f"{family}p{depth}"
            for family in ("420", "422", "444", "440", "411", "410")
            for depth in ("", "9", "10", "12", "14", "16")
        }
        if stem.startswith("gray") and stem in {"gray", "gray9", "gray10", "gray12", "gray14", "gray16"}:
            self.readable, self.chroma = True, "none"
        elif stem in {"nv12", "nv21", "nv16"}:
            self.readable, self.chroma = True, "interleaved"
        elif stem in {"p010", "p016", "p210"}:  # 10 bit in the upper bits of 16
            self.readable, self.chroma, self.luma_bits = True, "interleaved", 16


_layout = lru_cache(maxsize=16)(_Layout)


def _readable(picture: Any) -> tuple[Any, _Layout]:
    """The picture in a layout with a luma plane; packed and RGB formats (screen recordings) are converted."""
    layout = _layout(picture.format.name)
    if layout.readable:
        return picture, layout
    return picture.reformat(format="yuv420p"), _layout("yuv420p")


def _plane_8bit(picture: Any, number: int, bits: int, samples: int = 1) -> Plane:
    """A plane as 8 bit, shape (rows, columns times samples); a read-only view where it has 8 bit."""
    plane = picture.planes[number]
    columns = plane.width * samples
    if bits == 8:
        flat = np.frombuffer(plane, np.uint8)
        rows = flat.reshape(plane.height, plane.line_size)[:, :columns]
        rows.flags.writeable = False
        return rows
    deep = np.frombuffer(plane, "<u2").reshape(plane.height, plane.line_size // 2)[:, :columns]
    shallow = np.empty(deep.shape, np.uint8)
    np.right_shift(deep, bits - 8, out=shallow, casting="unsafe")  # twice as fast as shifting, then casting
    return _frozen(shallow)


def _frozen(plane: Plane) -> Plane:
    plane.flags.writeable = False
    return plane
