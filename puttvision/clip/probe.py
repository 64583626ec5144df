"""Opening a clip: which stream, which way up, how fast, and what its metadata says."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, islice, pairwise
from pathlib import Path
from statistics import fmean, median
from struct import unpack
from typing import Any

from puttvision.clip.decode import Decoding, open_container, video_streams
from puttvision.clip.facts import ClipFacts
from puttvision.clip.upright import ONE, Upright, from_display
from puttvision.errors import ClipError

N_PACKETS_FOR_RATE = 120
"""Packets whose times give the frame rate: 2 s at 60 frames a second, read without decoding."""
SAME_RATE = 0.01
"""Rates that differ by less are taken as the same: 59.94 and 60 are the same camera setting."""
SLOW_MOTION = 1.2
"""A capture tag this many times the rate of the file is worth a warning; slow motion starts at 2."""

CAPTURE_RATE_KEYS = ("com.android.capture.fps",)
MAKE_KEYS = ("com.apple.quicktime.make", "com.android.manufacturer", "make")
MODEL_KEYS = ("com.apple.quicktime.model", "com.android.model", "model")
LONGEST_NAME = 60
FOCAL_KEYS = ("com.apple.quicktime.camera.focal_length.35mm_equivalent",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """What reading needs to know: the stream, its clock and its way up."""

    stream_index: int
    time_base: Fraction
    first_pts: int
    """Presentation time of the first whole picture: the zero of the clip's clock."""
    upright: Upright
    facts: ClipFacts

    def time_s(self, pts: int) -> float:
        """Real seconds from the first picture."""
        ticks = pts - self.first_pts
        return ticks * self.time_base.numerator / self.time_base.denominator * self.facts.time_scale


def probe(path: Path, capture_rate_hz: float | None) -> Probe:
    """Look into the file: its streams, its first pictures' times and its first whole picture.

    Raises
    ------
    ClipError
        The file cannot be read, or holds no pictures, or no times.
    """
    if capture_rate_hz is not None and not (math.isfinite(capture_rate_hz) and capture_rate_hz > 0):
        raise ClipError(f"the capture rate is a number of frames a second above 0, got {capture_rate_hz}")
    with open_container(path) as container:
        candidates = [stream.index for stream in video_streams(container, path)]
        found = _probe_stream(path, container, candidates[0], capture_rate_hz)
    for stream_index in candidates[1:]:
        if found is None:
            with open_container(path) as container:
                found = _probe_stream(path, container, stream_index, capture_rate_hz)
    if found is None:
        raise ClipError(f"{path}: not one whole picture is in this file; copy it from the phone again")
    return found


def _probe_stream(
    path: Path, container: Any, stream_index: int, capture_rate_hz: float | None
) -> Probe | None:
    """The facts of one stream; None where it holds no whole picture."""
    stream = container.streams[stream_index]
    packets = container.demux(stream)
    head = list(islice(packets, N_PACKETS_FOR_RATE))
    picture = next(Decoding(chain(head, packets), stream).pictures(), None)
    if picture is None:
        return None
    if picture.pts is None:
        raise ClipError(f"{path}: the pictures carry no times; save the clip as .mp4 or .mov")
    interval_s = _usual_interval_s(path, head, stream.time_base)
    aspect = float(stream.sample_aspect_ratio or 1) or 1.0
    upright = from_display(_display_matrix(picture), aspect, str(path))
    width, height = upright.size(picture.width, picture.height)
    time_scale, warnings = _real_time(interval_s, capture_rate_hz, _tag(container, stream, CAPTURE_RATE_KEYS))
    if upright.mirrored:
        warnings += (
            "the file asks for its picture to be mirrored, and so it is measured; "
            "if no sheet is found in it, film with the rear camera",
        )
    if (upright.stretch_x, upright.stretch_y) != (1.0, 1.0):
        warnings += (
            f"the file's pixels are not square ({aspect:.3f} wide for 1 high); "
            f"it is measured as {width}x{height} pixels",
        )
    focal = _tag(container, stream, FOCAL_KEYS)
    facts = ClipFacts(
        file=path.name,
        width=width,
        height=height,
        stored_width=picture.width,
        stored_height=picture.height,
        codec=stream.codec_context.codec.canonical_name,
        pixel_format=picture.format.name,
        rotation_deg=upright.turn_deg,
        mirrored=upright.mirrored,
        pixel_aspect=aspect,
        n_frames_header=stream.frames or None,
        duration_s=_duration_s(container, stream, time_scale),
        nominal_rate_hz=1.0 / (interval_s * time_scale),
        time_scale=time_scale,
        focal_35mm=focal if focal is not None and 5 <= focal <= 1000 else None,
        phone=_phone(container, stream),
        full_range=picture.format.name.startswith("yuvj") or picture.color_range == 2,
        warnings=warnings,
    )
    return Probe(
        stream_index=stream.index,
        time_base=stream.time_base,
        first_pts=picture.pts,
        upright=upright,
        facts=facts,
    )


def _display_matrix(picture: Any) -> tuple[int, ...] | None:
    """The nine numbers of the display matrix; None where the picture has none."""
    try:
        found = [data for data in picture.side_data if data.type.name == "DISPLAYMATRIX"]
    except ValueError:  # PyAV does not know some other side data; it still tells the turn
        return _turn_matrix(picture.rotation)
    return unpack("=9i", bytes(found[0])[:36]) if found else _turn_matrix(picture.rotation)


def _turn_matrix(counter_clockwise_deg: int) -> tuple[int, ...] | None:
    if not counter_clockwise_deg:
        return None
    angle = -math.radians(counter_clockwise_deg)
    cos, sin = round(math.cos(angle) * ONE), round(math.sin(angle) * ONE)
    return (cos, sin, 0, -sin, cos, 0, 0, 0, 1 << 30)


def _usual_interval_s(path: Path, packets: list[Any], time_base: Fraction) -> float:
    """Usual distance in time of the first pictures, in file time.

    The mean of those near the median: it is not fooled by gaps, nor by a clock of whole milliseconds.
    """
    times = sorted({p.pts for p in packets if p.pts is not None and not p.is_discard})
    if len(times) < 2:
        raise ClipError(
            f"{path}: there are fewer than two pictures with times in this file; name a video clip"
        )
    intervals = [b - a for a, b in pairwise(times)]
    middle = median(intervals)
    return float(fmean(i for i in intervals if 0.5 * middle <= i <= 1.5 * middle) * time_base)


def _real_time(
    interval_s: float, capture_rate_hz: float | None, tag_hz: float | None
) -> tuple[float, tuple[str, ...]]:
    """Seconds of real time a second of file time, and what to say about it."""
    file_hz = 1.0 / interval_s
    if capture_rate_hz is not None:
        if abs(capture_rate_hz / file_hz - 1.0) < SAME_RATE:
            return 1.0, ()  # the file's own clock is the better one
        text = (
            f"times are taken as filmed at {capture_rate_hz:g} frames a second "
            f"though the file plays at {file_hz:.4g}"
        )
        return file_hz / capture_rate_hz, (text,)
    if tag_hz is not None and tag_hz > SLOW_MOTION * file_hz:
        text = (
            f"slow motion: the file says it was filmed at {tag_hz:g} frames a second but plays at "
            f"{file_hz:.4g}; if that is so, speeds come out {tag_hz / file_hz:.3g} times too low: "
            f"give --capture-rate {tag_hz:g}"
        )
        return 1.0, (text,)
    return 1.0, ()


def _tag(container: Any, stream: Any, keys: tuple[str, ...]) -> float | None:
    """A number from the metadata of the stream or the file."""
    places: tuple[Mapping[str, str], ...] = (stream.metadata, container.metadata)
    for place in places:
        for key in keys:
            try:
                value = float(place[key])
            except (KeyError, ValueError):
                continue
            if math.isfinite(value) and value > 0:
                return value
    return None


def _phone(container: Any, stream: Any) -> str | None:
    """Make and model in one line; None where the metadata has no model."""
    names = []
    for keys in (MAKE_KEYS, MODEL_KEYS):
        texts = (place.get(key, "") for place in (container.metadata, stream.metadata) for key in keys)
        names.append(" ".join(next((text for text in texts if text.strip()), "").split()))
    make, model = names
    if not model:
        return None
    return (model if model.startswith(make) else f"{make} {model}")[:LONGEST_NAME]


def _duration_s(container: Any, stream: Any, time_scale: float) -> float | None:
    if stream.duration:
        return float(stream.duration * stream.time_base) * time_scale
    if container.duration:
        return float(container.duration) / 1e6 * time_scale  # AV_TIME_BASE: microseconds
    return None
