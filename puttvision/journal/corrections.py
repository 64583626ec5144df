"""Correcting a kept session: an event beside the measured putts, and every drill scored anew.

An editor says which version of the session it saw. Where someone else has changed the same putt
since, it is told and nothing is kept; changes of other putts do not stand in each other's way.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from puttvision.drill.scorecard import Scorecard as Card
from puttvision.drill.scorecard import score
from puttvision.errors import ConflictError, JournalError
from puttvision.journal.amend import (
    ADDED,
    Amended,
    Event,
    amended,
    changed,
    checked,
    events_of,
    putt_out,
    value_now,
    with_force,
    with_rising_numbers,
)
from puttvision.journal.cards import difference, rules_of, score_again
from puttvision.journal.rows import putt_of, sheet_of
from puttvision.journal.store import Store
from puttvision.journal.tables import Correction, PuttRow
from puttvision.journal.tables import Session as SessionRow
from puttvision.putts import Putt, PuttSheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A session as it stands."""

    session_id: int
    version: int
    """How many events there are; an editor hands it back as ``seen_version``."""
    putts: tuple[Putt, ...]
    """In playing order, with the numbers they were measured under; see `Amended`."""
    removed: tuple[Putt, ...]
    added: frozenset[int]
    looked_at: frozenset[int]
    measured: PuttSheet
    events: tuple[Event, ...]
    cards: tuple[Card, ...]
    """Every drill of the session, scored from ``putts``."""
    changed: tuple[str, ...] = ()
    """What the event just kept did to the drills, a line each."""

    @property
    def sheet(self) -> PuttSheet:
        """The putts as a putts.json; numbered anew where an added putt lies between others."""
        return replace(self.measured, putts=with_rising_numbers(self.putts))

    def putt(self, number: int) -> Putt:
        """A putt by its number, also one said to be none; JournalError where there is none such."""
        for putt in (*self.putts, *self.removed):
            if putt.number == number:
                return putt
        raise JournalError(f"session {self.session_id} has no putt {number}")


def correct(
    store: Store,
    session_id: int,
    putt_number: int,
    field: str,
    value: Any,
    who: str,
    why: str,
    seen_version: int,
) -> Corrected:
    """Say that ``field`` of a putt is ``value``; see `amend.FIELDS`.

    Raises ConflictError where the putt was changed since ``seen_version``, JournalError for an
    unknown session, putt, field or value, and where it stands so already.
    """
    value = checked(field, value)
    with store.writing() as session:
        before = stands_in(session, session_id)
        _check_seen(before, seen_version, putt_number)
        putt = before.putt(putt_number)
        state = Amended(
            putts=before.putts, removed=before.removed, added=before.added, looked_at=before.looked_at
        )
        now = value_now(state, putt, field)
        nothing_new = putt == changed(putt, field, value) if field == "start" else now == value
        if nothing_new:
            raise JournalError(f"putt {putt_number}: {field} is {_in_words(value)} already")
        event = _event(before, putt_number, field, now, value, who, why)
        return _keep(session, before, event)


def add_putt(
    store: Store,
    session_id: int,
    putt: Putt,
    who: str,
    why: str,
    seen_version: int,
    after: int | None = None,
) -> Corrected:
    """Add a putt that the tool missed; it gets the next free number of the session.

    It is placed after putt ``after`` (0: before all), else by its start time, else at the end.
    Raises as `correct`; ConflictError where another putt was added since ``seen_version``.
    """
    with store.writing() as session:
        before = stands_in(session, session_id)
        for event in before.events[seen_version:]:
            if event.field == ADDED:
                raise _conflict(event)
        known = [one.number for one in (*before.measured.putts, *before.putts, *before.removed)]
        known += [event.putt for event in before.events]
        number = max(known, default=0) + 1
        if after is None:
            after = _place_in_time(before.putts, putt)
        elif after != 0:
            before.putt(after)
        value = {"after": after, "putt": putt_out(putt)}
        return _keep(session, before, _event(before, number, ADDED, None, value, who, why))


def undo(
    store: Store, session_id: int, who: str, why: str, seen_version: int, event: int | None = None
) -> Corrected:
    """Undo one event by its version (an undoing too), else the last correction still in force."""
    with store.writing() as session:
        before = stands_in(session, session_id)
        if event is None:
            standing = [one for one in before.events if one.in_force and one.undoes is None]
            if not standing:
                raise JournalError(f"session {session_id} has no correction to undo")
            target = standing[-1]
        else:
            found = [one for one in before.events if one.version == event]
            if not found:
                raise JournalError(f"session {session_id} has no correction {event}")
            target = found[0]
            if not target.in_force:
                raise JournalError(f"correction {event} of session {session_id} is undone already")
        _check_seen(before, seen_version, target.putt)
        new = _event(before, target.putt, target.field, target.to_value, target.from_value, who, why)
        return _keep(session, before, replace(new, undoes=target.version))


def as_it_stands(store: Store, session_id: int) -> Corrected:
    """A session with all corrections applied and its drills scored from that."""
    with store.reading() as session:
        return stands_in(session, session_id)


def measured_sheet(store: Store, session_id: int) -> PuttSheet:
    """The putts of a session as they were measured or entered."""
    with store.reading() as session:
        return _measured(session, find_session(session, session_id))


def find_session(session: Session, session_id: int) -> SessionRow:
    """The session of that number; JournalError where there is none."""
    row = session.get(SessionRow, session_id)
    if row is None:
        raise JournalError(
            f"no session {session_id} is in the journal: `puttvision sessions list` shows them"
        )
    return row


# --- within a transaction ------------------------------------------------------------------------


def _measured(session: Session, row: SessionRow) -> PuttSheet:
    rows = session.execute(
        select(PuttRow.__table__).where(PuttRow.session_id == row.id).order_by(PuttRow.number)
    )
    return sheet_of(row, tuple(putt_of(one) for one in rows))


def stands_in(session: Session, session_id: int) -> Corrected:
    """`as_it_stands` within a transaction."""
    row = find_session(session, session_id)
    measured = _measured(session, row)
    rows = session.scalars(
        select(Correction).where(Correction.session_id == session_id).order_by(Correction.version)
    ).all()
    return _stand(session, row, measured, events_of(rows))


def _stand(session: Session, row: SessionRow, measured: PuttSheet, events: tuple[Event, ...]) -> Corrected:
    state = amended(measured.putts, events)
    cards = tuple(score(rules_of(session, card), state.putts) for card in row.scorecards)
    return _corrected(row.id, measured, events, state, cards)


def _corrected(
    session_id: int, measured: PuttSheet, events: tuple[Event, ...], state: Amended, cards: tuple[Card, ...]
) -> Corrected:
    return Corrected(
        session_id=session_id,
        version=len(events),
        putts=state.putts,
        removed=state.removed,
        added=state.added,
        looked_at=state.looked_at,
        measured=measured,
        events=events,
        cards=cards,
    )


def _check_seen(before: Corrected, seen_version: int, number: int) -> None:
    for event in before.events[seen_version:]:
        if event.putt == number:
            raise _conflict(event)


def _conflict(event: Event) -> ConflictError:
    what = f"{event.field}: {_in_words(event.from_value)} to {_in_words(event.to_value)}"
    if event.field == ADDED:
        what = "added" if event.undoes is None else "taken out again"
    return ConflictError(
        f"putt {event.putt} was changed by {event.who} in the meantime ({what}): look at it again"
    )


def _event(before: Corrected, number: int, field: str, now: Any, value: Any, who: str, why: str) -> Event:
    who = who.strip()
    if not who:
        raise JournalError("a correction needs the name of the person who makes it")
    return Event(
        version=before.version + 1,
        at=datetime.now(UTC),
        who=who,
        putt=number,
        field=field,
        from_value=now,
        to_value=value,
        why=why.strip(),
    )


def _keep(session: Session, before: Corrected, event: Event) -> Corrected:
    row = find_session(session, before.session_id)
    session.add(
        Correction(
            session_id=row.id,
            version=event.version,
            at=event.at,
            who=event.who,
            putt=event.putt,
            field=event.field,
            from_text=json.dumps(event.from_value),
            to_text=json.dumps(event.to_value),
            why=event.why,
            undoes=event.undoes,
        )
    )
    events = with_force((*before.events, event))
    state = amended(before.measured.putts, events)
    cards = score_again(session, row.scorecards, state.putts)
    moved = tuple(difference(old, new) for old, new in zip(before.cards, cards, strict=True))
    return replace(_corrected(row.id, before.measured, events, state, cards), changed=moved)


def _place_in_time(putts: tuple[Putt, ...], putt: Putt) -> int:
    """Number of the putt after which a new one was played; 0: it came first."""
    if putt.start_s.value is None:
        return putts[-1].number if putts else 0
    earlier = 0
    for one in putts:
        if one.start_s.value is not None and one.start_s.value > putt.start_s.value:
            break
        earlier = one.number
    return earlier


# --- words ---------------------------------------------------------------------------------------


def _in_words(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
