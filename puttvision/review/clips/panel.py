"""The panel of words: number, call and reason, score; in the corner where nothing happens."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision import looks
from puttvision.review.clips import paint
from puttvision.review.clips.paint import Paint, Size

Floats = NDArray[np.float64]

FILM = looks.FILM
_REASON_LINES = 3
_NEAR_PX = 0.04
"""The action is given this share of the picture's short side as elbow room."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """Type in pixels for one size of picture: on a phone 4 % of its short side is some 2.5 mm."""

    body: int
    call: int
    label: int
    gap: int

    @classmethod
    def of(cls, size: Size) -> Sizes:
        short = min(size)
        return cls(
            body=max(11, round(0.036 * short)),
            call=max(14, round(0.055 * short)),
            label=max(11, round(0.033 * short)),
            gap=max(4, round(0.016 * short)),
        )


@dataclass(frozen=True, slots=True)
class Place:
    """Where the panel lies, pixels."""

    x: int
    y: int
    w: int
    h: int
    """At its fullest: it is no taller than its words."""
    low: bool
    """In a lower corner: it grows upwards, and the clock stands in its last line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What the panel says at one moment."""

    head: str
    call: str = ""
    mark: str = ""
    """Kind of ``looks.MARKS``, for the call's shape and colour."""
    lines: tuple[str, ...] = ()
    score: str = ""
    slow: bool = False


def place_for(size: Size, action_px: Floats) -> Place:
    """The corner that covers least of the points where something happens, (n, 2)."""
    width, height = size
    sizes = Sizes.of(size)
    w = round(0.42 * width) if width > height else width - 4 * sizes.gap
    h = round(
        2 * sizes.gap
        + 1.35 * sizes.body
        + 1.3 * sizes.call
        + _REASON_LINES * 1.3 * sizes.body
        + 1.6 * sizes.body
    )
    return min(corners(size, w, h), key=lambda at: covered(size, at, action_px))


def corners(size: Size, w: int, h: int) -> list[Place]:
    """The four corners of the picture for something of a size."""
    width, height = size
    m = 2 * Sizes.of(size).gap
    upper = [Place(x, m, w, h, False) for x in (m, width - w - m)]
    return upper + [Place(x, height - h - m, w, h, True) for x in (m, width - w - m)]


def covered(size: Size, at: Place, action_px: Floats) -> int:
    """How many points of the action, (n, 2), it would cover or nearly so."""
    room = _NEAR_PX * min(size)
    low, high = (at.x - room, at.y - room), (at.x + at.w + room, at.y + at.h + room)
    return int(((action_px > low) & (action_px < high)).all(axis=1).sum())


def wrapped(text: str, width_px: float, height_px: int, most: int) -> list[str]:
    """Lines that fit; what does not fit into the last one ends in dots."""
    lines: list[str] = []
    line = ""
    words = text.split()
    for k, word in enumerate(words):
        longer = f"{line} {word}".strip()
        if paint.text_width(longer, height_px) <= width_px or not line:
            line = longer
            continue
        if len(lines) == most - 1:
            rest = " ".join([line, *words[k:]])
            while rest and paint.text_width(rest + "…", height_px) > width_px:
                rest = rest[:-1]
            return [*lines, rest.rstrip(" ,;") + "…"]
        lines.append(line)
        line = word
    return [*lines, line] if line else lines


def panel(size: Size, at: Place, words: Words) -> Paint:
    """The whole panel but the clock."""
    s = Sizes.of(size)
    inner = at.w - 2 * s.gap
    most = _REASON_LINES if words.call else _REASON_LINES + 1
    rows: list[str] = []
    for line in words.lines:
        if len(rows) < most:
            rows += wrapped(line, inner, s.body, most - len(rows))
    row_px, call_px = round(1.3 * s.body), round(1.3 * s.call) if words.call else 0
    height = 2 * s.gap + round(1.35 * s.body) + call_px + row_px * len(rows) + _foot_px(s)
    top = at.y + at.h - height if at.low else at.y
    x, y = at.x + s.gap, top + s.gap
    parts = [paint.box(size, at.x, top, at.w, height, s.gap, FILM.card, 0.74)]
    head = f"{words.head}  ·  ¼ speed" if words.slow else words.head
    parts.append(paint.text(size, head, x, y, s.body, FILM.ink, bold=True))
    y += round(1.35 * s.body)
    if words.call:
        kind = looks.MARKS[words.mark]
        colour = getattr(FILM, kind.colour)
        parts += _mark(size, kind, x, y + 0.62 * s.call, 0.3 * s.call, colour)
        parts.append(paint.text(size, words.call, x + s.call, y, s.call, colour, bold=True))
        y += call_px
    for row in rows:
        parts.append(paint.text(size, row, x, y, s.body, FILM.soft))
        y += row_px
    foot = top + height - _foot_px(s)
    across = np.array([[x, foot - 2.0], [x + inner, foot - 2.0]])
    parts.append(paint.stroke(size, across, FILM.rule, 1.0, opacity=0.8))
    room = inner - (paint.text_width("00:00.0  ", s.body, True) if at.low else 0)
    for row in wrapped(words.score, room, s.body, 1):
        parts.append(paint.text(size, row, x, foot + 0.1 * s.body, s.body, FILM.ink))
    return paint.over(size, *parts)


def _foot_px(s: Sizes) -> int:
    return round(1.6 * s.body)


def _mark(size: Size, kind: looks.Mark, x: float, y: float, half: float, colour: str) -> list[Paint]:
    """The call's shape beside its word."""
    cx, width = x + 1.2 * half, max(2.0, 0.35 * half)
    if kind.plot_marker == "o":
        turn = np.linspace(0, 2 * np.pi, 40)
        ring = np.column_stack([cx + half * np.cos(turn), y + half * np.sin(turn)])
        return [paint.area(size, ring, colour, 1.0)]
    if kind.plot_marker == "x":
        arms = [np.array([[cx - half, y - d * half], [cx + half, y + d * half]]) for d in (-1, 1)]
        return [paint.stroke(size, arm, colour, width) for arm in arms]
    diamond = np.array([[0, -1], [1, 0], [0, 1], [-1, 0], [0, -1]]) * half + (cx, y)
    return [paint.stroke(size, diamond, colour, width)]


def clock(size: Size, at: Place, time_s: float) -> Paint:
    """Minutes, seconds and tenths, at the right of the panel's line that never moves."""
    s = Sizes.of(size)
    tenths = max(0, int(time_s * 10 + 1e-6))
    words = f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"
    # every digit is as wide as every other, so that nothing jumps
    x = at.x + at.w - s.gap - paint.text_width(words, s.body, True)
    y = at.y + at.h - _foot_px(s) + 0.1 * s.body if at.low else at.y + s.gap
    return paint.text(size, words, x, y, s.body, FILM.ink, bold=True)


def label(size: Size, words: str, x: float, y: float, colour: str) -> Paint:
    """Words in a small dark box whose middle is at a place, moved so as to lie within the picture."""
    s = Sizes.of(size)
    w, h = paint.text_width(words, s.label, True) + 1.2 * s.gap, 1.5 * s.label
    x0 = float(np.clip(x - w / 2, 2, max(2, size[0] - w - 2)))
    y0 = float(np.clip(y - h / 2, 2, max(2, size[1] - h - 2)))
    return paint.over(
        size,
        paint.box(size, x0, y0, w, h, 0.3 * h, FILM.card, 0.7),
        paint.text(size, words, x0 + 0.6 * s.gap, y0 + 0.13 * h, s.label, colour, bold=True),
    )
