"""Where the words beside a chart's marks go, so that none runs into another or over a mark. Pure geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from puttvision.review.report.svg import SMALL

_WIDE = 0.62
"""Width of a letter over its height, of the usual sans-serif types, on the wide side."""
_MARK = 7.0
"""Half of a mark with its edge, units of the drawing."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where words stand: moved from their mark, in units of the drawing."""

    dx: float
    dy: float
    anchor: Literal["start", "end"]


_SPOTS = (Spot(9, -6, "start"), Spot(-9, -6, "end"), Spot(9, 15, "start"), Spot(-9, 15, "end"))
"""Tried in this order."""


def spots(marks: Sequence[tuple[float, float]], words: Sequence[str], inside: Box) -> list[Spot | None]:
    """A spot for the words of each mark, an empty text taking none; None where all would run into something.

    ``marks``: where they stand in the drawing; ``inside``: what words may not leave.
    """
    taken = [(x - _MARK, y - _MARK, x + _MARK, y + _MARK) for x, y in marks]
    out: list[Spot | None] = []
    for (x, y), text in zip(marks, words, strict=True):
        found = None
        for spot in _SPOTS if text else ():
            box = _box(text, x + spot.dx, y + spot.dy, spot.anchor)
            if _within(box, inside) and not any(_meet(box, other) for other in taken):
                found = spot
                taken.append(box)
                break
        out.append(found)
    return out


def _box(text: str, x: float, y: float, anchor: str) -> Box:
    wide = _WIDE * SMALL * len(text)
    left = x if anchor == "start" else x - wide
    return left, y - 0.75 * SMALL, left + wide, y + 0.05 * SMALL


def _within(box: Box, inside: Box) -> bool:
    return box[0] >= inside[0] and box[1] >= inside[1] and box[2] <= inside[2] and box[3] <= inside[3]


def _meet(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
