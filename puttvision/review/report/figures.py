"""A session reduced to what is compared, and the figures that the page shows large."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from puttvision.coaching.intervals import (
    Estimate,
    TooFew,
    bias,
    rate,
    spread,
)
from puttvision.physics import feet
from puttvision.putts import Figure, Putt
from puttvision.review import putt_words


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
    offsets_mm: tuple[float, ...]
    """How far right of the hole's middle the putts that reached it passed."""
    shared_mm: float
    """What those may be off by together."""


def session(putts: Sequence[Putt]) -> Session:
    """Reduce putts."""
    ended = [putt for putt in putts if putt.outcome != "unseen"]
    at_gate = [putt for putt in putts if putt.gate_result != "none"]
    errors = [putt_words.aim_error(putt) for putt in putts if putt_words.aim_error(putt)[0]]
    passed = [putt.hole_offset_mm for putt in putts if putt.hole_offset_mm]
    return Session(
        holed=(sum(putt.outcome == "holed" for putt in ended), len(ended)),
        through=(sum(putt.gate_result in ("clear", "touched") for putt in at_gate), len(at_gate)),
        lines_deg=tuple(error.value for error, _ in errors if error.value is not None),
        run_outs_m=tuple(putt.run_out_m.value for putt in putts if putt.run_out_m.value is not None),
        mark=errors[0][1] if errors else "hole",
        shared_deg=_mean_u95([error for error, _ in errors]),
        offsets_mm=tuple(offset.value for offset in passed if offset.value is not None),
        shared_mm=_mean_u95(passed),
    )


def _mean_u95(figures: Sequence[Figure]) -> float:
    known = [figure.u95 for figure in figures if figure.u95 is not None]
    return sum(known) / len(known) if known else 0.0


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


def distance_words(putts: Sequence[Putt]) -> str:
    """From where they were putted: ``10.0 ft (3.05 m)``, or a range; empty where it is not known."""
    lengths = sorted(putt.hole_distance_m.value for putt in putts if putt.hole_distance_m.value)
    if not lengths:
        return ""
    if lengths[-1] - lengths[0] < 0.15:
        middle = lengths[len(lengths) // 2]
        return f"{feet(middle):.1f} ft ({middle:.2f} m)"
    return f"{feet(lengths[0]):.0f} to {feet(lengths[-1]):.0f} ft"
