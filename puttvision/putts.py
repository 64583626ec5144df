"""The data model of putts.json: what the camera side and hand scoring write and the drill engine reads.

Format ``puttvision-putts/1``. Metres, seconds, degrees where the key says ``_deg``, millimetres
where it says ``_mm``; right of the line and past the hole are positive. A figure that was not
measured has the value ``None``. From a hand-entered file no more than ``number`` and
``outcome`` of each putt is needed (and ``gate_result`` where the drill has a gate).
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, TypeVar, cast, get_args

from puttvision.errors import PuttsFileError

FORMAT = "puttvision-putts/1"

Outcome = Literal["holed", "missed", "unseen"]
GateResult = Literal["clear", "touched", "outside", "none"]
MissSide = Literal["left", "right"]
MissLength = Literal["short", "long"]


@dataclass(frozen=True, slots=True)
class Figure:
    """A measured value and the half-width of its 95 % interval; ``value`` None: not measured."""

    value: float | None = None
    u95: float | None = None

    def __post_init__(self) -> None:
        for number in (self.value, self.u95):
            if number is not None and not math.isfinite(number):
                raise ValueError(f"a figure is finite or None, got {self.value} and {self.u95}")

    def __bool__(self) -> bool:
        return self.value is not None


NOT_MEASURED = Figure()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """Where the ball came to rest, in the putt frame."""

    along_m: Figure
    right_m: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Putt:
    """One putt; every figure as the contract of putts.json defines it."""

    number: int
    outcome: Outcome
    start_s: Figure = NOT_MEASURED
    hole_distance_m: Figure = NOT_MEASURED
    start_direction_to_hole_deg: Figure = NOT_MEASURED
    start_direction_to_gate_deg: Figure = NOT_MEASURED
    launch_speed_m_s: Figure = NOT_MEASURED
    gate_result: GateResult = "none"
    gate_offset_mm: Figure = NOT_MEASURED
    hole_offset_mm: Figure = NOT_MEASURED
    speed_at_hole_m_s: Figure = NOT_MEASURED
    lipped: bool = False
    rest: Rest | None = None
    run_out_m: Figure = NOT_MEASURED
    confidence: float | None = None
    review: tuple[str, ...] = ()
    miss_side: MissSide | None = None
    """Hand scoring: the side a missed putt passed the hole on."""
    miss_length: MissLength | None = None
    """Hand scoring: whether a missed putt stopped short of the hole or ran past it."""
    player: str | None = None
    """Whose putt it was, in a drill for two."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipInfo:
    """The clip the putts were measured in."""

    file: str
    duration_s: float
    frames: int
    width: int
    height: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Green:
    """What was found of the green: sheet ids, fit, hole in the upright picture, green speed."""

    sheets: tuple[int, ...]
    reprojection_rms_px: float | None
    hole_px: tuple[float, float] | None
    stimp_ft: Figure = NOT_MEASURED


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """The ball gate, from the ball's place at rest."""

    distance_m: Figure
    width_mm: Figure
    square_deg: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class PuttSheet:
    """A whole putts.json."""

    putts: tuple[Putt, ...]
    clip: ClipInfo | None = None
    green: Green | None = None
    gate: Gate | None = None
    warnings: tuple[str, ...] = field(default=())
    """What the user should know of this measurement as a whole, in plain words."""

    def __post_init__(self) -> None:
        numbers = [p.number for p in self.putts]
        if any(a >= b for a, b in pairwise(numbers)):
            raise ValueError(f"putt numbers rise, got {numbers}")


# --- writing ---------------------------------------------------------------------------------


def _figure_out(figure: Figure) -> dict[str, float | None]:
    return {"value": figure.value, "u95": figure.u95}


_FIGURES = (
    "start_s", "hole_distance_m", "start_direction_to_hole_deg", "start_direction_to_gate_deg",
    "launch_speed_m_s", "gate_offset_mm", "hole_offset_mm", "speed_at_hole_m_s", "run_out_m",
)  # fmt: skip


def _putt_out(putt: Putt) -> dict[str, Any]:
    out: dict[str, Any] = {"number": putt.number}
    out |= {key: _figure_out(getattr(putt, key)) for key in _FIGURES}
    out |= {"gate_result": putt.gate_result, "outcome": putt.outcome, "lipped": putt.lipped}
    out["rest"] = (
        {"along_m": _figure_out(putt.rest.along_m), "right_m": _figure_out(putt.rest.right_m)}
        if putt.rest
        else None
    )
    out |= {"confidence": putt.confidence, "review": list(putt.review)}
    for key in ("miss_side", "miss_length", "player"):
        if getattr(putt, key) is not None:
            out[key] = getattr(putt, key)
    return out


def to_json(sheet: PuttSheet) -> dict[str, Any]:
    """The JSON object of a sheet, keys as the format fixes them."""
    out: dict[str, Any] = {"format": FORMAT}
    if sheet.clip:
        clip = sheet.clip
        out["clip"] = {
            "file": clip.file, "duration_s": clip.duration_s, "frames": clip.frames,
            "width": clip.width, "height": clip.height,
        }  # fmt: skip
    if sheet.green:
        green = sheet.green
        out["green"] = {
            "sheets": list(green.sheets), "reprojection_rms_px": green.reprojection_rms_px,
            "hole_px": list(green.hole_px) if green.hole_px else None,
            "stimp_ft": _figure_out(green.stimp_ft),
        }  # fmt: skip
    out["gate"] = (
        {key: _figure_out(getattr(sheet.gate, key)) for key in ("distance_m", "width_mm", "square_deg")}
        if sheet.gate
        else None
    )
    if sheet.warnings:
        out["warnings"] = list(sheet.warnings)
    out["putts"] = [_putt_out(putt) for putt in sheet.putts]
    return out


# --- reading ---------------------------------------------------------------------------------

T = TypeVar("T")


def _is_number(raw: Any) -> bool:
    """Whether this is a number that a float can hold; true and false are none."""
    try:
        return isinstance(raw, (int, float)) and not isinstance(raw, bool) and math.isfinite(raw)
    except OverflowError:  # a whole number too large for a float
        return False


def _is_whole(raw: Any) -> bool:
    return isinstance(raw, int) and not isinstance(raw, bool)


def _short(raw: Any) -> str:
    """What stands there, as JSON, at most 40 characters of it."""
    try:
        return json.dumps(raw)[:40]
    except (ValueError, RecursionError):
        return "something too large to show"


class _Reader:
    """Takes keys out of a JSON object; every fault names the place and what was due."""

    def __init__(self, data: Any, where: str) -> None:
        if not isinstance(data, Mapping):
            raise PuttsFileError(f"{where}: an object was due, got {_short(data)}")
        self.data, self.where = data, where

    def fault(self, key: str, due: str) -> PuttsFileError:
        got = _short(self.data.get(key))
        return PuttsFileError(f"{self.where}, {key}: {due} was due, got {got}")

    def figure(self, key: str) -> Figure:
        raw = self.data.get(key)
        if isinstance(raw, Mapping):
            value, u95 = raw.get("value"), raw.get("u95")
        else:
            value, u95 = raw, None
        for number in (value, u95):
            if number is not None and not _is_number(number):
                raise self.fault(key, 'a number or {"value": number, "u95": number}')
        if u95 is not None and u95 < 0:
            raise self.fault(key, "u95 of 0 or more")
        return Figure(value, u95)

    def items(self, key: str, fits: Callable[[Any], bool], due: str) -> list[Any] | None:
        """A list in which every item fits."""
        raw = self.typed(key, list, due)
        if raw is not None and not all(fits(item) for item in raw):
            raise self.fault(key, due)
        return raw

    def choice(self, key: str, kind: Any, default: T) -> Any | T:
        raw = self.data.get(key)
        if raw is None:
            return default
        if raw not in get_args(kind):
            raise self.fault(key, "one of " + ", ".join(get_args(kind)))
        return raw

    def typed(self, key: str, kind: type[T], due: str) -> T | None:
        raw = self.data.get(key)
        if raw is None:
            return None
        if not isinstance(raw, kind) or (isinstance(raw, bool) and kind is not bool):
            raise self.fault(key, due)
        return raw


def _putt_in(data: Any, where: str) -> Putt:
    take = _Reader(data, where)
    number = take.typed("number", int, "a whole number from 1")
    if number is None or number < 1:
        raise take.fault("number", "a whole number from 1")
    outcome = take.choice("outcome", Outcome, None)
    if outcome is None:
        raise take.fault("outcome", "one of " + ", ".join(get_args(Outcome)))
    rest = None
    if data.get("rest") is not None:
        at = _Reader(data["rest"], f"{where}, rest")
        rest = Rest(along_m=at.figure("along_m"), right_m=at.figure("right_m"))
    confidence = take.figure("confidence").value
    if confidence is not None and not 0 <= confidence <= 1:
        raise take.fault("confidence", "a number from 0 to 1")
    review = take.typed("review", list, "a list of texts") or []
    return Putt(
        number=number,
        outcome=cast(Outcome, outcome),
        gate_result=take.choice("gate_result", GateResult, "none"),
        lipped=bool(take.typed("lipped", bool, "true or false")),
        rest=rest,
        confidence=confidence,
        review=tuple(str(reason) for reason in review),
        miss_side=take.choice("miss_side", MissSide, None),
        miss_length=take.choice("miss_length", MissLength, None),
        player=take.typed("player", str, "a text"),
        **{key: take.figure(key) for key in _FIGURES},
    )


def from_json(data: Any, where: str = "putts.json") -> PuttSheet:
    """Read a JSON object; unknown keys are left alone.

    Raises PuttsFileError that names the putt, the key and what was due.
    """
    take = _Reader(data, where)
    if data.get("format") != FORMAT:
        raise take.fault("format", f'"{FORMAT}"')
    raw = take.typed("putts", list, "a list of putts")
    if raw is None:
        raise take.fault("putts", "a list of putts")
    putts = tuple(_putt_in(item, f"{where}, putt {i + 1} in the list") for i, item in enumerate(raw))
    for before, after in pairwise(putts):
        if after.number <= before.number:
            raise PuttsFileError(
                f"{where}: putt numbers must rise, but {after.number} comes after {before.number}"
            )
    clip = green = gate = None
    if data.get("clip") is not None:
        at = _Reader(data["clip"], f"{where}, clip")
        clip = ClipInfo(
            file=at.typed("file", str, "a text") or "",
            duration_s=at.figure("duration_s").value or 0.0,
            frames=at.typed("frames", int, "a whole number") or 0,
            width=at.typed("width", int, "a whole number") or 0,
            height=at.typed("height", int, "a whole number") or 0,
        )
    if data.get("green") is not None:
        at = _Reader(data["green"], f"{where}, green")
        hole = at.items("hole_px", _is_number, "two numbers")
        if hole is not None and len(hole) != 2:
            raise at.fault("hole_px", "two numbers")
        green = Green(
            sheets=tuple(at.items("sheets", _is_whole, "a list of sheets' ids") or ()),
            reprojection_rms_px=at.figure("reprojection_rms_px").value,
            hole_px=(float(hole[0]), float(hole[1])) if hole else None,
            stimp_ft=at.figure("stimp_ft"),
        )
    if data.get("gate") is not None:
        at = _Reader(data["gate"], f"{where}, gate")
        gate = Gate(
            distance_m=at.figure("distance_m"),
            width_mm=at.figure("width_mm"),
            square_deg=at.figure("square_deg"),
        )
    warnings = take.typed("warnings", list, "a list of texts") or []
    return PuttSheet(
        putts=putts, clip=clip, green=green, gate=gate, warnings=tuple(str(text) for text in warnings)
    )


def _first_line(err: Exception) -> str:
    return str(err).splitlines()[0][:120]


def load(path: Path) -> PuttSheet:
    """Read a putts.json file; PuttsFileError where it is missing, no JSON or not of the format."""
    try:
        # some editors put a byte order mark before the text
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as err:
        raise PuttsFileError(f"cannot read {path}: {err.strerror or err}") from err
    except RecursionError as err:
        raise PuttsFileError(f"{path} is not JSON of putts: brackets within brackets without end") from err
    except ValueError as err:  # no JSON, no UTF-8, or a number of thousands of digits
        raise PuttsFileError(f"{path} is not JSON: {_first_line(err)}") from err
    return from_json(data, str(path))
