"""A small H.264 copy of a clip, with the same times, for browsers that cannot play the clip itself."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from puttvision.clip.source import open_clip
from puttvision.errors import ClipError
from puttvision.files import replacing

LONGEST_SIDE = 1280
_TICKS = Fraction(1, 90_000)
"""Times are kept to 11 microseconds."""


def preview_size(width: int, height: int) -> tuple[int, int]:
    """The largest even size within ``LONGEST_SIDE`` of nearly the same shape."""
    scale = min(1.0, LONGEST_SIDE / max(width, height))
    return max(2, 2 * round(width * scale / 2)), max(2, 2 * round(height * scale / 2))


def make_preview(clip: Path, to: Path, progress: Callable[[float, float], None] | None = None) -> None:
    """Write ``to`` whole or not at all; frames are upright, their times those of the clip.

    Raises ClipError where the clip holds no frame.
    """
    with open_clip(clip, threads=1) as source, replacing(to) as temporary:
        size = preview_size(source.facts.width, source.facts.height)
        # a file's own time, so that it runs as the clip itself does
        scale = source.facts.time_scale
        total_s = source.total_s or 0.0
        with av.open(str(temporary), "w", options={"movflags": "faststart"}) as out:
            stream = out.add_stream(
                "libx264", rate=Fraction(round(source.facts.nominal_rate_hz * 1000), 1000)
            )
            stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
            stream.time_base = stream.codec_context.time_base = _TICKS
            stream.thread_count = 1
            # steps backwards are what a coach does most: a key frame every half second
            stream.options = {
                "crf": "23",
                "preset": "veryfast",
                "g": str(round(source.facts.nominal_rate_hz / 2)),
            }
            last = -1
            for frame in source.frames():
                planes = [
                    _fitted(frame.luma, size),
                    *(_fitted(c, (size[0] // 2, size[1] // 2)) for c in frame.chroma()),
                ]
                picture = av.VideoFrame(*size, "yuv420p")
                for plane, values in zip(picture.planes, planes, strict=True):
                    rows = np.zeros((plane.height, plane.line_size), np.uint8)
                    rows[:, : plane.width] = values
                    plane.update(rows.tobytes())
                picture.time_base = _TICKS
                last = picture.pts = max(last + 1, round(frame.time_s / scale / _TICKS))
                for packet in stream.encode(picture):
                    out.mux(packet)
                if progress and total_s:
                    progress(frame.time_s, total_s)
            if last < 0:
                raise ClipError(f"{clip.name} holds no frame that can be read")
            for packet in stream.encode():
                out.mux(packet)


def _fitted(
    plane: np.ndarray[tuple[int, ...], np.dtype[np.uint8]], size: tuple[int, int]
) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    if plane.shape == (size[1], size[0]):
        return plane
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), np.uint8)
