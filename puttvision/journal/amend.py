"""Corrections applied: measured putts and what people said of them in, putts as they stand out. Pure.

The measured putts stay what they are. Each correction is an event; undoing one is another event, so
that what stands at any time follows from the list alone.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from typing import Any, get_args

from puttvision.errors import JournalError
from puttvision.journal.questions import time_in
from puttvision.journal.rows import FIGURES
from puttvision.putts import (
    NOT_MEASURED,
    Figure,
    GateResult,
    MissLength,
    MissSide,
    Outcome,
    Putt,
    PuttSheet,
    from_json,
    to_json,
)

ADDED = "added"
_CHOICES: dict[str, tuple[Any, ...]] = {
    "outcome": get_args(Outcome),
    "gate_result": get_args(GateResult),
    "lipped": (True, False),
    "miss_side": (*get_args(MissSide), None),
    "miss_length": (*get_args(MissLength), None),
    "is_putt": (True, False),
    "looked_at": (True,),
}
_NUMBERS = ("start", *(key for key in FIGURES if key != "start_s"))
FIELDS = (*_CHOICES, *_NUMBERS)
"""What can be corrected of a putt."""
_AFTER_START = (
    "start_direction_to_hole_deg",
    "start_direction_to_gate_deg",
    "launch_speed_m_s",
    "gate_offset_mm",
)
_AT_HOLE = ("hole_offset_mm", "speed_at_hole_m_s", "run_out_m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One correction, or one undone."""

    version: int
    """1, 2, ... within the session."""
    at: datetime
    who: str
    putt: int
    field: str
    from_value: Any
    """What stood just before, as JSON has it."""
    to_value: Any
    why: str
    undoes: int | None = None
    """Version of the event that this one undoes."""
    in_force: bool = True
    """False: it was undone since."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amended:
    """The putts of a session as they stand."""

    putts: tuple[Putt, ...]
    """In playing order. Numbers stay as measured; an added putt has the next free one, so they need
    not rise."""
    removed: tuple[Putt, ...]
    """Said to be no putts."""
    added: frozenset[int]
    looked_at: frozenset[int]
    """Numbers of putts that a person looked at and agreed with."""


def with_force(events: Sequence[Event]) -> tuple[Event, ...]:
    """The events, each knowing whether it is still in force."""
    undone: set[int] = set()
    told = []
    for event in reversed(events):
        in_force = event.version not in undone
        if in_force and event.undoes is not None:
            undone.add(event.undoes)
        told.append(replace(event, in_force=in_force))
    return tuple(reversed(told))


def events_of(rows: Iterable[Any]) -> tuple[Event, ...]:
    """Events from rows of one session's corrections, in the order of their versions."""
    return with_force(
        [
            Event(
                version=row.version,
                at=time_in(row.at),
                who=row.who,
                putt=row.putt,
                field=row.field,
                from_value=json.loads(row.from_text),
                to_value=json.loads(row.to_text),
                why=row.why,
                undoes=row.undoes,
            )
            for row in rows
        ]
    )


def amended(measured: Sequence[Putt], events: Sequence[Event]) -> Amended:
    """Apply all events in force, in their order."""
    order = [putt.number for putt in measured]
    putts = {putt.number: putt for putt in measured}
    added: set[int] = set()
    away: set[int] = set()
    looked_at: set[int] = set()
    for event in with_force(events):
        if not event.in_force or event.undoes is not None:
            continue
        if event.field == ADDED:
            after = event.to_value["after"]
            order.insert(order.index(after) + 1 if after in putts else 0, event.putt)
            putts[event.putt] = putt_in(event.to_value["putt"], event.putt)
            added.add(event.putt)
        elif event.putt not in putts:
            continue  # said of a putt whose adding was undone
        elif event.field == "is_putt":
            (away.discard if event.to_value else away.add)(event.putt)
        else:
            putts[event.putt] = changed(putts[event.putt], event.field, event.to_value)
            looked_at |= {event.putt} if event.field == "looked_at" else set()
    return Amended(
        putts=tuple(putts[number] for number in order if number not in away),
        removed=tuple(putts[number] for number in order if number in away),
        added=frozenset(added),
        looked_at=frozenset(looked_at),
    )


def changed(putt: Putt, field: str, value: Any) -> Putt:
    """The putt with one thing corrected, and with what follows from it.

    A call made by a person needs no confidence and no look any more. A ball that was holed did not
    lip out and rests nowhere, and one that lipped out or went by on a side was missed; of one whose
    end was not seen nothing is known at the hole. With another start nothing that was read off just
    after the start holds.
    """
    if field == "looked_at":
        return replace(putt, review=())
    if field == "start":
        return _with(putt, dict.fromkeys(_AFTER_START, NOT_MEASURED) | {"start_s": Figure(value)})
    if field in FIGURES:
        return _with(putt, {field: Figure(value)})
    putt = _with(putt, {field: value, "confidence": None, "review": ()})
    if value and field in ("lipped", "miss_side", "miss_length"):
        return replace(putt, outcome="missed")
    if putt.outcome == "missed":
        return putt
    if putt.outcome == "unseen":
        putt = _with(putt, dict.fromkeys(_AT_HOLE, NOT_MEASURED))
    return replace(putt, lipped=False, rest=None, miss_side=None, miss_length=None)


def _with(putt: Putt, change: dict[str, Any]) -> Putt:
    return replace(putt, **change)


def value_now(state: Amended, putt: Putt, field: str) -> Any:
    """What stands in a field, as JSON has it."""
    if field == "is_putt":
        return putt not in state.removed
    if field == "looked_at":
        return putt.number in state.looked_at
    if field in _NUMBERS:
        figure: Figure = putt.start_s if field == "start" else getattr(putt, field)
        return figure.value
    return getattr(putt, field)


def checked(field: str, value: Any) -> Any:
    """``value`` where it fits ``field``; JournalError saying what was due where it does not."""
    if field in _CHOICES:
        choices = _CHOICES[field]
        if any(value is choice or (isinstance(value, str) and value == choice) for choice in choices):
            return value
        due = ", ".join("nothing" if choice is None else str(choice) for choice in choices)
        raise JournalError(f"{field}: one of {due} was due, got {value}")
    if field in _NUMBERS:
        if value is None:
            return None
        number = not isinstance(value, bool) and isinstance(value, (int, float)) and abs(value) < 1e6
        if not number or (field == "start" and value < 0):
            raise JournalError(f"{field}: a number or nothing was due, got {value}")
        return float(value)
    raise JournalError(f"{field} cannot be corrected; what can be: {', '.join(FIELDS)}")


def with_rising_numbers(putts: tuple[Putt, ...]) -> tuple[Putt, ...]:
    """The putts numbered anew from 1 where their numbers do not rise, else as they are."""
    if all(before.number < after.number for before, after in pairwise(putts)):
        return putts
    return tuple(replace(putt, number=number) for number, putt in enumerate(putts, start=1))


def putt_out(putt: Putt) -> Any:
    """A putt as putts.json has it."""
    return to_json(PuttSheet(putts=(putt,)))["putts"][0]


def putt_in(data: Any, number: int) -> Putt:
    """The putt of `putt_out`, with the number it has in its session."""
    sheet = from_json({"format": "puttvision-putts/1", "putts": [{**data, "number": number}]}, "the journal")
    return sheet.putts[0]
