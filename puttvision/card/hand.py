"""Keys to putts: what is told of the putt being entered, and the putts told so far. Pure.

A putt is laid down as soon as its keys tell all that the rules of its stage look at: made or missed,
the gate where there is one, short or past and the like where points hang on it. Side and length of a
miss may follow, as a note on the putt just laid down.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, cast

from puttvision.card import keys
from puttvision.card.zones import Zone, leave_zones, run_out_zones
from puttvision.drill import play
from puttvision.drill.match import MatchState
from puttvision.drill.play import AnyState
from puttvision.drill.rules import GATE_WORDS, Rules, Stage
from puttvision.errors import CardError
from puttvision.putts import (
    NOT_MEASURED,
    Figure,
    GateResult,
    MissLength,
    MissSide,
    Outcome,
    Putt,
    Rest,
)  # fmt: skip

Asked = Literal["outcome", "gate", "length", "run-out", "leave", "side"]


class Entry(NamedTuple):
    """What has been told of one putt; empty or None: not told."""

    outcome: str = ""
    gate: str = ""
    side: str = ""
    length: str = ""
    lipped: bool = False
    run_out: Zone | None = None
    leave: Zone | None = None
    played_s: float = 0.0
    """Played time of the key that told its outcome."""


EMPTY = Entry()


class Laid(NamedTuple):
    """A putt laid down."""

    entry: Entry
    putt: Putt
    """Without its time, which hangs on the first putt's."""
    before: AnyState
    """Where the drill stood before it."""


@dataclass(frozen=True, slots=True)
class Hand:
    """Everything told so far."""

    position: AnyState
    """Where the drill stands, whatever the clock says."""
    laid: tuple[Laid, ...] = ()
    entry: Entry = EMPTY
    """The putt being entered."""

    @property
    def last(self) -> Laid | None:
        return self.laid[-1] if self.laid else None


def begin(rules: Rules) -> Hand:
    """A hand in which nothing was told yet.

    Raises CardError for a drill that cannot be scored by eye.
    """
    for stage in rules.stages:
        if "start_line_deg" in measures(stage):
            raise CardError(f"{rules.name} looks at the start line, which takes a film: use puttvision score")
        no_distance = stage.usual.distance is None and not any("distance" in t.of for t in stage.turns)
        if "leave_m" in measures(stage) and no_distance:
            raise CardError(
                f"{rules.name} looks at how far from the hole a ball stops, which takes a distance_ft or "
                "distance_m in each such stage of the drill file"
            )
    return Hand(play.start(rules))


def stage_of(rules: Rules, hand: Hand) -> Stage:
    """The stage the next putt is played in."""
    return rules.stages[play.to_play(hand.position).stage]


def uses_gate(stage: Stage) -> bool:
    """Whether a ball gate counts in the stage."""
    return any(GATE_WORDS.intersection(c.words) for c in stage.conditions)


def measures(stage: Stage) -> frozenset[str]:
    """What the stage's rules read of a putt besides outcome and gate: ``run_out_m``, ``leave_m``, ..."""
    return frozenset().union(*(condition.measures for condition in stage.conditions))


def asked(rules: Rules, hand: Hand) -> Asked:
    """What the putt being entered lacks; ``outcome`` of one not begun."""
    entry = hand.entry
    if not entry.outcome:
        return "outcome"
    stage = stage_of(rules, hand)
    if uses_gate(stage) and not entry.gate:
        return "gate"
    return _lacking(stage, entry) or "outcome"


def _lacking(stage: Stage, entry: Entry) -> Asked | None:
    """What can still be told by eye of a putt that the rules cannot judge yet."""
    zones = run_out_zones(stage)
    if "run_out_m" in measures(stage) and entry.run_out is None:
        if zones and not (entry.length == "short" and zones[0].low_m == 0):
            return "run-out"
        if not zones and not entry.length:
            return "length"
    if "leave_m" in measures(stage) and entry.leave is None and entry.outcome == "missed":
        return "leave"
    if "hole_offset_mm" in measures(stage) and not entry.side:
        return "side"
    return None


def zones_asked(rules: Rules, hand: Hand) -> tuple[Zone, ...]:
    """The zones the keys 1, 2, ... name at this moment."""
    what = asked(rules, hand)
    stage = stage_of(rules, hand)
    return run_out_zones(stage) if what == "run-out" else leave_zones(stage) if what == "leave" else ()


# --- one key ---------------------------------------------------------------------------------


def refusal(rules: Rules, hand: Hand, key: str) -> str:
    """Why a key of a putt says nothing at this moment; empty where it does."""
    entry, last = hand.entry, hand.last
    over = hand.position.status != "running"
    if key in keys.OUTCOMES:
        if over:
            return "the drill is over"
        return f"first: {_question(rules, hand)}" if entry.outcome else ""
    if key in keys.GATES:
        if over:
            return "the drill is over"
        if not uses_gate(stage_of(rules, hand)):
            return "no ball gate counts here"
        return f"first: {_question(rules, hand)}" if entry.gate else ""
    if key in keys.ZONES:
        zones = zones_asked(rules, hand)
        return "" if int(key) <= len(zones) else f"{key} says nothing here"
    about = entry if entry.outcome else last.entry if last and entry == EMPTY else EMPTY
    if not about.outcome:
        return "first: made or missed"
    if about.outcome == "made":
        return "that one was made"
    if key in keys.LENGTHS:
        if about.run_out is not None:
            return "how far it ran is told already"
        zones = run_out_zones(stage_of(rules, hand))
        if about is entry and zones and (zones[0].low_m != 0 or key == "past"):
            return f"first: {_question(rules, hand)}"
    return ""


def _question(rules: Rules, hand: Hand) -> str:
    return {
        "outcome": "made or missed",
        "gate": "the gate",
        "length": "short or past",
        "run-out": "how far past",
        "leave": "how far from the hole",
        "side": "left or right",
    }[asked(rules, hand)]


def tell(rules: Rules, hand: Hand, key: str, played_s: float) -> Hand:
    """The hand after one key that `refusal` lets through."""
    if hand.entry == EMPTY and hand.last and key in (*keys.SIDES, *keys.LENGTHS, keys.LIPPED):
        last = hand.last
        before = Hand(last.before, hand.laid[:-1])
        return _lay(rules, replace(before, entry=_told(rules, before, last.entry, key, last.entry.played_s)))
    return _lay(rules, replace(hand, entry=_told(rules, hand, hand.entry, key, played_s)))


def _told(rules: Rules, hand: Hand, entry: Entry, key: str, played_s: float) -> Entry:
    if key in keys.OUTCOMES:
        return entry._replace(outcome=key, played_s=played_s)
    if key in keys.GATES:
        return entry._replace(gate=key)
    if key in keys.SIDES:
        return entry._replace(side=key)
    if key in keys.LENGTHS:
        return entry._replace(length=key)
    if key == keys.LIPPED:
        return entry._replace(lipped=not entry.lipped)
    zone = zones_asked(rules, hand)[int(key) - 1]
    return entry._replace(run_out=zone) if asked(rules, hand) == "run-out" else entry._replace(leave=zone)


def _lay(rules: Rules, hand: Hand) -> Hand:
    """Lay the putt down if it is complete."""
    stage, entry = stage_of(rules, hand), hand.entry
    if not entry.outcome or (uses_gate(stage) and not entry.gate):
        return hand
    putt = _putt(rules, hand)
    after, result = play.step(rules, hand.position, putt)
    if result.kind == "set aside" and _lacking(stage, entry):
        return hand
    return Hand(after, (*hand.laid, Laid(entry, putt, hand.position)))


# --- the putt --------------------------------------------------------------------------------


def _putt(rules: Rules, hand: Hand) -> Putt:
    entry = hand.entry
    side = play_side(hand.position)
    length = entry.length and keys.LENGTHS[entry.length]
    if entry.run_out is not None and entry.outcome == "missed":
        length = "long" if entry.run_out.low_m >= 0 else "short" if entry.run_out.high_m <= 0 else length
    hole_distance, rest = _rest(rules, hand)
    return Putt(
        number=len(hand.laid) + 1,
        outcome=cast(Outcome, keys.OUTCOMES[entry.outcome]),
        gate_result=cast(GateResult, keys.GATES.get(entry.gate, "none")),
        lipped=entry.lipped,
        hole_distance_m=hole_distance,
        rest=rest,
        run_out_m=NOT_MEASURED if entry.run_out is None else entry.run_out.figure,
        miss_side=cast(MissSide | None, entry.side or None) if entry.outcome == "missed" else None,
        miss_length=cast(MissLength | None, length or None) if entry.outcome == "missed" else None,
        player=rules.two_players.names[side] if rules.two_players else None,
    )


def play_side(position: AnyState) -> int:
    """Whose putt is next, in a drill for two; else 0."""
    return position.to_play if isinstance(position, MatchState) else 0


def _rest(rules: Rules, hand: Hand) -> tuple[Figure, Rest | None]:
    """Distance left as a place at rest: towards the side and length told, else straight past the hole.

    Only the distance is known, so no u95 is claimed; the sheet's warnings say so.
    """
    leave, setting = hand.entry.leave, play.setting(rules, hand.position)
    if leave is None or setting.distance is None:
        return NOT_MEASURED, None
    left_m, hole_m = leave.figure.value or 0.0, setting.distance.metres
    along = -1 if hand.entry.length == "short" else 1
    right = {"left": -1, "right": 1}.get(hand.entry.side, 0)
    if right and not hand.entry.length:
        along = 0
    size = left_m / (along**2 + right**2) ** 0.5
    rest = Rest(along_m=Figure(round(hole_m + along * size, 4)), right_m=Figure(round(right * size, 4)))
    return Figure(round(hole_m, 4)), rest
