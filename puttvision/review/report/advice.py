"""What one session alone suggests to practise next, each with the figure it rests on."""

from __future__ import annotations

from puttvision.coaching.intervals import Estimate, TooFew, bias, spread
from puttvision.review import putt_words
from puttvision.review.report.figures import Session, line_mean

ENOUGH = 10
"""Fewer putts than this say next to nothing of a player (common practice)."""


def advice(this: Session) -> list[str]:
    """What this session alone suggests, each with the figure it rests on; two at most."""
    n = len(this.lines_deg)
    if max(n, this.holed[1]) < ENOUGH:
        few = max(n, this.holed[1])
        return [
            f"{few} putts are too few to tell habit from chance: play at least {ENOUGH}, better 20, before "
            "changing anything."
        ]
    out = []
    out += _aim(this)
    wide = spread(this.lines_deg)
    if isinstance(wide, Estimate) and wide.low > 0.8:
        out.append(
            f"Start line: a spread of {wide.value:.1f}° is wider than a hole at 10 ft (1.0° either side). "
            "Play the ball gate, wide at first."
        )
    run = bias([100 * v for v in this.run_outs_m])
    if isinstance(run, Estimate) and (run.high < 0 or run.low > 60):
        way = "short" if run.value < 0 else "past"
        out.append(f"Pace: putts end {abs(run.value):.0f} cm {way} on average. Play a distance drill next.")
    if not out:
        out.append(
            "Nothing stands out from chance: make the drill harder, or come back with 20 more putts of it."
        )
    return out[:2]


def _aim(this: Session) -> list[str]:
    """Where putts go off to one side: at the gate; without one, at the hole, as a putt that breaks is rightly
    started off the hole."""
    if this.mark == "gate":
        mean = line_mean(this)
        if isinstance(mean, TooFew) or mean.holds_zero:
            return []
        side = putt_words.side(mean.value)
        return [
            f"Aim: start lines lie {abs(mean.value):.1f}° to the {side} on average, more than chance and "
            "measuring explain. Check alignment before the stroke, then play the gate again."
        ]
    passed = bias(this.offsets_mm, this.shared_mm)
    if isinstance(passed, TooFew) or passed.holds_zero:
        return []
    off = f"{putt_words.length(passed.value)} {putt_words.side(passed.value)}"
    return [
        f"Aim and read: putts pass {off} of the hole's middle on average, more than chance and measuring "
        "explain. Check alignment before the stroke, then choose another line."
    ]
