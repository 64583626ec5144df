"""The report's chart of the hole: where each path crossed its line and how fast, with what the hole takes."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from puttvision.physics import CAPTURE_SPEED_M_S, HOLE_RADIUS_M, capture_offset
from puttvision.putts import Putt
from puttvision.review import putt_words
from puttvision.review.report.beside import spots
from puttvision.review.report.svg import BODY, WIDTH, Chart, ticks

HOLE_MM = HOLE_RADIUS_M * 1000
_NUMBERED = 14
"""Up to so many putts each mark carries its number."""
_ROOM_FOR_WORDS = 84.0
"""Width of the hole in the drawing from which the words go into the dome."""


def at_the_hole(putts: Sequence[Putt]) -> str:
    """Where each path crossed the hole's line and how fast, with what the hole takes. Empty without any."""
    crossed = [p for p in putts if p.hole_offset_mm and p.speed_at_hole_m_s]
    if not crossed:
        return ""
    farthest = max(abs(p.hole_offset_mm.value or 0) for p in crossed)
    reach = min(max(120.0, 20 * math.ceil(1.15 * farthest / 20)), 300.0)
    fastest = max([CAPTURE_SPEED_M_S + 0.15, *(1.08 * (p.speed_at_hole_m_s.value or 0) for p in crossed)])
    chart = Chart(
        "Where the putts crossed the hole's line, and how fast: "
        + ", ".join(f"putt {p.number} {putt_words.call(p).lower()}, {putt_words.reason(p)}" for p in crossed),
        x=(-reach, reach), y=(0.0, fastest), height=320, margin=(14, 16, 34, 48),
    )  # fmt: skip
    values = ticks(0.0, fastest, 4)
    chart.grid_y(values, [f"{v:g}" for v in values])
    chart.label_at("m/s", chart.left - 6, chart.top + 2, anchor="end")
    speeds = np.linspace(0.0, CAPTURE_SPEED_M_S, 60)
    dome = [(1000 * capture_offset(v), float(v)) for v in speeds]
    outline = [(-x, v) for x, v in dome] + dome[::-1]
    chart.area(outline, "good", 0.14)
    chart.line(outline, "good", 1.4)
    if chart.x(HOLE_MM) - chart.x(-HOLE_MM) > _ROOM_FOR_WORDS:
        chart.words("the hole", 0, 0.24, colour="good", size=BODY)
        chart.words("takes it", 0, 0.24, dy=16, colour="good", size=BODY)
    else:
        chart.words("the hole takes it", HOLE_MM, 0.06, dx=6, anchor="start", colour="good", size=BODY)
    _hole_line(chart)
    _crossings(chart, crossed, reach)
    beside = [v for v in ticks(-reach, reach, 4) if abs(v) > HOLE_MM or v == 0]
    base = chart.height - chart.bottom
    for value in beside:
        if value:
            words = f"{abs(value) / 10:g} cm {putt_words.side(value)}"
            chart.label_at(words, min(max(chart.x(value), 34), WIDTH - 34), base + 18)
    return chart.svg()


def _hole_line(chart: Chart) -> None:
    base = chart.height - chart.bottom
    chart.path(f"M{chart.left:.1f} {base:.1f}H{WIDTH - chart.right:.1f}", "soft", 1.0)
    x0, x1 = chart.x(-HOLE_MM), chart.x(HOLE_MM)
    chart.parts.append(
        f'<rect x="{x0:.1f}" y="{base - 3.5:.1f}" width="{x1 - x0:.1f}" height="7" rx="3.5" '
        'fill="var(--hole)" stroke="var(--soft)" stroke-width="1"/>'
    )
    chart.label_at("hole, 108 mm", (x0 + x1) / 2, base + 18, colour="ink", bold=True)


def _crossings(chart: Chart, crossed: Sequence[Putt], reach: float) -> None:
    numbered = len(crossed) <= _NUMBERED
    places, words = [], []
    for putt in crossed:
        offset, speed = putt.hole_offset_mm, putt.speed_at_hole_m_s
        value, fast = offset.value or 0.0, speed.value or 0.0
        x = min(max(value, -reach), reach)
        inside = x == value
        if inside and offset.u95:
            ends = [min(max(value + s * offset.u95, -reach), reach) for s in (-1, 1)]
            chart.line([(end, fast) for end in ends], "soft", 1.2)
        tip = f"putt {putt.number}: {putt_words.call(putt)}, {putt_words.reason(putt)}"
        chart.mark(putt.outcome, x, fast, tip=tip)
        places.append((chart.x(x), chart.y(fast)))
        number = str(putt.number) if numbered else ""
        words.append(number if inside else f"{putt.number}: {putt_words.length(value)} off")
    for (x, y), text, spot in zip(places, words, spots(places, words, chart.frame), strict=True):
        if spot is not None:
            chart.label_at(text, x + spot.dx, y + spot.dy, anchor=spot.anchor, colour="ink")
