"""Frames to a video file, with the times they were taken at."""

from __future__ import annotations

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
    gop = round(10 * camera.fps)
    with replacing(path) as temporary, av.open(str(temporary), "w", format="mp4") as out:
        rate = Fraction(camera.fps).limit_denominator(1001)
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
            picture.pts = round(frame.time_s / TIME_BASE)
            picture.time_base = TIME_BASE
            picture.colorspace, picture.color_range = 1, 1
            out.mux(stream.encode(picture))
            n += 1
        out.mux(stream.encode(None))
    return n
