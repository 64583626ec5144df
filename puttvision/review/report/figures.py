"""A session's figures in words: what the page shows large, how good the set-up was, what to do next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from puttvision.coaching.intervals import (
    Estimate,
    TooFew,
    bias,
    difference_of_means,
    difference_of_rates,
    rate,
    spread,
)
from puttvision.coaching.shown import with_interval
from puttvision.drill.scorecard import Scorecard
from puttvision.physics import feet
from puttvision.putts import Putt, PuttSheet
from puttvision.review import putt_words

ENOUGH = 10
"""Fewer putts than this say next to nothing of a player (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """A set of putts reduced to what is compared."""

    holed: tuple[int, int]
    """Holed, and how many ended in sight."""
    through: tuple[int, int]
    """Through the ball gate, and how many met one."""
    lines_deg: tuple[float, ...]
    run_outs_m: tuple[float, ...]
    mark: str
    """What start lines are taken against: gate or hole."""
    shared_deg: float
    """What a clip's start lines may be off by together, half of the 95 % interval."""


def session(putts: Sequence[Putt]) -> Session:
    """Reduce putts."""
    ended = [putt for putt in putts if putt.outcome != "unseen"]
    at_gate = [putt for putt in putts if putt.gate_result != "none"]
    errors = [putt_words.aim_error(putt) for putt in putts if putt_words.aim_error(putt)[0]]
    wide = [error.u95 for error, _ in errors if error.u95 is not None]
    return Session(
        holed=(sum(putt.outcome == "holed" for putt in ended), len(ended)),
        through=(sum(putt.gate_result in ("clear", "touched") for putt in at_gate), len(at_gate)),
        lines_deg=tuple(error.value for error, _ in errors if error.value is not None),
        run_outs_m=tuple(putt.run_out_m.value for putt in putts if putt.run_out_m.value is not None),
        mark=errors[0][1] if errors else "hole",
        shared_deg=sum(wide) / len(wide) if wide else 0.0,
    )


@dataclass(frozen=True, slots=True)
class Fact:
    """One figure with its name and what it means."""

    name: str
    value: str
    note: str = ""


def line_mean(this: Session) -> Estimate | TooFew:
    """Mean start line with what the clip may be off by as a whole."""
    return bias(this.lines_deg, this.shared_deg)


def facts(this: Session) -> list[Fact]:
    """The figures that stand under the score."""
    out = []
    made, tried = this.holed
    if tried:
        out.append(Fact("Holed", f"{made} of {tried}", _share_note(made, tried)))
    through, met = this.through
    if met:
        out.append(Fact("Through the gate", f"{through} of {met}", _share_note(through, met)))
    mean, wide = line_mean(this), spread(this.lines_deg)
    if isinstance(mean, Estimate):
        value = f"{abs(mean.value):.1f}° {putt_words.side(mean.value)}"
        out.append(Fact("Start line, mean", value, _range(mean, "°", f"of the {this.mark}")))
    if isinstance(wide, Estimate):
        note = f"95 % interval {wide.low:.1f} to {wide.high:.1f}°, measuring's own scatter in it"
        out.append(Fact("Start line, spread", f"{wide.value:.1f}°", note))
    run = bias([100 * v for v in this.run_outs_m])
    if isinstance(run, Estimate):
        value = f"{abs(run.value):.0f} cm {'past' if run.value >= 0 else 'short'}"
        out.append(Fact("Pace, mean", value, "holed putts as they would have rolled on"))
    return out


def _share_note(made: int, tried: int) -> str:
    share = rate(made, tried)
    if not isinstance(share, Estimate):
        return ""
    return f"95 % interval {100 * share.low:.0f} to {100 * share.high:.0f} %"


def _range(estimate: Estimate, unit: str, of: str) -> str:
    ends = [f"{abs(v):.1f}{unit} {putt_words.side(v)}" for v in (estimate.low, estimate.high)]
    return f"95 % interval {ends[0]} to {ends[1]} {of}"


# --- set-up -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Check:
    """One thing about the set-up and whether it is as it should be."""

    good: bool
    text: str


_BALL_MM = 42.67
_SQUARE_DEG, _SHARP_PX, _SURE_DEG = 2.0, 0.6, 0.3
"""Turned further a gate lets a pushed ball through as a straight one (geometry: 2 degrees shift its middle
by 2 mm over a 65 mm gate); a sharper fit than this many pixels is usual on sharp film; start lines surer
than this tell players apart (elite players' own spread is 0.4 degrees)."""


def setup(sheet: PuttSheet, card: Scorecard | None) -> list[Check]:
    """How good the set-up was, worst first."""
    out: list[Check] = []
    green, gate = sheet.green, sheet.gate
    if green is None:
        return [Check(True, "Scored by hand: outcomes only, nothing was measured.")]
    n = len(green.sheets)
    out.append(
        Check(n >= 2, f"{n} sheets in the picture." if n >= 2 else
              "One sheet in the picture: a second one near the hole makes start lines surer.")
    )  # fmt: skip
    rms = green.reprojection_rms_px
    if rms is not None:
        sharp = "The sheets fit" if rms <= _SHARP_PX else "The sheets fit badly: do they lie flat and sharp?"
        out.append(Check(rms <= _SHARP_PX, f"{sharp} (to {rms:.2f} pixels)."))
    if gate is not None and gate.square_deg.value is not None:
        turn, u95 = gate.square_deg.value, gate.square_deg.u95 or 0.0
        turned = abs(turn) > max(_SQUARE_DEG, u95)
        said = f"turned {abs(turn):.1f} ± {u95:.1f}° to the {putt_words.side(turn)} of the line"
        ending = ": turn it back." if turned else ", square enough."
        out.append(Check(not turned, f"The gate is {said}{ending}"))
    if gate is not None and gate.width_mm.value is not None and gate.distance_m.value is not None:
        wide, room = gate.width_mm.value, (gate.width_mm.value - _BALL_MM) / 2
        said = f"{wide:.0f} mm wide, {gate.distance_m.value:.2f} m ahead"
        out.append(Check(room > 0, f"The gate is {said}: {room:.0f} mm of room on each side of the ball."))
    errors = [putt_words.aim_error(putt)[0].u95 for putt in sheet.putts]
    known = [u95 for u95 in errors if u95 is not None]
    if known:
        middle = sorted(known)[len(known) // 2]
        sure = middle <= _SURE_DEG
        more = "" if sure else ": film from nearer or from behind, with a second sheet"
        out.append(Check(sure, f"Start lines are known to ± {middle:.2f}°{more}."))
    if green.stimp_ft.value is not None:
        out.append(
            Check(
                True,
                f"Green speed {green.stimp_ft.value:.1f}{putt_words.give_or_take(green.stimp_ft, 1)} ft.",
            )
        )
    if card is not None and card.elsewhere:
        asked = card.lines[0].step.setting.distance if card.lines else None
        where = f" than the {asked} the drill asks" if asked else " than the drill asks"
        out.append(Check(False, f"{len(card.elsewhere)} putts were played from another distance{where}."))
    out += [Check(False, text[:1].upper() + text[1:] + ".") for text in sheet.warnings]
    return sorted(out, key=lambda check: check.good)


def distance_words(putts: Sequence[Putt]) -> str:
    """From where they were putted: ``10.0 ft (3.05 m)``, or a range; empty where it is not known."""
    lengths = sorted(putt.hole_distance_m.value for putt in putts if putt.hole_distance_m.value)
    if not lengths:
        return ""
    if lengths[-1] - lengths[0] < 0.15:
        middle = lengths[len(lengths) // 2]
        return f"{feet(middle):.1f} ft ({middle:.2f} m)"
    return f"{feet(lengths[0]):.0f} to {feet(lengths[-1]):.0f} ft"


# --- next and before --------------------------------------------------------------------------


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
    mean, wide = line_mean(this), spread(this.lines_deg)
    if isinstance(mean, Estimate) and not mean.holds_zero:
        side = putt_words.side(mean.value)
        out.append(
            f"Aim: start lines lie {abs(mean.value):.1f}° to the {side} on average, more than chance and "
            "measuring explain. Check alignment before the stroke, then play the gate again."
        )
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
                _verdict(gap, 100, "percentage points"),
            )
        )
    if len(before.lines_deg) > 1 and len(this.lines_deg) > 1 and before.mark == this.mark:
        shared = math.hypot(this.shared_deg, before.shared_deg)
        gap = difference_of_means(this.lines_deg, before.lines_deg, shared_u95=shared)
        then, now = (sum(s.lines_deg) / len(s.lines_deg) for s in (before, this))
        out.append(Change("Start line, mean", _deg(then), _deg(now), _verdict(gap, 1, "°")))
    return out


def _deg(value: float) -> str:
    return f"{abs(value):.1f}° {putt_words.side(value)}"


def _verdict(gap: Estimate | TooFew, scale: float, unit: str) -> str:
    if not isinstance(gap, Estimate):
        return "too few to tell"
    if gap.holds_zero:
        return "no real change: within what chance does"
    return f"a real change: {with_interval(gap.times(scale), 0 if scale > 1 else 1, sign=True)} {unit}"
