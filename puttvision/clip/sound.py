"""The sound of a stretch of a clip, on the clock of its pictures."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

from puttvision.clip.decode import open_container
from puttvision.clip.source import Clip

Samples = NDArray[np.float32]

RATE_HZ = 48_000
"""Sound is written at this rate, whatever it was recorded at."""
CHANNELS = 2
_EARLIER_S = 0.3
"""Decoders need a little run-up, and the mark that is sought may lie a packet late."""


def has_sound(path: Path) -> bool:
    """Whether the file has a sound track that can be decoded."""
    with open_container(path) as container:
        return any(stream.codec_context is not None for stream in container.streams.audio)


def silence(duration_s: float) -> Samples:
    """Shape (2, n)."""
    return np.zeros((CHANNELS, max(0, round(duration_s * RATE_HZ))), np.float32)


def sound_of(clip: Clip, from_s: float, until_s: float) -> Iterator[Samples]:
    """Blocks of stereo samples, each (2, n), that together fill the stretch to the sample.

    Seconds from the clip's first picture. What the file does not have, or is damaged, is silent.
    """
    due = round((until_s - from_s) * RATE_HZ)
    done = 0
    for start_s, block in _decoded(clip, from_s):
        at = round((start_s - from_s) * RATE_HZ)
        if at >= due or done >= due:
            break
        if at > done:  # nothing was recorded here
            yield silence((at - done) / RATE_HZ)
            done = at
        part = block[:, max(0, done - at) : due - at]
        if part.shape[1]:
            yield part
            done += part.shape[1]
    if done < due:
        yield silence((due - done) / RATE_HZ)


def _decoded(clip: Clip, from_s: float) -> Iterator[tuple[float, Samples]]:
    """Blocks with the times at which they start, from a little before ``from_s`` on."""
    with open_container(clip.path) as container:
        streams = [stream for stream in container.streams.audio if stream.codec_context is not None]
        if not streams:
            return
        stream = streams[0]
        zero_s = clip.start_in_file_s
        wanted = int((zero_s + from_s - _EARLIER_S) / float(stream.time_base))
        if from_s > _EARLIER_S:
            try:
                container.seek(wanted, stream=stream, backward=True)
            except (av.FFmpegError, OSError):
                container.seek(0)
        resampler = av.AudioResampler(format="fltp", layout="stereo", rate=RATE_HZ)
        for frame in _frames(container, stream):
            if frame.pts is None:
                continue
            start_s = float(frame.pts * stream.time_base) - zero_s
            if start_s + frame.samples / frame.sample_rate < from_s - _EARLIER_S:
                continue
            out: Any
            for out in resampler.resample(frame):
                # the resampler keeps the input's clock in its own ticks
                known = out.pts is not None and out.time_base is not None
                at_s = float(out.pts * out.time_base) - zero_s if known else start_s
                yield at_s, out.to_ndarray().astype(np.float32, copy=False)


def _frames(container: Any, stream: Any) -> Iterator[Any]:
    try:
        for packet in container.demux(stream):
            try:
                yield from packet.decode()
            except (av.FFmpegError, EOFError):
                continue
    except (av.FFmpegError, OSError):
        return
