"""A few pictures spread over a clip, by jumping to key frames instead of decoding everything."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import Any

import av

from puttvision.clip.decode import Decoding
from puttvision.clip.probe import Probe


def sample_pictures(container: Any, found: Probe, n: int, threads: int = 0) -> Iterator[Any]:
    """Yield about ``n`` whole pictures (av.VideoFrame) at increasing times.

    Where key frames are dense only they are decoded; where they are sparse, decoding runs forward
    from the key frame before. A file that cannot be searched is decoded from its start.
    """
    if n < 1:
        raise ValueError(f"at least one picture is due, got n={n}")
    stream = container.streams[found.stream_index]
    spacing = _spacing_ticks(found, n)
    if spacing is None:
        yield from _forward(Decoding(container, stream, threads), found, 0)
        return
    last_pts = None
    for k in range(n):
        target = found.first_pts + round((k + 0.5) * spacing)
        picture = _near(container, stream, found, target, spacing, threads)
        if picture is None:
            continue
        if last_pts is None or picture.pts > last_pts:
            last_pts = picture.pts
            yield picture


def _spacing_ticks(found: Probe, n: int) -> float | None:
    duration_s = found.facts.duration_s
    if duration_s is None:
        return None
    return duration_s / found.facts.time_scale / float(found.time_base) / n


def _forward(decoding: Decoding, found: Probe, step: int) -> Iterator[Any]:
    yield from islice(decoding.pictures(), 24)


def _near(container: Any, stream: Any, found: Probe, target: int, spacing: float, threads: int) -> Any:
    """The first whole picture at or after the key frame before ``target``, near enough to it."""
    try:
        container.seek(target, stream=stream, backward=True)
    except (av.FFmpegError, OSError):
        return None
    for picture in Decoding(container, stream, threads).pictures():
        if picture.pts is None or picture.pts < found.first_pts:
            continue
        if picture.pts >= target - spacing / 2:
            return picture
    return None
