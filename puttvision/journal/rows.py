"""Putts and sheets as rows of the journal, and back again without loss."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from puttvision.journal.questions import json_in
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet, Rest

if TYPE_CHECKING:
    from puttvision.journal.tables import PuttRow

FIGURES = (
    "start_s", "hole_distance_m", "start_direction_to_hole_deg", "start_direction_to_gate_deg",
    "launch_speed_m_s", "gate_offset_mm", "hole_offset_mm", "speed_at_hole_m_s", "run_out_m",
)  # fmt: skip
_FIGURES = tuple((key, f"{key}_u95") for key in FIGURES)
_GATE = ("distance_m", "width_mm", "square_deg")
PUTT_COLUMNS = (
    "number", "outcome", "gate_result", "lipped", "miss_side", "miss_length", "confidence", "review",
    *(name for key in (*FIGURES, "rest_along_m", "rest_right_m") for name in (key, f"{key}_u95")),
)  # fmt: skip
"""What `putt_of` needs of a row."""
GATE_COLUMNS = tuple(name for key in _GATE for name in (f"gate_{key}", f"gate_{key}_u95"))
_NOTHING = Figure()


def putt_columns(putt: Putt) -> dict[str, Any]:
    """The columns of a putt, but for its session."""
    columns: dict[str, Any] = {
        "number": putt.number,
        "outcome": putt.outcome,
        "gate_result": putt.gate_result,
        "lipped": putt.lipped,
        "miss_side": putt.miss_side,
        "miss_length": putt.miss_length,
        "confidence": putt.confidence,
        "review": list(putt.review) or None,
    }
    for key in FIGURES:
        columns |= _columns(key, getattr(putt, key))
    if putt.rest:
        columns |= _columns("rest_along_m", putt.rest.along_m) | _columns("rest_right_m", putt.rest.right_m)
    return columns


def putt_row(putt: Putt, session_id: int) -> PuttRow:
    """A putt as a row."""
    from puttvision.journal.tables import PuttRow

    return PuttRow(session_id=session_id, **putt_columns(putt))


def putt_of(row: Any) -> Putt:
    """The putt of a `PuttRow`, or of any row with `PUTT_COLUMNS` as attributes."""
    figures: dict[str, Any] = {key: _figure(getattr(row, key), getattr(row, u95)) for key, u95 in _FIGURES}
    return Putt(
        number=row.number,
        outcome=row.outcome,
        gate_result=row.gate_result,
        lipped=bool(row.lipped),
        rest=_rest(row),
        confidence=row.confidence,
        review=tuple(json_in(row.review) or ()),
        miss_side=row.miss_side,
        miss_length=row.miss_length,
        **figures,
    )


def sheet_columns(sheet: PuttSheet) -> dict[str, Any]:
    """What a session keeps of a sheet besides its putts."""
    columns: dict[str, Any] = {"warnings": list(sheet.warnings) or None}
    if sheet.clip:
        columns |= {
            "clip_file": sheet.clip.file,
            "clip_duration_s": sheet.clip.duration_s,
            "clip_frames": sheet.clip.frames,
            "clip_width": sheet.clip.width,
            "clip_height": sheet.clip.height,
        }
    if sheet.green:
        hole_px = sheet.green.hole_px or (None, None)
        columns |= {
            "sheets": list(sheet.green.sheets),
            "reprojection_rms_px": sheet.green.reprojection_rms_px,
            "hole_u_px": hole_px[0],
            "hole_v_px": hole_px[1],
        }
        columns |= _columns("stimp_ft", sheet.green.stimp_ft)
    if sheet.gate:
        for key in _GATE:
            columns |= _columns(f"gate_{key}", getattr(sheet.gate, key))
    return columns


def sheet_of(row: Any, putts: tuple[Putt, ...]) -> PuttSheet:
    """The sheet of a session's row and its putts, whose numbers rise."""
    clip = green = None
    if row.clip_file is not None:
        clip = ClipInfo(
            file=row.clip_file,
            duration_s=row.clip_duration_s or 0.0,
            frames=row.clip_frames or 0,
            width=row.clip_width or 0,
            height=row.clip_height or 0,
        )
    stimp_ft = _figure(row.stimp_ft, row.stimp_ft_u95)
    if row.sheets is not None or stimp_ft:
        hole_px = None if row.hole_u_px is None else (row.hole_u_px, row.hole_v_px)
        green = Green(
            sheets=tuple(row.sheets or ()),
            reprojection_rms_px=row.reprojection_rms_px,
            hole_px=hole_px,
            stimp_ft=stimp_ft,
        )
    return PuttSheet(
        putts=putts, clip=clip, green=green, gate=gate_of(row), warnings=tuple(row.warnings or ())
    )


def gate_of(row: Any) -> Gate | None:
    """The ball gate of a session's row; None where none stood."""
    parts = {key: _figure(getattr(row, f"gate_{key}"), getattr(row, f"gate_{key}_u95")) for key in _GATE}
    return Gate(**parts) if any(parts.values()) else None


def _columns(key: str, figure: Figure) -> dict[str, float | None]:
    return {key: figure.value, f"{key}_u95": figure.u95}


def _figure(value: float | None, u95: float | None) -> Figure:
    return _NOTHING if value is None and u95 is None else Figure(value, u95)


def _rest(row: Any) -> Rest | None:
    along_m = _figure(row.rest_along_m, row.rest_along_m_u95)
    right_m = _figure(row.rest_right_m, row.rest_right_m_u95)
    return Rest(along_m=along_m, right_m=right_m) if along_m or right_m else None
