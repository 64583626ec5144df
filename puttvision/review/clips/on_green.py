"""What is painted on the green of one putt: target and start line, path, the room at the gate, the hole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision import looks
from puttvision.physics import BALL_RADIUS_M, CAPTURE_SPEED_M_S, HOLE_RADIUS_M, capture_offset
from puttvision.putts import Gate, Putt
from puttvision.review import putt_words
from puttvision.review.clips import paint
from puttvision.review.clips.paint import Paint, Size
from puttvision.review.clips.panel import Sizes, label
from puttvision.review.perspective import Ground, right_of, way_of
from puttvision.scene import PuttPath

Floats = NDArray[np.float64]

FILM = looks.FILM
_FASTEST_M_S = 3.0
"""The speed ramp's bright end: a putt of 20 ft on a usual green starts no faster (common practice)."""


@dataclass(frozen=True, slots=True)
class Look:
    """How big and bright everything is drawn."""

    size: Size
    full_range: bool = False
    unit_px: float | None = None

    @property
    def unit(self) -> float:
        """A line's width, pixels: 3 at 1080 lines unless it is given."""
        return max(1.2, min(self.size) / 360) if self.unit_px is None else self.unit_px


def aim(way: PuttPath, ground: Ground) -> tuple[float, float]:
    """Heading and length of the target line: through the gate's middle where there is one, else to the
    hole; as far as the hole either way."""
    lie, hole = np.array(way.lie_m), np.array(ground.scene.hole_m)
    target = hole if ground.scene.posts_m is None else np.mean(ground.scene.posts_m, axis=0)
    to_target = target - lie
    return float(np.arctan2(to_target[1], to_target[0])), float(np.hypot(*(hole - lie)))


def standing(way: PuttPath, ground: Ground, look: Look) -> Paint:
    """What is there before the stroke: target line, gate, hole."""
    size, u = look.size, look.unit
    heading, length = aim(way, ground)
    far = np.array(way.lie_m) + way_of(heading) * (length - HOLE_RADIUS_M)
    near = np.array(way.lie_m) + way_of(heading) * 2.2 * BALL_RADIUS_M
    parts = [
        _line(size, ground.line(near, far), FILM.ink, 0.75 * u, opacity=0.85, dash_px=(6 * u, 5 * u), edge=u),
        _line(size, ground.hole(), FILM.ink, 0.75 * u, opacity=0.95, edge=0.8 * u),
    ]
    if ground.scene.posts_m is not None:
        left, right = ground.scene.posts_m
        parts.append(_line(size, ground.line(left, right), FILM.ink, 0.75 * u, opacity=0.8, edge=0.8 * u))
    return paint.over(size, *parts)


def _line(
    size: Size,
    points: Floats,
    colour: str,
    width: float,
    *,
    opacity: float = 1.0,
    dash_px: tuple[float, float] | None = None,
    edge: float = 0.0,
) -> Paint:
    if len(points) < 2:
        return paint.nothing()
    return paint.stroke(size, points, colour, width, opacity=opacity, dash_px=dash_px, edge_px=edge)


def start_line(putt: Putt, way: PuttPath, ground: Ground, look: Look) -> Paint:
    """The start line as long as the putt, in a thin fan of its 95 % interval."""
    size, u = look.size, look.unit
    _, length = aim(way, ground)
    figure, _ = putt_words.aim_error(putt)
    parts = []
    if figure.u95:
        fan = ground.fan(way.lie_m, way.heading_rad, float(np.radians(figure.u95)), length)
        if len(fan) > 2:
            parts.append(paint.area(size, fan, FILM.edge, 0.4))
    far = np.array(way.lie_m) + way_of(way.heading_rad) * length
    parts.append(_line(size, ground.line(way.lie_m, far), FILM.edge, 0.7 * u, edge=0.7 * u, opacity=0.9))
    return paint.over(size, *parts)


def track(way: PuttPath, ground: Ground, look: Look) -> Paint:
    """The ball's way on the grass, growing with it, dark where it is slow and bright where it is fast."""
    points, speed, shows_s = ground.path(way)
    if len(points) < 2:
        return paint.nothing()
    colours = [looks.speed_colour(v / _FASTEST_M_S) for v in speed]
    return paint.ribbon(look.size, points, colours, shows_s, 1.5 * look.unit, 0.8 * look.unit)


def at_gate(putt: Putt, gate: Gate | None, ground: Ground, look: Look, *, told: bool = True) -> Paint:
    """The room that was left on each side, drawn to scale on the gate's line; ``told``: in millimetres."""
    room, posts = putt_words.clearances_mm(putt, gate), ground.scene.posts_m
    offset = putt.gate_offset_mm.value
    if room is None or posts is None or offset is None:
        return paint.nothing()
    size, u, s = look.size, look.unit, Sizes.of(look.size)
    left, right = np.array(posts)
    across = (right - left) / np.hypot(*(right - left))
    ball = (left + right) / 2 + across * offset / 1000
    parts = []
    for post, out, mm in ((left, -1.0, room[0]), (right, 1.0, room[1])):
        flank = ball + across * out * BALL_RADIUS_M
        touched = putt.gate_result == "touched" and mm == min(room)
        colour = FILM.edge if touched or mm < 0.5 else FILM.good
        if mm > 0.5:
            parts.append(_line(size, ground.line(flank, post), colour, 1.3 * u, edge=0.8 * u))
        foot, beyond = ground.px(np.array([post, post + across * out * 0.05]))
        if not told or not np.isfinite([foot, beyond]).all():
            continue
        away = (beyond - foot) / max(float(np.hypot(*(beyond - foot))), 1e-6)
        # a post stands up in the picture: words beyond the far one clear its top
        top = float(np.hypot(*(ground.px(post, ground.scene.post_height_m) - foot)))
        reach = 1.6 * s.label + (top if away[1] < -0.3 else 0.0) + abs(away[0]) * 1.6 * s.label
        x, y = foot + away * reach
        parts.append(label(size, "touched" if touched else f"{max(mm, 0):.0f} mm", x, y, colour))
    return paint.over(size, *parts)


def at_hole(putt: Putt, way: PuttPath, ground: Ground, look: Look, *, told: bool = True) -> Paint:
    """Where it crossed the hole's line, and how much of the hole takes a ball at that pace."""
    at, offset, speed = way.at_hole, putt.hole_offset_mm.value, putt.speed_at_hole_m_s.value
    if at is None or offset is None:
        return paint.nothing()
    size, u = look.size, look.unit
    hole, right = np.array(ground.scene.hole_m), right_of(at.heading_rad)
    colour = getattr(FILM, looks.MARKS[putt.outcome].colour)
    parts = []
    if speed is not None and speed < CAPTURE_SPEED_M_S:
        half = capture_offset(speed)
        parts.append(_line(size, ground.line(hole - right * half, hole + right * half), FILM.good, 1.6 * u,
                           edge=0.8 * u))  # fmt: skip
        for end in (-half, half):
            tick = [hole + right * end - way_of(at.heading_rad) * 0.012 * k for k in (-1, 1)]
            parts.append(_line(size, ground.line(*tick), FILM.good, 1.2 * u, edge=0.8 * u))
    crossing = hole + right * offset / 1000
    if abs(offset) > 1000 * HOLE_RADIUS_M:
        parts.append(_line(size, ground.line(hole, crossing), colour, 0.8 * u, dash_px=(3 * u, 3 * u),
                           edge=0.6 * u))  # fmt: skip
    x, y = ground.px(crossing)
    if np.isfinite([x, y]).all():
        turn = np.linspace(0, 2 * np.pi, 48)
        ring = np.column_stack([x + 2.6 * u * np.cos(turn), y + 2.6 * u * np.sin(turn)])
        parts.append(paint.stroke(size, ring, colour, u, edge_px=0.7 * u))
    if not told:
        return paint.over(size, *parts)
    words = f"{putt_words.length(offset)} {putt_words.side(offset)}"
    if speed is not None:
        words += f" · {speed:.2f} m/s"
    parts.append(label(size, words, *_words_at_hole(ground, look), colour))
    return paint.over(size, *parts)


def room_for_words_at_hole(ground: Ground, look: Look) -> Floats:
    """Points, (n, 2), over the box of words above the hole, as long as they usually are."""
    x, y = _words_at_hole(ground, look)
    half = _WORDS_LONG * Sizes.of(look.size).label / 2
    across = np.linspace(x - half, x + half, 20)
    return np.column_stack([across, np.full(len(across), y)])


def _words_at_hole(ground: Ground, look: Look) -> tuple[float, float]:
    rim = ground.hole()
    return float(rim[:, 0].mean()), float(rim[:, 1].min()) - 2.0 * Sizes.of(look.size).label


_WORDS_LONG = 12.0
"""Width of "72 mm right · 0.81 m/s" in heights of its letters."""
