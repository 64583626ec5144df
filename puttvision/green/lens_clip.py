"""A lens from a short clip: of the printed board, or of sheets that are moved about before the camera."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from puttvision.clip.facts import ClipFacts
from puttvision.clip.source import Clip, open_clip
from puttvision.errors import GreenError
from puttvision.green.lens import Lens, measure_lens
from puttvision.green.lens_views import (
    BoardSighting,
    MeasuredReadout,
    board_views,
    choose_views,
    find_board,
    measure_readout,
    sheet_views,
)

_MOST_BOARD_FRAMES = 300
_MOST_SHEET_FRAMES = 60
"""A sheet's print is fitted whole, which takes a tenth of a second each."""
_TRIES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class LensReading:
    """What a clip told of its lens."""

    facts: ClipFacts
    lens: Lens
    readout: MeasuredReadout | None
    """None where the material does not tell it."""
    material: Literal["board", "sheets"]
    n_seen: int
    """Frames that showed the board, or views of sheets."""


def lens_from_clip(path: Path, progress: Callable[[float, float], None] | None = None) -> LensReading:
    """Measure the lens of a clip.

    Raises
    ------
    ClipError, GreenError
        The clip cannot be read, shows neither board nor sheets, or too few different views of them.
    """
    with open_clip(path) as clip:
        facts = clip.facts
        tries = list(clip.sample(_TRIES))
        if any(find_board(frame.luma, frame.time_s) for frame in tries):
            return _from_board(clip, progress)
    with open_clip(path) as clip:
        views = sheet_views((frame.luma, frame.time_s) for frame in clip.sample(_MOST_SHEET_FRAMES))
    if not views:
        raise GreenError(
            f"{path.name}: neither the lens board nor a sheet seen: print a board with "
            "`puttvision lens board`, hold it flat and whole in the picture"
        )
    lens = measure_lens(choose_views(views), facts.width, facts.height)
    return LensReading(facts=facts, lens=lens, readout=None, material="sheets", n_seen=len(views))


def _from_board(clip: Clip, progress: Callable[[float, float], None] | None) -> LensReading:
    """All of the clip, every so manyth frame: views from where the board rests, read-out from its motion."""
    facts = clip.facts
    n_frames = (facts.duration_s or 20.0) * facts.nominal_rate_hz
    stride = max(1, round(n_frames / _MOST_BOARD_FRAMES))
    sightings: list[BoardSighting] = []
    for frame in clip.frames():
        if frame.index % stride:
            continue
        seen = find_board(frame.luma, frame.time_s)
        if seen is not None:
            sightings.append(seen)
        if progress and facts.duration_s:
            progress(frame.time_s, facts.duration_s)
    lens = measure_lens(choose_views(board_views(sightings)), facts.width, facts.height)
    readout = measure_readout(sightings, lens, 1 / facts.nominal_rate_hz)
    return LensReading(facts=facts, lens=lens, readout=readout, material="board", n_seen=len(sightings))
