"""The card: every key pressed so far as one frozen value; keys in, putts and scorecard out. Pure.

Replaying the keys on disk gives the card as it stood. Undo takes back the last key that told
something of a putt; the clock is never taken back.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from puttvision.card import keys
from puttvision.card.clock import STANDING, STROKE_TO_KEY_S, Clock
from puttvision.card.hand import Hand, begin, refusal, tell
from puttvision.card.keys import Press
from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import Scorecard, score
from puttvision.putts import Figure, Putt, PuttSheet

CORRECTING_S = 10.0
"""A putt entered again so soon after an undo is the same putt put right, and keeps its time. No source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A card as far as it was played."""

    rules: Rules
    hand: Hand
    told: tuple[tuple[str, float], ...] = ()
    """Keys that hold (those undone are gone), each with its played time."""
    clock: Clock = STANDING
    first_stroke_s: float | None = None
    """Played time at which the clock key told the first stroke; None: the first putt tells it."""
    undone_s: tuple[float, ...] = ()
    """Played times of putts taken back, the last one taken back last."""
    corrected_at_s: float = 0.0
    """Instant of the last undo, or of the last putt put right after one."""
    time_is_up: bool = False
    at_s: float = 0.0
    """Instant of the last key."""

    @property
    def began_s(self) -> float | None:
        """Played time of the first stroke; None before it."""
        if self.first_stroke_s is not None:
            return self.first_stroke_s
        first = self.hand.laid[0].entry if self.hand.laid else self.hand.entry
        return first.played_s - STROKE_TO_KEY_S if first.outcome else None

    @property
    def over(self) -> bool:
        return self.time_is_up or self.hand.position.status != "running"

    def clock_s(self, at_s: float) -> float:
        """What the clock shows at an instant: seconds since the first stroke, pauses left out."""
        return 0.0 if self.began_s is None else self.clock.played_s(max(at_s, self.at_s)) - self.began_s

    def limit_passed(self, at_s: float) -> bool:
        """Whether the clock's hard limit has passed, so that no ball struck in time can still be rolling."""
        limit_s = self.rules.clock.limit_s
        return limit_s is not None and not self.over and self.clock_s(at_s) > limit_s + STROKE_TO_KEY_S

    def correcting(self, at_s: float) -> bool:
        """Whether a putt entered now is one taken back, put right."""
        return bool(self.undone_s) and (self.time_is_up or at_s - self.corrected_at_s <= CORRECTING_S)


def new_card(rules: Rules) -> Card:
    """A card before its first key; CardError for a drill that cannot be scored by eye."""
    return Card(rules=rules, hand=begin(rules))


def replay(rules: Rules, presses: Iterable[Press]) -> Card:
    """The card after these keys."""
    card = new_card(rules)
    for one in presses:
        card = press(card, one)
    return card


def refuse(card: Card, key: str, at_s: float) -> str:
    """Why a player's key says nothing at this moment; empty where it does."""
    if key == keys.UNDO:
        return "" if card.told else "there is nothing to undo"
    if key == keys.CLOCK:
        return "the drill is over" if card.over else ""
    if card.time_is_up and key in (*keys.OUTCOMES, *keys.GATES) and not card.correcting(at_s):
        return "time is up"
    return refusal(card.rules, card.hand, key)


def press(card: Card, one: Press) -> Card:
    """The card after one key that `refuse` lets through, or that the card itself noted."""
    key, at_s = one
    if key == keys.OPENED:
        return _opened(card, at_s)
    card = replace(card, at_s=at_s)
    match key:
        case keys.CLOSED | keys.SLEPT:
            return replace(card, clock=card.clock.stop(at_s))
        case keys.TIME_UP:
            return replace(card, time_is_up=True, clock=card.clock.stop(at_s))
        case keys.CLOCK:
            return _clock(card, at_s)
        case keys.UNDO:
            return _undo(card, at_s)
    if key in keys.OUTCOMES and not card.time_is_up:
        card = replace(card, clock=card.clock.go_on(at_s))
    played_s = card.clock.played_s(at_s)
    if key in keys.OUTCOMES and card.undone_s:
        if card.correcting(at_s):
            played_s = card.undone_s[-1]
            card = replace(card, undone_s=card.undone_s[:-1], corrected_at_s=at_s)
        else:
            card = replace(card, undone_s=())
    hand = tell(card.rules, card.hand, key, played_s)
    card = replace(card, hand=hand, told=(*card.told, (key, played_s)))
    return replace(card, clock=card.clock.stop(at_s)) if card.over else card


def _opened(card: Card, at_s: float) -> Card:
    """The clock stands from the last key before until the player goes on; before any it just runs."""
    clock = card.clock.go_on(at_s) if card.began_s is None else card.clock.stop(card.at_s)
    return replace(card, clock=clock, at_s=at_s)


def _clock(card: Card, at_s: float) -> Card:
    if card.began_s is None or (card.first_stroke_s is not None and not card.told):
        started = card.first_stroke_s is not None
        clock = card.clock.go_on(at_s)
        return replace(card, clock=clock, first_stroke_s=None if started else clock.played_s(at_s))
    return replace(card, clock=card.clock.stop(at_s) if card.clock.runs else card.clock.go_on(at_s))


def _undo(card: Card, at_s: float) -> Card:
    key, played_s = card.told[-1]
    told = card.told[:-1]
    clock = card.clock.go_on(at_s) if card.over and not card.time_is_up else card.clock
    hand = begin(card.rules)
    for one, one_played_s in told:
        hand = tell(card.rules, hand, one, one_played_s)
    undone = (*card.undone_s, played_s) if key in keys.OUTCOMES else card.undone_s
    return replace(card, hand=hand, told=told, clock=clock, undone_s=undone, corrected_at_s=at_s)


# --- what becomes of it ----------------------------------------------------------------------


def sheet(card: Card) -> PuttSheet:
    """The putts of the card as a putts.json holds them."""
    began_s = card.began_s or 0.0
    putts: list[Putt] = []
    now_s = 0.0
    for laid in card.hand.laid:
        if putts:
            now_s = max(now_s, laid.entry.played_s - STROKE_TO_KEY_S - began_s)
        putts.append(replace(laid.putt, start_s=Figure(round(now_s, 3), STROKE_TO_KEY_S)))
    limit_s = card.rules.clock.limit_s
    if card.time_is_up and putts and limit_s is not None:
        note = "no putt: the clock passed its limit here"
        start = Figure(round(limit_s + STROKE_TO_KEY_S, 3), STROKE_TO_KEY_S)
        putts.append(Putt(number=len(putts) + 1, outcome="unseen", start_s=start, review=(note,)))
    only = "where balls came to rest was told by eye: the distance from the hole counts, not the direction"
    return PuttSheet(putts=tuple(putts), warnings=(only,) if any(p.rest for p in putts) else ())


def scorecard(card: Card) -> Scorecard:
    """The card scored: what `puttvision score` makes of the same putts."""
    return score(card.rules, sheet(card).putts)
