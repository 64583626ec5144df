"""A few pictures spread over a clip, by jumping to key frames instead of decoding everything."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from typing import Any

import av

from puttvision.clip.decode import Decoding
from puttvision.clip.probe import Probe

MAX_PICTURES_DECODED = 3000
"""Where key frames are sparse or cannot be searched for, sampling gives up after so many pictures (some ten
seconds of work): the samples then cover the beginning of the clip only."""
SPACING_WITHOUT_LENGTH_S = 1.0


def sample_pictures(
    container: Any, found: Probe, n: int, threads: int = 0, which: range | None = None
) -> Iterator[Any]:
    """Yield about ``n`` whole pictures (av.VideoFrame) at increasing times; of these, only ``which``.

    Where a key frame lies within half a step of the wanted time it is taken, and nothing else is
    decoded. Else decoding runs forward from the key frame before, or on from where it stands.
    """
    if n < 1:
        raise ValueError(f"at least one picture is due, got n={n}")
    spacing = _spacing_ticks(found, n)
    search = _Search(container, container.streams[found.stream_index], found.first_pts, threads)
    which = range(n) if which is None else which
    last_pts = found.first_pts + round(which.start * spacing) - 1
    for k in which:
        target = found.first_pts + round((k + 0.5) * spacing)
        picture = search.picture(max(target - round(spacing / 2), last_pts + 1), target, round(spacing / 2))
        if picture is not None and picture.pts > last_pts:
            last_pts = picture.pts
            yield picture
        if search.n_decoded > MAX_PICTURES_DECODED:
            return


def _spacing_ticks(found: Probe, n: int) -> float:
    """Ticks of the stream's clock from one sample to the next."""
    duration_s = found.facts.duration_s
    step_s = SPACING_WITHOUT_LENGTH_S if duration_s is None else duration_s / n / found.facts.time_scale
    return max(step_s / float(found.time_base), 1.0)


class _Search:
    """Finds pictures by time in one container; goes forward only."""

    def __init__(self, container: Any, stream: Any, first_pts: int, threads: int) -> None:
        self._container = container
        self._stream = stream
        self._threads = threads
        self._running = self._pictures()
        self._at: int | None = None  # presentation time up to which the running pass has come
        self.n_decoded = 0
        self._seek(first_pts)  # Matroska reads its index only now
        self._keys = sorted(entry.timestamp for entry in stream.index_entries if entry.is_keyframe)

    def picture(self, earliest: int, target: int, reach: int) -> Any:
        """A picture from ``earliest`` on, wherever possible a key frame within ``reach`` of ``target``."""
        near = [k for k in self._keys_around(target) if abs(k - target) <= reach and k >= earliest]
        if near and self._seek(min(near, key=lambda k: abs(k - target))):
            picture = self._first_alone()
            if picture is not None and picture.pts >= earliest:
                return picture
            self._seek(target)
        elif self._worth_seeking(target):
            self._seek(target)
        for picture in self._running:
            self.n_decoded += 1
            if picture.pts is None:
                continue
            self._at = picture.pts
            if picture.pts >= earliest or self.n_decoded > MAX_PICTURES_DECODED:
                return picture
        return None

    def _keys_around(self, target: int) -> list[int]:
        after = bisect_right(self._keys, target)
        return self._keys[max(after - 1, 0) : after + 1]

    def _worth_seeking(self, target: int) -> bool:
        """Whether a key frame lies between where the running pass stands and the target."""
        before = bisect_right(self._keys, target)
        if self._at is None:
            return before > 0
        return before > 0 and self._keys[before - 1] > self._at

    def _seek(self, ticks: int) -> bool:
        try:
            self._container.seek(ticks, stream=self._stream, backward=True)
        except (av.FFmpegError, OSError):
            return False
        self._running = self._pictures()
        self._at = None
        return True

    def _pictures(self) -> Iterator[Any]:
        return Decoding(self._container.demux(self._stream), self._stream, self._threads).pictures()

    def _first_alone(self) -> Any:
        """The picture of the next packet, decoded without waiting for others to follow."""
        codec = self._stream.codec_context
        self.n_decoded += 1
        try:
            packet = next(self._container.demux(self._stream), None)
            pictures = [] if packet is None else packet.decode()
            if not pictures:
                pictures = codec.decode(None)
        except (av.FFmpegError, OSError):
            return None
        whole = [p for p in pictures if p.pts is not None and not p.is_corrupt]
        return whole[0] if whole else None
