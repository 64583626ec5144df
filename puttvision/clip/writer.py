"""Clips out: H.264 that browsers and phones play, with sound, streamed to the file picture by picture."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from puttvision.clip.sound import CHANNELS, RATE_HZ, Samples

Plane = NDArray[np.uint8]

TICK = Fraction(1, 90_000)
"""Fine enough for every usual frame rate."""
PRESET = "superfast"
"""x264's quickest preset but one: real time at 1080p60 on two cores with room for drawing."""
QUALITY = 23
"""x264's constant quality; its own default. Pictures are stored in the order in which they show (no B
pictures): times in the file are then exact in every player."""
_KEY_EVERY_S = 1.0
_SOUND_BLOCK = 1024
"""Samples in a frame of AAC."""
_AHEAD = 4
"""Pictures that may wait for the encoder: it works beside whoever draws the next one."""


@dataclass(frozen=True, slots=True)
class OpenPicture:
    """A picture to draw into, 4:2:0, each plane a view of the encoder's own memory."""

    frame: Any
    luma: Plane
    """Shape (height, width)."""
    cb: Plane
    cr: Plane


class ClipWriter:
    """An mp4 file being written; use it in a ``with`` statement.

    Pictures come in order of time, sound without gaps from 0 on. What is half-written when an
    error is raised is for the caller to remove (see ``files.replacing``).
    """

    def __init__(
        self, path: Path, width: int, height: int, *, rate_hz: float, sound: bool, full_range: bool = False
    ) -> None:
        if width % 2 or height % 2:
            raise ValueError(f"4:2:0 needs even sizes, got {width} x {height}")
        self.width, self.height = width, height
        self.n_pictures = 0
        self._last_ticks: int | None = None
        self._lengths: dict[int, int] = {}
        self._sound_at = 0
        self._waiting = np.zeros((CHANNELS, 0), np.float32)
        # format by name: the temporary file need not end in .mp4
        self._worker = ThreadPoolExecutor(max_workers=1)
        self._jobs: deque[Future[None]] = deque()
        self._out = av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"})
        rate = Fraction(rate_hz).limit_denominator(1001)
        self._video: Any = self._out.add_stream("libx264", rate=rate)
        self._video.width, self._video.height, self._video.pix_fmt = width, height, "yuv420p"
        self._video.codec_context.time_base = TICK
        self._video.codec_context.gop_size = max(1, round(_KEY_EVERY_S * rate_hz))
        self._video.codec_context.color_range = 2 if full_range else 1
        self._video.options = {"preset": PRESET, "crf": str(QUALITY), "bf": "0"}
        self._sound: Any = None
        if sound:
            self._sound = self._out.add_stream("aac", rate=RATE_HZ)
            self._sound.layout = "stereo"
            self._sound.bit_rate = 128_000

    def __enter__(self) -> ClipWriter:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                if self._sound is not None and self._waiting.shape[1]:
                    self._mux_sound(self._waiting)
                self._let(self._finish)
                while self._jobs:
                    self._jobs.popleft().result()
        finally:
            self._worker.shutdown(cancel_futures=True)
            self._out.close()

    def _let(self, job: Callable[[], None]) -> None:
        """Have the worker do it after all that came before; raise what an earlier job raised."""
        self._jobs.append(self._worker.submit(job))
        while len(self._jobs) > _AHEAD:
            self._jobs.popleft().result()

    def open_picture(self) -> OpenPicture:
        """A new picture; its samples are undefined until drawn."""
        frame = av.VideoFrame(self.width, self.height, "yuv420p")
        planes = []
        plane: Any
        for plane in frame.planes:
            flat = np.frombuffer(plane, np.uint8)
            planes.append(flat.reshape(plane.height, plane.line_size)[:, : plane.width])
        return OpenPicture(frame, *planes)

    def write(self, picture: OpenPicture, time_s: float, length_s: float) -> None:
        """Show ``picture`` from ``time_s`` on, for ``length_s`` where no other follows sooner."""
        ticks = round(time_s / float(TICK))
        if self._last_ticks is not None and ticks <= self._last_ticks:
            raise ValueError(f"pictures come in order of time, got {time_s} s too late")
        if self._last_ticks is not None:
            self._lengths[self._last_ticks] = ticks - self._last_ticks
        self._last_ticks = ticks
        self._lengths[ticks] = max(1, round(length_s / float(TICK)))
        frame = picture.frame
        frame.time_base, frame.pts = TICK, ticks
        self._let(lambda: self._mux(self._video.encode(frame)))
        self.n_pictures += 1

    def write_sound(self, blocks: Iterable[Samples]) -> None:
        """Let blocks of samples, each (2, n) at 48 kHz, follow what was written before."""
        for block in blocks:
            if self._sound is not None:
                self._waiting = np.concatenate([self._waiting, block], axis=1)
                self._encode_sound()

    @property
    def sound_s(self) -> float:
        """Length of the sound so far."""
        return (self._sound_at + self._waiting.shape[1]) / RATE_HZ

    def _encode_sound(self) -> None:
        whole = self._waiting.shape[1] // _SOUND_BLOCK * _SOUND_BLOCK
        for start in range(0, whole, _SOUND_BLOCK):
            self._mux_sound(self._waiting[:, start : start + _SOUND_BLOCK])
        self._waiting = self._waiting[:, whole:]

    def _mux_sound(self, samples: Samples) -> None:
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(samples), format="fltp", layout="stereo")
        frame.sample_rate = RATE_HZ
        frame.time_base = Fraction(1, RATE_HZ)
        frame.pts = self._sound_at
        self._sound_at += samples.shape[1]
        self._let(lambda: self._out.mux(self._sound.encode(frame)))

    def _mux(self, packets: Any) -> None:
        for packet in packets:
            # the encoder does not say how long a picture stands: the file's length hangs on the last
            packet.duration = self._lengths.pop(round(packet.pts * packet.time_base / TICK), 0)
            self._out.mux(packet)

    def _finish(self) -> None:
        self._mux(self._video.encode(None))
        if self._sound is not None:
            self._out.mux(self._sound.encode(None))
