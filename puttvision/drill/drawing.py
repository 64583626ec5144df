"""A drill's set-up drawn from above: hole, places to putt from, gate; as text and as SVG.

The hole is the origin; angles go round it like the hands of a clock, 6 o'clock towards the reader.
Lengths are to scale within a drawing; hole, balls and tees are drawn larger than they are.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from html import escape

from puttvision.drill.rules import Distance, Rules, Stage

_CLOCK = re.compile(r"(\d{1,2})(?::(\d\d)| o'clock)")
_SLOPES = {"uphill": "6 o'clock", "downhill": "12 o'clock"}
_SIDES = {"left to right": "9 o'clock", "right to left": "3 o'clock"}
"""With 6 o'clock the lowest place, a putt from 9 o'clock falls to the player's right."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place to putt from."""

    distance: Distance
    clock_deg: float
    """0 at 12 o'clock, 90 at 3 o'clock, 180 at 6 o'clock."""
    place: str
    """Distance and place in words."""
    stages: tuple[int, ...] = ()
    """Numbers of the stages played from here, in a drill of several."""

    @property
    def label(self) -> str:
        if not self.stages or _CLOCK.search(self.place.split(", ")[-1]):
            return self.place
        numbers = dict.fromkeys(self.stages)
        return f"{self.place}, stage{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"

    @property
    def at_m(self) -> tuple[float, float]:
        """Right of the hole and up the drawing, metres."""
        angle = math.radians(self.clock_deg)
        return self.distance.metres * math.sin(angle), self.distance.metres * math.cos(angle)


def spots(rules: Rules) -> list[Spot]:
    """Every place of the drill to putt from, nearest first; a place played in several stages once."""
    found: dict[tuple[float, float], Spot] = {}
    stages: dict[tuple[float, float], list[int]] = {}
    for number, stage in enumerate(rules.stages, start=1):
        for distance in _distances(stage):
            for place in _places(stage):
                spot = Spot(distance, _degrees(place), f"{distance}, {place}" if place else str(distance))
                key = (round(distance.metres, 4), spot.clock_deg)
                found.setdefault(key, spot)
                stages.setdefault(key, []).append(number)
    if len(rules.stages) > 1:
        for key, numbers in stages.items():
            found[key] = replace(found[key], stages=tuple(numbers))
    return sorted(found.values(), key=lambda spot: (spot.distance.metres, spot.clock_deg))


def _distances(stage: Stage) -> list[Distance]:
    for turn in stage.turns:
        if turn.of in ("distance_ft", "distance_m"):
            unit = "ft" if turn.of == "distance_ft" else "m"
            return [Distance(float(value), "ft" if unit == "ft" else "m") for value in turn.each]
    return [stage.distance] if stage.distance else []


def _places(stage: Stage) -> list[str]:
    for turn in stage.turns:
        if turn.of in ("from", "slope", "side"):
            return [str(value) for value in turn.each]
    return [stage.usual.from_ or stage.usual.slope or stage.usual.side]


def _degrees(place: str) -> float:
    """Angle of a place given like a clock's hour, by its slope or its break; 6 o'clock for any other."""
    match = _CLOCK.fullmatch(_SLOPES.get(place) or _SIDES.get(place) or place)
    if match is None:
        return 180.0
    return (int(match[1]) % 12) * 30.0 + int(match[2] or 0) * 0.5


# --- text ------------------------------------------------------------------------------------

_WIDTH, _HEIGHT = 64, 19


def as_text(rules: Rules) -> str:
    """The drawing for a terminal."""
    places = spots(rules)
    if not places:
        return "(the drill leaves the distances open)"
    around = any(spot.clock_deg != 180 for spot in places)
    rows = _round(places) if around else _line(rules, places)
    return "\n".join(row.rstrip() for row in rows)


def _line(rules: Rules, places: list[Spot]) -> list[str]:
    """Places on one line below the hole, one row or more each."""
    longest = places[-1].distance.metres
    rows = {0: "     (O)   hole"}
    last = 0
    for spot in places:
        last = max(last + 1, round((_HEIGHT - 4) * spot.distance.metres / longest))
        rows[last] = f"      o    {spot.label}"
    if rules.gate:
        if rules.gate.kind == "head":
            rows[last] = rows[last].replace("     o    ", "    .o.   ", 1)
            rows[last + 1] = f"           head gate: {rules.gate.width or _width(rules)}"
        else:
            at = max(last - 3, 1)
            rows[at] = f"     . .   ball gate: {_width(rules)}{_ahead(rules)}"
    return [rows.get(row, "      |") for row in range(max(rows) + 1)]


def _width(rules: Rules) -> str:
    widths = [stage.usual.gate_mm for stage in rules.stages if stage.usual.gate_mm]
    return ", ".join(f"{width:g}" for width in dict.fromkeys(widths)) + " mm wide" if widths else "two tees"


def _ahead(rules: Rules) -> str:
    return f", {100 * rules.gate.ahead_m:.0f} cm ahead" if rules.gate and rules.gate.ahead_m else ""


def _round(places: list[Spot]) -> list[str]:
    """Places round the hole. A terminal's character is about twice as high as wide."""
    furthest = places[-1].distance.metres
    grid = [[" "] * _WIDTH for _ in range(_HEIGHT)]
    middle_row, middle = _HEIGHT // 2, _WIDTH // 2
    _write(grid, middle_row, middle - 1, "(O)")
    distances = {spot.distance for spot in places}
    for spot in places:
        right, up = (value / furthest for value in spot.at_m)
        row = middle_row - round(up * (_HEIGHT // 2 - 1))
        column = middle + round(right * (_HEIGHT - 3))
        _write(grid, row, column, "o")
        if spot.distance.metres < furthest and len(distances) > 1:
            continue
        label = spot.place.split(", ")[-1]
        _write(grid, row, column + 2 if right >= -0.01 else column - 1 - len(label), label)
    return [*("".join(row) for row in grid), f"{'':{middle - 4}}{_listed(places)} from the hole"]


def _write(grid: list[list[str]], row: int, column: int, text: str) -> None:
    for offset, letter in enumerate(text):
        if 0 <= row < len(grid) and 0 <= column + offset < len(grid[row]):
            grid[row][column + offset] = letter


# --- SVG -------------------------------------------------------------------------------------

_PAGE = 640.0
_MARGIN = 90.0


def as_svg(rules: Rules) -> str:
    """The drawing as an SVG page; black on white, no colour needed to read it."""
    places = spots(rules)
    furthest = places[-1].distance.metres if places else 1.0
    around = any(spot.clock_deg != 180 for spot in places)
    scale = (_PAGE / 2 - 1.4 * _MARGIN if around else _PAGE - 2 * _MARGIN) / furthest
    x0, y0 = (_PAGE / 2, _PAGE / 2) if around else (0.25 * _PAGE, _MARGIN)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_PAGE:g} {_PAGE:g}" '
        f'font-family="sans-serif" font-size="15" role="img" aria-label="{escape(rules.title)}: set-up">',
        f"<title>{escape(rules.title)}</title>",
        '<rect width="100%" height="100%" fill="#fff"/>',
        f'<text x="24" y="36" font-size="22" font-weight="bold">{escape(rules.title)}</text>',
    ]
    for spot in places:
        right, up = spot.at_m
        x, y = x0 + scale * right, y0 - scale * up
        parts.append(_svg_line(x0, y0, x, y))
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="#fff" stroke="#000" stroke-width="2"/>')
        if not around:
            parts.append(_svg_label(x + (28 if rules.gate else 0), y, spot.label, left=False))
        elif spot.distance.metres >= furthest:
            parts.append(_svg_label(x, y, spot.place.split(", ")[-1], left=right < -0.01))
    parts.append(f'<circle cx="{x0:.1f}" cy="{y0:.1f}" r="11" fill="#000"/>')
    if around:
        parts.append(f'<text x="24" y="{_PAGE - 24:g}">{_listed(places)} from the hole</text>')
    else:
        parts.append(_svg_label(x0 + 4, y0, "hole", left=False))
    if rules.gate and places and not around:
        parts += _svg_gate(rules, x0, y0 + scale * furthest, scale)
    parts.append("</svg>")
    return "\n".join(parts) + "\n"


def _listed(places: list[Spot]) -> str:
    """``3 ft and 4 ft``."""
    distances = sorted({spot.distance for spot in places}, key=lambda distance: distance.metres)
    return " and ".join(str(distance) for distance in distances)


def _svg_line(x1: float, y1: float, x2: float, y2: float) -> str:
    ends = f'x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"'
    return f'<line {ends} stroke="#777" stroke-dasharray="4 5"/>'


def _svg_label(x: float, y: float, text: str, left: bool) -> str:
    side = f'x="{x - 14:.1f}" text-anchor="end"' if left else f'x="{x + 14:.1f}"'
    return f'<text {side} y="{y + 5:.1f}">{escape(text)}</text>'


def _svg_gate(rules: Rules, x0: float, ball_y: float, scale: float) -> list[str]:
    """Two tees: beside the ball (head gate) or ahead of it (ball gate), wider apart than to scale."""
    gate = rules.gate
    if gate is None:
        return []
    head = gate.kind == "head"
    y = ball_y if head else ball_y - max(scale * (gate.ahead_m or 0.45), 24)
    half = 22 if head else 14
    tees = [
        f'<rect x="{x0 + side * half - 4:.1f}" y="{y - 4:.1f}" width="8" height="8"/>' for side in (-1, 1)
    ]
    words = gate.width or _width(rules)
    text = f"{gate.kind} gate: {words}{_ahead(rules)}"
    return [*tees, _svg_label(x0 + 28, y + (24 if head else 0), text, left=False)]
