"""Which stretches of a clip are shown, and how fast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

BEFORE_S = 1.0
"""A putt is shown from so long before its start."""
AFTER_S = 0.8
"""And so long after its end, for the call to be read."""
BETWEEN_S = 1.2
"""In the clip of a whole drill the call stands a little longer."""
SLOW = 0.25


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the filmed clip, shown at ``speed`` times its own pace."""

    from_s: float
    until_s: float
    speed: float = 1.0

    @property
    def shown_s(self) -> float:
        """How long it takes to watch."""
        return (self.until_s - self.from_s) / self.speed


def of_putt(start_s: float, end_s: float, clip_s: float) -> list[Span]:
    """One putt: in real time, then at a quarter of the pace from the start on."""
    until = min(clip_s, end_s + AFTER_S)
    return [
        Span(max(0.0, start_s - BEFORE_S), until),
        Span(max(0.0, start_s - 0.2), until, SLOW),
    ]


def of_drill(putts: Sequence[tuple[float, float]], clip_s: float) -> list[Span]:
    """A whole drill: all putts (start, end) in order, what lies between left out."""
    spans: list[Span] = []
    for start_s, end_s in putts:
        first, last = max(0.0, start_s - BEFORE_S), min(clip_s, end_s + BETWEEN_S)
        if spans and first <= spans[-1].until_s:
            spans[-1] = Span(spans[-1].from_s, max(last, spans[-1].until_s))
        else:
            spans.append(Span(first, last))
    return spans
