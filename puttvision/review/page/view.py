"""What the page shows of a session, as one JSON object: pure functions of what the journal gives."""

from __future__ import annotations

from typing import Any

from puttvision.drill.scorecard import Scorecard
from puttvision.drill.words import points, several, what_happened
from puttvision.journal.amend import Event
from puttvision.journal.corrections import Corrected
from puttvision.putts import Putt
from puttvision.review.page import words
from puttvision.review.why_missed import why_missed

NOT_SEEN = "its end was not seen"


def session_view(stands: Corrected) -> dict[str, Any]:
    """Putts in playing order, then those said to be none; scorecards; corrections, newest first."""
    changed: dict[int, list[str]] = {}
    for event in stands.events:
        if event.in_force and event.undoes is None:
            changed.setdefault(event.putt, []).append(event.field)
    green = stands.measured.green
    card = stands.cards[0] if stands.cards else None
    missed = why_missed(stands.putts, card, green.stimp_ft.value if green else None)
    putts = [_putt(stands, putt, changed, is_putt=True) for putt in stands.putts]
    putts += [_putt(stands, putt, changed, is_putt=False) for putt in stands.removed]
    return {
        "version": stands.version,
        "putts": [putt | {"why_missed": missed.of_putt.get(putt["number"], "")} for putt in putts],
        "missed": list(missed.session),
        "to_look_at": [putt["number"] for putt in putts if putt["why"]],
        "cards": [_card(card) for card in stands.cards],
        "events": [_event(event) for event in reversed(stands.events)],
        "changed": list(stands.changed),
        "has_gate": stands.measured.gate is not None
        or any(putt.gate_result != "none" for putt in stands.measured.putts),
        "warnings": list(stands.measured.warnings),
    }


def needs_a_look(putt: Putt, looked_at: frozenset[int]) -> list[str]:
    """Why a person should look at a putt, in words; empty where nobody needs to."""
    if putt.number in looked_at:
        return []
    why = list(putt.review)
    return why or ([NOT_SEEN] if putt.outcome == "unseen" else [])


def _putt(stands: Corrected, putt: Putt, changed: dict[int, list[str]], *, is_putt: bool) -> dict[str, Any]:
    start_s = putt.start_s.value
    return {
        "number": putt.number,
        "start_s": start_s,
        "clock": "" if start_s is None else words.clock(start_s),
        "outcome": putt.outcome,
        "outcome_words": _outcome(putt),
        "gate_result": putt.gate_result,
        "gate_words": words.GATES[putt.gate_result],
        "is_putt": is_putt,
        "added": putt.number in stands.added,
        "why": needs_a_look(putt, stands.looked_at) if is_putt else [],
        "changed": [words.FIELDS.get(field, field) for field in changed.get(putt.number, [])],
        "figures": words.figures(putt),
    }


def _outcome(putt: Putt) -> str:
    if putt.outcome == "missed" and putt.lipped:
        return "missed, lipped out"
    return words.OUTCOMES[putt.outcome]


def _card(card: Scorecard) -> dict[str, Any]:
    totals = card.totals[0]
    figure = points(totals.points) if card.rules.gives_points else f"{totals.made_in_all} made"
    return {
        "title": card.rules.title,
        "state": card.state,
        "figure": figure,
        "next": card.what_next[:1].upper() + card.what_next[1:],
        "counted": several(card.counted, "putt") + " counted",
        "set_aside": [{"putt": number, "why": why} for number, why in card.set_aside],
        "lines": {str(line.putt): what_happened(card.rules, line) for line in card.lines},
    }


def _event(event: Event) -> dict[str, Any]:
    field = words.FIELDS.get(event.field, event.field)
    before, now = (words.value(event.field, what) for what in (event.from_value, event.to_value))
    what = f"{field}: {before} → {now}" if event.field != "added" else f"added by hand: {now}"
    return {
        "version": event.version,
        "putt": event.putt,
        "what": ("undone, " if event.undoes is not None else "") + what,
        "who": event.who,
        "why": event.why,
        "at": event.at.isoformat(timespec="seconds"),
        "can_undo": event.in_force and event.undoes is None,
    }
