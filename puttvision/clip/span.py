"""The pictures of one stretch of a clip, read from the key frame before it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import av

from puttvision.clip.decode import Decoding
from puttvision.clip.probe import Probe

EDGE_TICKS = 1
"""Rounding: a picture this many ticks before the stretch belongs to it."""


def span_pictures(
    container: Any, found: Probe, from_s: float, until_s: float, threads: int = 0
) -> Iterator[Any]:
    """Yield the whole pictures (av.VideoFrame) shown from ``from_s`` until before ``until_s``, in order.

    Real seconds from the first picture. Where the file cannot be searched it is read from its beginning.
    """
    stream = container.streams[found.stream_index]
    per_s = 1.0 / (float(found.time_base) * found.facts.time_scale)
    first = found.first_pts + round(from_s * per_s) - EDGE_TICKS
    end = found.first_pts + round(until_s * per_s) - EDGE_TICKS
    if from_s > 0:
        try:
            container.seek(max(first, found.first_pts), stream=stream, backward=True)
        except (av.FFmpegError, OSError):
            container.seek(found.first_pts, stream=stream, backward=True)
    last = found.first_pts - 1
    for picture in Decoding(container.demux(stream), stream, threads).pictures():
        if picture.pts is None or picture.pts <= last:
            continue
        last = picture.pts
        if picture.pts >= end:
            return
        if picture.pts >= first:
            yield picture
