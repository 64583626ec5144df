"""Notes of players, sessions and putts; and forfeits: which are due, which were paid."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime

from sqlalchemy import or_, select

from puttvision.errors import JournalError
from puttvision.journal.corrections import find_session, stands_in
from puttvision.journal.people import find_player
from puttvision.journal.store import Store
from puttvision.journal.tables import ForfeitPaid, Note, Player, Scorecard, ScorecardLine
from puttvision.journal.tables import Session as SessionRow


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteFacts:
    """A note and what it is of."""

    id: int
    at: datetime
    who: str
    text: str
    player: str
    session: int | None
    putt: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Forfeit:
    """What a drill asked for a miss, and when it was paid; None: still due."""

    session: int
    day: date
    drill: str
    putt: int
    forfeit: str
    paid_at: datetime | None


def add_note(
    store: Store,
    text: str,
    who: str,
    *,
    player: str | None = None,
    session_id: int | None = None,
    putt: int | None = None,
) -> int:
    """Keep a note of a player, of a session or of one putt of it, and return its number."""
    text, who = text.strip(), who.strip()
    if not text or not who:
        raise JournalError("a note needs words, and the name of the person who writes it")
    if (player is None) == (session_id is None) or (putt is not None and session_id is None):
        raise JournalError("a note is of a player, or of a session and perhaps one putt of it")
    with store.writing() as session:
        row = Note(at=datetime.now(UTC), who=who, text=text, putt=putt)
        if player is not None:
            row.player_id = find_player(session, player).id
        elif session_id is not None:
            row.session_id = find_session(session, session_id).id
            if putt is not None:
                stands_in(session, session_id).putt(putt)
        session.add(row)
        session.flush()
        return row.id


def remove_note(store: Store, number: int) -> None:
    """Remove a note by its number."""
    with store.writing() as session:
        row = session.get(Note, number)
        if row is None:
            raise JournalError(f"no note {number} is in the journal: `puttvision notes list` shows them")
        session.delete(row)


def notes_of(store: Store, player: str | None = None, *, session_id: int | None = None) -> list[NoteFacts]:
    """Notes of one session, or of a player and all of the player's sessions; oldest first."""
    with store.reading() as session:
        query = (
            select(Note, Player.name)
            .outerjoin(SessionRow, SessionRow.id == Note.session_id)
            .join(Player, or_(Player.id == Note.player_id, Player.id == SessionRow.player_id))
        )
        if session_id is not None:
            query = query.where(Note.session_id == find_session(session, session_id).id)
        if player is not None:
            query = query.where(Player.id == find_player(session, player).id)
        return [
            NoteFacts(
                id=row.id,
                at=row.at,
                who=row.who,
                text=row.text,
                player=name,
                session=row.session_id,
                putt=row.putt,
            )
            for row, name in session.execute(query.order_by(Note.at, Note.id))
        ]


def forfeits_of(store: Store, player: str) -> list[Forfeit]:
    """All forfeits of a player, oldest first, each with when it was paid."""
    query = (
        select(SessionRow.id, SessionRow.day, Scorecard.drill, ScorecardLine, ForfeitPaid.paid_at)
        .join(Scorecard, Scorecard.session_id == SessionRow.id)
        .join(ScorecardLine, ScorecardLine.scorecard_id == Scorecard.id)
        .outerjoin(
            ForfeitPaid,
            (ForfeitPaid.scorecard_id == Scorecard.id) & (ForfeitPaid.putt == ScorecardLine.putt),
        )
        .where(ScorecardLine.forfeit != "")
        .order_by(SessionRow.day, SessionRow.id, ScorecardLine.id)
    )
    with store.reading() as session:
        player_id = find_player(session, player).id
        return [
            Forfeit(session=number, day=day, drill=drill, putt=line.putt, forfeit=line.forfeit, paid_at=paid)
            for number, day, drill, line, paid in session.execute(
                query.where(SessionRow.player_id == player_id)
            )
        ]


def pay(store: Store, session_id: int, putt: int | None = None) -> int:
    """Keep that the forfeits of a session were paid (or that of one putt); how many were still due.

    Raises JournalError where none was due.
    """
    with store.writing() as session:
        find_session(session, session_id)
        query = (
            select(ScorecardLine)
            .join(Scorecard, Scorecard.id == ScorecardLine.scorecard_id)
            .outerjoin(
                ForfeitPaid,
                (ForfeitPaid.scorecard_id == Scorecard.id) & (ForfeitPaid.putt == ScorecardLine.putt),
            )
            .where(Scorecard.session_id == session_id, ScorecardLine.forfeit != "", ForfeitPaid.id.is_(None))
        )
        if putt is not None:
            query = query.where(ScorecardLine.putt == putt)
        due = session.scalars(query).all()
        if not due:
            which = "" if putt is None else f" for putt {putt}"
            raise JournalError(f"session {session_id} has no forfeit due{which}")
        now = datetime.now(UTC)
        session.add_all(
            ForfeitPaid(scorecard_id=line.scorecard_id, putt=line.putt, forfeit=line.forfeit, paid_at=now)
            for line in due
        )
        return len(due)
