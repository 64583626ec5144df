"""Clips of known content, packed in the test itself: ``film`` writes one and says what is in it.

The picture is a texture that moves, so that coding predicts frames from others. Lossless coding
(quantiser 0) makes every decoded sample equal to the drawn one, so that tests compare for equality.
The container is written by FFmpeg through PyAV; what phones write beside (display
matrices) is patched into the bytes by hand, so that it does not depend on PyAV's idea of it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

LOSSLESS = {
    "libx264": {"qp": "0", "preset": "ultrafast"},
    "libx265": {"x265-params": "lossless=1:log-level=none:bframes=0", "preset": "ultrafast"},
}


@dataclass(frozen=True)
class Filmed:
    """A clip's path, and its planes as drawn: for each frame (luma, cb, cr) at the depth of the file."""

    path: Path
    planes: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = field(default_factory=list)


Film = Callable[..., Filmed]


@pytest.fixture
def film(tmp_path: Path) -> Film:
    def make(
        name: str = "clip.mp4",
        *,
        n: int = 12,
        size: tuple[int, int] = (96, 64),
        codec: str = "libx264",
        pixel_format: str = "yuv420p",
        pts: Sequence[int] | None = None,
        ticks_a_second: int = 30,
        key_every: int | None = None,
        options: dict[str, str] | None = None,
        metadata: dict[str, str] | None = None,
        muxer: dict[str, str] | None = None,
        pixel_aspect: str | None = None,
        still: bool = False,
        keep: bool = True,
    ) -> Filmed:
        tick = Fraction(1, ticks_a_second)
        rng = np.random.default_rng(len(name) + n)
        planes = []
        path = tmp_path / name
        with av.open(str(path), "w", options={"movflags": "use_metadata_tags", **(muxer or {})}) as out:
            out.metadata.update(metadata or {})
            stream = out.add_stream(codec, rate=30)
            stream.width, stream.height, stream.pix_fmt = *size, pixel_format
            stream.codec_context.time_base = tick
            stream.options = {**LOSSLESS.get(codec, {}), **(options or {})}
            if key_every is not None:
                stream.gop_size = key_every
                if codec == "libx264":
                    stream.options = {**stream.options, "sc_threshold": "0"}
            if pixel_aspect is not None:
                stream.codec_context.sample_aspect_ratio = Fraction(pixel_aspect)
            drawn = None
            for i in range(n):
                frame = av.VideoFrame(*size, pixel_format)
                if drawn is None:
                    drawn = tuple(_noise(rng, plane, "10" in pixel_format) for plane in frame.planes)
                elif not still:  # moves to the right, so that frames are predicted from others
                    drawn = tuple(
                        np.roll(samples, 2 * samples.shape[1] // size[0], axis=1) for samples in drawn
                    )
                for plane, samples in zip(frame.planes, drawn, strict=True):
                    plane.update(samples.tobytes())
                if keep:
                    shown = tuple(
                        samples[:, : plane.width] for plane, samples in zip(frame.planes, drawn, strict=True)
                    )
                    planes.append(shown)
                frame.pts = i if pts is None else pts[i]
                frame.time_base = tick
                out.mux(stream.encode(frame))
            out.mux(stream.encode(None))
        return Filmed(path, planes)

    return make


def _noise(rng: np.random.Generator, plane: av.video.plane.VideoPlane, deep: bool) -> np.ndarray:
    """Random samples for a plane, rows padded as the plane wants them."""
    if deep:
        return rng.integers(0, 1024, (plane.height, plane.line_size // 2)).astype("<u2")
    return rng.integers(0, 256, (plane.height, plane.line_size)).astype(np.uint8)
