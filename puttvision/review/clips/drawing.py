"""What is drawn of one putt, and when: on the green, close looks and the panel's words.

Everything is worked out once a putt. A part shows from its own moment on and then stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from puttvision.putts import Gate, Putt
from puttvision.review import putt_words
from puttvision.review.clips import paint
from puttvision.review.clips.close_look import CloseLook, close_look
from puttvision.review.clips.layer import Layer, layer
from puttvision.review.clips.on_green import FILM, Look, at_gate, at_hole, standing, start_line, track
from puttvision.review.clips.paint import Paint
from puttvision.review.clips.panel import Place, Words, clock, panel
from puttvision.review.clips.score import Standing
from puttvision.review.perspective import Ground
from puttvision.scene import PuttPath

Floats = NDArray[np.float64]

_BALL_KEPT = 1.3
"""So many radii around the ball's centre stay as they were filmed."""
_TELLS_AFTER_S = 0.25


@dataclass(frozen=True, slots=True)
class Moments:
    """When what happens, on the clock of the frames."""

    start_s: float
    gate_s: float | None
    hole_s: float | None
    call_s: float
    """When the outcome is plain."""


def moments(putt: Putt, way: PuttPath, ground: Ground) -> Moments:
    """Read the moments off the path."""
    _, _, shows_s = ground.path(way)
    lag = float(shows_s[0]) - way.path[0].time_s if len(shows_s) else 0.0
    end = way.path[-1].time_s + lag
    hole_s = None
    if way.at_hole is not None and putt.hole_offset_mm:
        hole_s = min(way.at_hole.time_s + lag, end)
    gate_s = _gate_s(way, ground, lag) if putt.gate_result in ("clear", "touched") else None
    return Moments(start_s=way.start_s + lag, gate_s=gate_s, hole_s=hole_s, call_s=end)


def _gate_s(way: PuttPath, ground: Ground, lag: float) -> float | None:
    posts = ground.scene.posts_m
    if posts is None:
        return None
    left, right = np.array(posts)
    across = (right - left) / np.hypot(*(right - left))
    steps = np.array(way.path)
    ahead = (steps[:, 1:3] - (left + right) / 2) @ np.array([-across[1], across[0]])
    through = np.nonzero((ahead[1:] > 0) & (ahead[:-1] <= 0))[0]
    return float(steps[through[0] + 1, 0]) + lag if len(through) else None


@dataclass(slots=True)
class Drawing:
    """A putt's layers, each with the moment from which it shows, and what the panel says when."""

    putt: Putt
    way: PuttPath
    ground: Ground
    look: Look
    place: Place
    when: Moments
    parts: list[tuple[float, Layer]]
    says: list[tuple[float, Words]]
    zero_s: float
    """When the drill's clock starts."""
    close: list[CloseLook] = field(default_factory=list)
    _panels: dict[tuple[int, bool], Layer] = field(default_factory=dict)
    _clock: tuple[int, Layer] | None = None

    def layers(self, time_s: float, *, slow: bool) -> Iterator[Layer]:
        """What lies over the frame at ``time_s``, bottom first."""
        for shows_s, part in self.parts:
            if shows_s <= time_s:
                yield part
        yield self._panel(time_s, slow)
        yield self._clock_at(time_s - self.zero_s)

    def _panel(self, time_s: float, slow: bool) -> Layer:
        k = max(i for i, (shows_s, _) in enumerate(self.says) if i == 0 or shows_s <= time_s)
        if (k, slow) not in self._panels:
            words = self.says[k][1]
            words = Words(head=words.head, call=words.call, mark=words.mark, lines=words.lines,
                          score=words.score, slow=slow)  # fmt: skip
            self._panels[(k, slow)] = self._layer(panel(self.look.size, self.place, words))
        return self._panels[(k, slow)]

    def _clock_at(self, seconds: float) -> Layer:
        tenth = max(0, int(seconds * 10 + 1e-6))
        if self._clock is None or self._clock[0] != tenth:
            self._clock = (tenth, self._layer(clock(self.look.size, self.place, tenth / 10)))
        return self._clock[1]

    def _layer(self, item: Paint) -> Layer:
        return layer(item, full_range=self.look.full_range)

    def ball(self, time_s: float, frame_s: float) -> tuple[float, float, float] | None:
        """Centre and radius in pixels of what stays as it was filmed; None where no ball is to be seen.

        ``frame_s``: time from one frame to the next.
        """
        seen = self.way.seen
        times = [s.time_s for s in seen]
        k = int(np.searchsorted(times, time_s))
        for near in (k - 1, k):
            if 0 <= near < len(seen) and abs(seen[near].time_s - time_s) < 0.4 * frame_s:
                x, y, radius = self.ground.seen(seen[near])
                return x, y, _BALL_KEPT * radius
        x, y, radius = self.ground.ball(self._where(time_s))
        if not np.isfinite([x, y, radius]).all():
            return None
        return x, y, _BALL_KEPT * radius

    def _where(self, time_s: float) -> Floats:
        steps = np.array(self.way.path)
        if time_s <= self.when.start_s or len(steps) == 0:
            return np.array(self.way.lie_m)
        if time_s > self.when.call_s and self.way.rest_m is not None:
            return np.array(self.way.rest_m)
        lag = self.when.call_s - self.way.path[-1].time_s
        return np.array([np.interp(time_s - lag, steps[:, 0], steps[:, i]) for i in (1, 2)])


def draw(
    putt: Putt, way: PuttPath, gate: Gate | None, stand: Standing, ground: Ground, look: Look, place: Place,
    windows: tuple[Place, Place] | None, zero_s: float | None, title: str,
) -> Drawing:  # fmt: skip
    """Everything that is drawn of a putt.

    ``zero_s``: the start of the drill's clock (None: here); ``windows``: where close looks at gate and hole
    lie (None: nowhere).
    """
    when = moments(putt, way, ground)
    parts: list[tuple[float, Paint]] = [
        (-np.inf, standing(way, ground, look)),
        (when.start_s, start_line(putt, way, ground, look)),
        (-np.inf, track(way, ground, look)),
    ]
    if when.gate_s is not None:
        parts.append((when.gate_s, at_gate(putt, gate, ground, look)))
    if when.hole_s is not None:
        parts.append((when.hole_s, at_hole(putt, way, ground, look)))
    return Drawing(
        putt=putt,
        way=way,
        ground=ground,
        look=look,
        place=place,
        when=when,
        parts=[(shows_s, layer(item, full_range=look.full_range)) for shows_s, item in parts],
        says=_says(putt, gate, stand, when, title),
        zero_s=when.start_s if zero_s is None else zero_s,
        close=[] if windows is None else _close_looks(putt, way, gate, when, ground, look, windows),
    )


def _close_looks(
    putt: Putt, way: PuttPath, gate: Gate | None, when: Moments, ground: Ground, look: Look,
    windows: tuple[Place, Place],
) -> list[CloseLook]:  # fmt: skip
    found: list[CloseLook | None] = []
    room, posts = putt_words.clearances_mm(putt, gate), ground.scene.posts_m
    if when.gate_s is not None and room is not None and posts is not None:
        x, y = np.mean(posts, axis=0)
        found.append(
            close_look(
                ground, look.size, (float(x), float(y)), 0.20, windows[0],
                "touched" if putt.gate_result == "touched" else f"{max(min(room), 0):.0f} mm of room",
                when.gate_s,
                lambda near, size: at_gate(putt, gate, near, Look(size, unit_px=look.unit), told=False),
                full_range=look.full_range,
            )
        )  # fmt: skip
    offset = putt.hole_offset_mm.value
    if when.hole_s is not None and offset is not None and abs(offset) < 150:
        found.append(
            close_look(
                ground, look.size, ground.scene.hole_m, 0.26, windows[1],
                f"{putt_words.length(offset)} {putt_words.side(offset)}", when.hole_s,
                lambda near, size: paint.over(
                    size,
                    paint.stroke(size, near.hole(), FILM.ink, look.unit, edge_px=look.unit),
                    at_hole(putt, way, near, Look(size, unit_px=look.unit), told=False),
                ),
                full_range=look.full_range,
            )
        )  # fmt: skip
    return [item for item in found if item is not None]


def _says(
    putt: Putt, gate: Gate | None, stand: Standing, when: Moments, title: str
) -> list[tuple[float, Words]]:
    line = f"Start line {putt_words.start_line(putt)}"
    pace = putt.launch_speed_m_s
    rolling = (line, *([f"Leaves at {pace.value:.2f} m/s"] if pace.value is not None else []))
    said = [
        (-np.inf, Words(head=title, score=stand.before)),
        (when.start_s + _TELLS_AFTER_S, Words(head=title, lines=rolling, score=stand.before)),
    ]
    passed = putt_words.gate_call(putt, gate)
    passed = passed[:1].upper() + passed[1:]
    if passed and when.gate_s is not None and when.gate_s > said[-1][0]:
        said.append((when.gate_s, Words(head=title, lines=(line, passed), score=stand.before)))
    why = putt_words.reason(putt)
    doubt = f"Look again: {putt.review[0]}" if putt.review and putt.outcome != "unseen" else ""
    because = [text for text in (why[:1].upper() + why[1:], doubt or passed) if text]
    ends = Words(
        head=title,
        call=putt_words.call(putt),
        mark=putt.outcome,
        lines=tuple(because),
        score=stand.after,
    )
    said.append((max(when.call_s, said[-1][0]), ends))
    return said
