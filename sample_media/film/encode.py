"""Frames to a video file, with the times they were taken at."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from puttvision.files import replacing
from sample_media.film.render import Frame
from sample_media.film.scene import Scene

TIME_BASE = Fraction(1, 90000)


def write(path: Path, scene: Scene, frames: Iterator[Frame], threads: int = 1) -> int:
    """Encode frames to MP4 (H.264 or HEVC, 4:2:0, BT.709, limited range); gives their number.

    Time stamps are the frames' own, in 1/90000 s. One key frame in ten seconds keeps the
    file small; a phone writes more of them.
    """
    camera = scene.camera
    tags = "colorprim=bt709:transfer=bt709:colormatrix=bt709:range=limited"
    slower = 1.0 if camera.file_fps is None else camera.fps / camera.file_fps
    gop = round(10 * camera.fps / slower)
    with replacing(path) as temporary, av.open(str(temporary), "w", format="mp4") as out:
        rate = Fraction(camera.fps / slower).limit_denominator(1001)
        stream = out.add_stream(scene.codec, rate=rate)
        stream.width, stream.height, stream.pix_fmt = camera.width, camera.height, "yuv420p"
        stream.time_base = stream.codec_context.time_base = TIME_BASE
        stream.options = {"crf": str(scene.crf), "preset": scene.preset, "threads": str(threads)}
        if scene.codec == "libx264":
            stream.options |= {
                "x264-params": f"{tags}:keyint={gop}:bframes=2:chroma-qp-offset=-3:deblock=-1,-1"
            }
        else:
            stream.options |= {"x265-params": f"{tags}:keyint={gop}:log-level=error:pools={threads}"}
        n = 0
        for frame in frames:
            picture = av.VideoFrame.from_ndarray(np.ascontiguousarray(frame.yuv), format="yuv420p")
            picture.pts = round(frame.time_s * slower / TIME_BASE)
            picture.time_base = TIME_BASE
            picture.colorspace, picture.color_range = 1, 1
            out.mux(stream.encode(picture))
            n += 1
        out.mux(stream.encode(None))
        out.close()
        if camera.turn_deg:
            _ask_for_turn(temporary, camera.turn_deg)
    return n


def _ask_for_turn(path: Path, turn_deg: int) -> None:
    """Write a turn to the right into the track header: 40 bytes into tkhd version 0 (ISO 14496-12)."""
    a, b, c, d = {90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}[turn_deg]
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4 + 40
    struct.pack_into(">9i", data, at, a << 16, b << 16, 0, c << 16, d << 16, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
