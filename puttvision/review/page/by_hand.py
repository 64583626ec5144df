"""What a person placed in the still picture: hole, gate posts and sheet corners, checked before use."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from puttvision.errors import PuttvisionError

if TYPE_CHECKING:
    from puttvision.putt.measure import Options

Pixel = tuple[float, float]

_FARTHEST_PX = 20_000.0
_CORNERS = 4
_LONGEST_NAME = 60


def checked(data: Any) -> dict[str, Any]:
    """The marks of a request as plain numbers: hole, gate, no_gate, sheets, lens (a name), and
    capture_rate_hz.

    Raises PuttvisionError that says which mark is wrong.
    """
    if not isinstance(data, dict):
        raise PuttvisionError("marks by hand: an object was due")
    marks: dict[str, Any] = {}
    if data.get("hole") is not None:
        marks["hole"] = _pixels([data["hole"]], 1, "the hole")[0]
    if data.get("gate") is not None:
        marks["gate"] = _pixels(data["gate"], 2, "the gate")
    if data.get("no_gate"):
        if "gate" in marks:
            raise PuttvisionError("the gate: either it is placed, or there is none")
        marks["no_gate"] = True
    sheets = data.get("sheets")
    if sheets:
        marks["sheets"] = _sheets(sheets)
    lens = data.get("lens")
    if lens is not None:
        if not isinstance(lens, str) or not 0 < len(lens) <= _LONGEST_NAME or not lens.isprintable():
            raise PuttvisionError("lens: the name of a profile was due")
        marks["lens"] = lens
    rate = data.get("capture_rate_hz")
    if rate is not None:
        if not _is_number(rate) or not 1 <= rate <= 2000:
            raise PuttvisionError("frames a second as filmed: a number from 1 to 2000 was due")
        marks["capture_rate_hz"] = float(rate)
    return marks


def options(marks: dict[str, Any]) -> Options:
    """The same as options of measuring; ``known_lens``: the lens profile itself, as plain data."""
    from puttvision.putt.measure import Options
    from puttvision.review.page.lenses import from_json

    gate = marks.get("gate")
    return Options(
        hole_px=_pixel(marks["hole"]) if "hole" in marks else None,
        gate_px=(_pixel(gate[0]), _pixel(gate[1])) if gate else None,
        no_gate=bool(marks.get("no_gate")),
        capture_rate_hz=marks.get("capture_rate_hz"),
        lens=from_json(marks.get("known_lens")),
        sheet_px={int(key): tuple(_pixel(at) for at in at) for key, at in marks.get("sheets", {}).items()},
    )


def _sheets(data: Any) -> dict[str, list[list[float]]]:
    if not isinstance(data, dict) or len(data) > 10:
        raise PuttvisionError("sheet corners: an object of up to ten sheets was due")
    for key in data:
        if key not in {str(number) for number in range(10)}:
            raise PuttvisionError("sheet corners: the number printed on a sheet, 0 to 9, was due")
    return {key: _pixels(at, _CORNERS, f"sheet {key}") for key, at in data.items()}


def _pixels(data: Any, count: int, what: str) -> list[list[float]]:
    if not isinstance(data, list) or len(data) != count:
        raise PuttvisionError(f"{what}: {count} places in the picture were due")
    for at in data:
        if not isinstance(at, list) or len(at) != 2 or not all(_is_number(value) for value in at):
            raise PuttvisionError(f"{what}: two numbers a place were due")
    return [[float(at[0]), float(at[1])] for at in data]


def _is_number(value: Any) -> bool:
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    return math.isfinite(value) and abs(value) <= _FARTHEST_PX


def _pixel(at: list[float]) -> Pixel:
    return at[0], at[1]
