"""A session's figures against those of the session before; what chance does is called no change."""

from __future__ import annotations

import math
from dataclasses import dataclass

from puttvision.coaching.intervals import Estimate, TooFew, difference_of_means, difference_of_rates
from puttvision.coaching.shown import with_interval
from puttvision.review import putt_words
from puttvision.review.report.figures import Session


@dataclass(frozen=True, slots=True)
class Change:
    """One figure then and now."""

    name: str
    before: str
    now: str
    verdict: str


def changes(this: Session, before: Session, points: tuple[float | None, float | None]) -> list[Change]:
    """Against the session before; what chance does is called no change. ``points``: before, now."""
    out = []
    if points[0] is not None and points[1] is not None:
        more = points[1] - points[0]
        out.append(
            Change("Points", f"{points[0]:g}", f"{points[1]:g}", "same" if more == 0 else f"{more:+g}")
        )
    for name, old, new in (
        ("Holed", before.holed, this.holed),
        ("Through the gate", before.through, this.through),
    ):
        if not (old[1] and new[1]):
            continue
        gap = difference_of_rates(new, old)
        out.append(
            Change(
                name,
                f"{old[0]} of {old[1]}",
                f"{new[0]} of {new[1]}",
                _verdict(gap),
            )
        )
    if len(before.lines_deg) > 1 and len(this.lines_deg) > 1 and before.mark == this.mark:
        shared = math.hypot(this.shared_deg, before.shared_deg)
        gap = difference_of_means(this.lines_deg, before.lines_deg, shared_u95=shared)
        then, now = (sum(s.lines_deg) / len(s.lines_deg) for s in (before, this))
        out.append(Change("Start line, mean", _deg(then), _deg(now), _verdict(gap, sided=True)))
    return out


def _deg(value: float) -> str:
    return f"{abs(value):.1f}° {putt_words.side(value)}"


def _verdict(gap: Estimate | TooFew, *, sided: bool = False) -> str:
    """What a change is worth; ``sided``: degrees, right positive, else a share."""
    if not isinstance(gap, Estimate):
        return "too few to tell"
    if gap.holds_zero:
        return "no real change: within what chance does"
    if not sided:
        return f"a real change: {with_interval(gap.times(100), sign=True)} percentage points"
    low, high = sorted((abs(gap.low), abs(gap.high)))
    return (
        f"a real change: {abs(gap.value):.1f}° ({low:.1f} to {high:.1f}) to the {putt_words.side(gap.value)}"
    )
