"""What is known of a clip before its frames are read, and whether that is enough to measure putts."""

from __future__ import annotations

from dataclasses import dataclass

from puttvision.errors import ClipError

MIN_RATE_HZ = 23.5
"""Least frame rate: 24 frames a second come as 23.976. A ball that leaves at 2 m/s moves 8 cm a frame
there, so the first 0.2 m still hold two frames; fewer leave nothing to fit. Common practice, no source."""
WISHED_RATE_HZ = 60
MIN_LONG_SIDE_PX = 640
MIN_SHORT_SIDE_PX = 360
"""At 640 x 360 a ball 3 m away is some 5 pixels across (phone lens, 26 mm equivalent): the least that a
circle can be fitted to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipFacts:
    """Facts of a clip's video stream; sizes are those of the upright picture with square pixels."""

    file: str
    """Name of the file without its folder."""
    width: int
    height: int
    stored_width: int
    stored_height: int
    codec: str
    pixel_format: str
    rotation_deg: int
    """Clockwise turn (0, 90, 180, 270) that brings the stored picture upright, after any mirroring."""
    mirrored: bool
    """The file asks for the stored picture to be mirrored left to right (before the turn); that is done."""
    pixel_aspect: float
    """Width of a stored pixel over its height; the upright picture has square pixels."""
    n_frames_header: int | None
    """Number of frames the header claims; it may lie. None: it says nothing."""
    duration_s: float | None
    """Length in real time as the header has it; an estimate."""
    nominal_rate_hz: float
    """Frames a second of real time, from the usual distance of presentation times, not from the header."""
    time_scale: float
    """Seconds of real time for each second of file time; 1 unless the capture rate was given."""
    focal_35mm: float | None
    """Focal length for a 36 x 24 mm picture, from the container's metadata."""
    full_range: bool
    """Luma runs from 0 to 255 (else 16 to 235)."""
    phone: str | None = None
    """Make and model, from the container's metadata."""
    warnings: tuple[str, ...] = ()
    """What the user should know, in plain words."""


def check_measurable(facts: ClipFacts, *, min_rate_hz: float = MIN_RATE_HZ) -> None:
    """Refuse a clip with too few frames a second or too small a picture.

    Raises
    ------
    ClipError
        Says what was found and what is needed.
    """
    if facts.nominal_rate_hz < min_rate_hz:
        raise ClipError(
            f"{facts.file}: {facts.nominal_rate_hz:.1f} frames a second are too few to measure a putt: "
            f"film with at least 24 (better {WISHED_RATE_HZ} or more)"
        )
    long_side, short_side = max(facts.width, facts.height), min(facts.width, facts.height)
    if long_side < MIN_LONG_SIDE_PX or short_side < MIN_SHORT_SIDE_PX:
        raise ClipError(
            f"{facts.file}: a picture of {facts.width}x{facts.height} pixels is too small to measure a putt: "
            f"film with at least {MIN_LONG_SIDE_PX}x{MIN_SHORT_SIDE_PX} (better 1920x1080)"
        )
