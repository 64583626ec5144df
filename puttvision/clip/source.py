"""The frame source: a clip's frames one by one with their true times, whole and upright.

Nothing is kept: memory does not grow with the length of the clip. Times are the container's
presentation times, in seconds from the first whole picture, never frame numbers over a rate.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from types import TracebackType
from typing import Any

from puttvision.clip.decode import Decoding, open_container
from puttvision.clip.facts import ClipFacts
from puttvision.clip.frame import Frame
from puttvision.clip.probe import Probe, probe
from puttvision.clip.sample import sample_pictures
from puttvision.clip.span import span_pictures

END_TOLERANCE_S = 1.0
"""Where the header has no frame count, a clip that ends this much before its length says is broken off;
the length may be that of the sound, which runs on for less."""
MISSING_PACKETS = 2
"""More frames than this must be missing, and the clip end early too, to call it broken off."""
EARLY_INTERVALS = 3.0
"""What "early" is there, in frame intervals."""
GAP_INTERVALS = 1.5
"""Frames further apart than this, where pictures were damaged, have a gap between them."""
MAX_GAPS_KEPT = 100


def open_clip(path: Path, *, capture_rate_hz: float | None = None, threads: int = 0) -> Clip:
    """Open a video file for reading; use it in a ``with`` statement.

    Parameters
    ----------
    capture_rate_hz : frames a second the camera took, where the file plays slower (slow motion)
    threads : threads of the decoder; 0 lets it choose

    Raises
    ------
    ClipError
        No such file, a folder, no video, no video stream, no whole picture, no times.
    """
    path = Path(path)
    return Clip(path, probe(path, capture_rate_hz), threads)


class Clip:
    """An open video file.

    What is found while reading stands in ``broke_at_s``, ``break_text``, ``n_damaged``, ``n_dropped``
    and ``gaps_s``; these are complete once ``frames()`` has run out.
    """

    def __init__(self, path: Path, found: Probe, threads: int = 0) -> None:
        self.path = path
        self.facts: ClipFacts = found.facts
        self._probe = found
        self._threads = threads
        self._open: list[Any] = []
        self._forget()

    def _forget(self) -> None:
        self.n_frames = 0
        """Frames handed out so far by the last call of ``frames()``."""
        self.last_s: float | None = None
        """Time of the last of them."""
        self.broke_at_s: float | None = None
        """Time of the last whole frame where the rest of the file is damaged or missing, else None."""
        self.break_text: str | None = None
        """The same in plain words."""
        self.n_damaged = 0
        """Pictures left out because they are damaged, or built on damaged ones."""
        self.n_dropped = 0
        """Whole pictures left out because their time is missing or does not increase."""
        self.gaps_s: list[tuple[float, float]] = []
        """Times of the frames before and after each stretch that was left out (the first 100)."""

    def __enter__(self) -> Clip:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; running iterators end."""
        while self._open:
            self._open.pop().close()

    @property
    def total_s(self) -> float | None:
        """Length as the header has it, for showing progress as ``frame.time_s / total_s``."""
        return self.facts.duration_s

    def frames(self) -> Iterator[Frame]:
        """Yield every whole frame in order, with strictly increasing times; each call starts anew."""
        self._forget()
        found, upright, facts = self._probe, self._probe.upright, self.facts
        stored_size = (facts.stored_width, facts.stored_height)
        gap_due = False
        container = open_container(self.path)
        self._open.append(container)
        try:
            stream = container.streams[found.stream_index]
            decoding = Decoding(container.demux(stream), stream, self._threads)
            for picture in decoding.pictures():
                if (picture.width, picture.height) != stored_size:
                    self._break(f"the picture changes its size to {picture.width}x{picture.height} pixels")
                    return
                pts = picture.pts
                time_s = found.time_s(pts) if pts is not None else -1.0
                if time_s < 0 or (self.last_s is not None and time_s <= self.last_s):
                    self.n_dropped += 1
                    continue
                gap_due = gap_due or decoding.n_damaged != self.n_damaged
                self.n_damaged = decoding.n_damaged
                if gap_due and self._note_gap(time_s):
                    gap_due = False
                self.last_s = time_s
                self.n_frames += 1
                yield Frame(self.n_frames - 1, time_s, picture, upright)
                if container not in self._open:  # closed meanwhile; to read on would crash PyAV
                    return
            self.n_damaged = decoding.n_damaged
            self._note_end(decoding)
        finally:
            if container in self._open:
                self._open.remove(container)
            container.close()

    def sample(self, n: int, which: range | None = None) -> Iterator[Frame]:
        """Yield about ``n`` frames spread evenly over the clip, in order, cheaply (index -1).

        Reads the file on its own, so it may run before, after or beside ``frames()``. ``which``: only these
        of the ``n``, counted from 0.
        """
        container = open_container(self.path)
        self._open.append(container)
        try:
            for picture in sample_pictures(container, self._probe, n, self._threads, which):
                yield Frame(-1, self._probe.time_s(picture.pts), picture, self._probe.upright)
                if container not in self._open:
                    return
        finally:
            if container in self._open:
                self._open.remove(container)
            container.close()

    def sample_together(self, n: int) -> list[Frame]:
        """What ``sample`` yields, held together: sooner, for both halves of the clip are read at once."""
        half = (n + 1) // 2
        with ThreadPoolExecutor(max_workers=2) as readers:
            first, second = readers.map(
                lambda which: list(self.sample(n, which)), (range(half), range(half, n))
            )
        return first + [frame for frame in second if not first or frame.time_s > first[-1].time_s]

    def span(self, from_s: float, until_s: float) -> Iterator[Frame]:
        """Yield the frames shown from ``from_s`` until before ``until_s`` (index -1).

        Reads the file on its own, from the key frame before ``from_s`` on.
        """
        container = open_container(self.path)
        self._open.append(container)
        try:
            for picture in span_pictures(container, self._probe, from_s, until_s, self._threads):
                yield Frame(-1, self._probe.time_s(picture.pts), picture, self._probe.upright)
                if container not in self._open:
                    return
        finally:
            if container in self._open:
                self._open.remove(container)
            container.close()

    @property
    def start_in_file_s(self) -> float:
        """Where on the file's own clock the first picture stands: sound is timed by that clock."""
        return float(self._probe.first_pts * self._probe.time_base)

    def _note_gap(self, next_s: float) -> bool:
        """Note a gap before ``next_s``, where there is one."""
        if self.last_s is None or next_s - self.last_s < GAP_INTERVALS / self.facts.nominal_rate_hz:
            return False
        if len(self.gaps_s) < MAX_GAPS_KEPT:
            self.gaps_s.append((self.last_s, next_s))
        return True

    def _note_end(self, decoding: Decoding) -> None:
        """Say where the file broke, where it did not end as it should."""
        promised, total_s = self.facts.n_frames_header, self.facts.duration_s
        left_s = math.inf if total_s is None else total_s - (self.last_s or 0.0)
        if decoding.error:
            self._break("the file cannot be read")
        elif (
            promised is not None
            and promised - decoding.n_packets > MISSING_PACKETS
            and left_s > EARLY_INTERVALS / self.facts.nominal_rate_hz
        ):
            n_missing = promised - decoding.n_packets
            self._break(f"{n_missing} of the {promised} frames it promises are missing")
        elif decoding.ends_damaged:
            self._break("its pictures are damaged")
        elif promised is None and total_s is not None and left_s > END_TOLERANCE_S * self.facts.time_scale:
            self._break(f"the rest of the {total_s:.1f} s it promises is missing")

    def _break(self, what: str) -> None:
        self.broke_at_s = self.last_s or 0.0
        self.break_text = (
            f"{self.facts.file} is whole up to {self.broke_at_s:.2f} s ({self.n_frames} frames); "
            f"from there on {what}. What comes before was measured; for the rest copy the clip again"
        )
