"""What the journal holds of players: sessions, putts and scorecards, with all corrections applied.

Each function asks the store a fixed number of questions, however many sessions there are, and only
for the columns it hands out.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from puttvision.errors import JournalError
from puttvision.journal.amend import amended
from puttvision.journal.corrections import events_of
from puttvision.journal.people import find_player
from puttvision.journal.rows import gate_of, putt_of
from puttvision.journal.store import Store
from puttvision.journal.tables import Correction, Place, Player, PuttRow, Scorecard, ScorecardLine
from puttvision.journal.tables import Session as SessionRow
from puttvision.putts import Figure, Gate, Putt


@dataclass(frozen=True, slots=True, kw_only=True)
class CardFacts:
    """A drill that was scored from a session, as it stands after corrections."""

    id: int
    drill: str
    title: str
    options: dict[str, Any]
    state: str
    counted: int
    made: int
    points: float | None
    restarts: int
    best_streak: int
    time_s: float | None
    stake: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionFacts:
    """A session without its putts."""

    id: int
    player: str
    hand: str
    day: date
    kept_at: datetime
    filmed: bool
    clip_file: str | None
    clip_path: str | None
    clip_hash: str | None
    place: str | None
    stimp_ft: Figure
    gate: Gate | None
    n_putts: int
    """As measured; corrections may have taken some away or added some."""
    note: str
    version: int
    """Number of corrections and undoings."""
    cards: tuple[CardFacts, ...]


class LineFacts(NamedTuple):
    """What a drill made of a putt, and how the putt was to be played."""

    card_id: int
    drill: str
    stage: int
    made: bool
    points: float | None
    restarted: bool
    distance_m: float | None
    """As the drill asks it."""
    grip: str
    ball: str
    side: str
    from_: str
    slope: str
    gate_mm: float | None
    forfeit: str


class Played(NamedTuple):
    """A putt as it stands, with its session and what each drill made of it."""

    session: SessionFacts
    putt: Putt
    lines: tuple[LineFacts, ...]

    @property
    def line(self) -> LineFacts | None:
        """The first drill's line; None where no drill counted the putt."""
        return self.lines[0] if self.lines else None


class CardOf(NamedTuple):
    """A scorecard and whose it is."""

    player: str
    day: date
    session_id: int
    card: CardFacts


def putts_of(
    store: Store,
    player: str,
    *,
    since: date | None = None,
    until: date | None = None,
    drill: str | None = None,
) -> list[Played]:
    """All putts of a player in the order they were played; with ``drill`` those its scorecards counted.

    ``since`` and ``until`` are days, both taken in. Raises JournalError for an unknown player.
    """
    with store.reading() as session:
        ids = _session_ids(session, find_player(session, player).id, since, until, drill)
        facts = _facts(session, ids)
        measured: dict[int, list[Putt]] = defaultdict(list)
        query = select(PuttRow.__table__).where(PuttRow.session_id.in_(ids))
        for row in session.execute(query.order_by(PuttRow.session_id, PuttRow.number)):
            measured[row.session_id].append(putt_of(row))
        corrections = _corrections(session, ids)
        lines = _lines(session, ids, drill)
    found = []
    for one in facts:
        putts = tuple(measured[one.id])
        if one.id in corrections:
            putts = amended(putts, events_of(corrections[one.id])).putts
        of_putt = lines[one.id]
        found += [
            Played(one, putt, tuple(of_putt[putt.number]))
            for putt in putts
            if drill is None or putt.number in of_putt
        ]
    return found


def sessions_of(
    store: Store,
    player: str | None = None,
    *,
    since: date | None = None,
    until: date | None = None,
    drill: str | None = None,
    limit: int | None = None,
) -> list[SessionFacts]:
    """Sessions of a player, or of all, oldest first; ``limit``: only the newest so many."""
    with store.reading() as session:
        player_id = find_player(session, player).id if player is not None else None
        return _facts(session, _session_ids(session, player_id, since, until, drill, limit))


def session_facts(store: Store, session_id: int) -> SessionFacts:
    """One session; JournalError where there is none of that number."""
    with store.reading() as session:
        found = _facts(session, select(SessionRow.id).where(SessionRow.id == session_id))
    if not found:
        raise JournalError(f"no session {session_id} is in the journal: `puttvision sessions` lists them")
    return found[0]


def cards_of(
    store: Store, players: Sequence[str], drill: str, *, since: date | None = None, until: date | None = None
) -> list[CardOf]:
    """All scorecards of one drill of several players, oldest first."""
    query = (
        select(Player.name, SessionRow.day, SessionRow.id, Scorecard)
        .join(SessionRow, SessionRow.player_id == Player.id)
        .join(Scorecard, Scorecard.session_id == SessionRow.id)
        .where(Player.name.in_(players), Scorecard.drill == drill)
        .order_by(SessionRow.day, SessionRow.id, Scorecard.id)
    )
    with store.reading() as session:
        rows = session.execute(_within(query, since, until)).all()
        return [CardOf(name, day, number, _card(card)) for name, day, number, card in rows]


# --- queries -------------------------------------------------------------------------------------


def _within(query: Any, since: date | None, until: date | None) -> Any:
    if since is not None:
        query = query.where(SessionRow.day >= since)
    if until is not None:
        query = query.where(SessionRow.day <= until)
    return query


def _session_ids(
    session: Session,
    player_id: int | None,
    since: date | None,
    until: date | None,
    drill: str | None,
    limit: int | None = None,
) -> Select[Any]:
    """A query of session numbers, to be asked as part of others."""
    query = _within(select(SessionRow.id), since, until)
    if player_id is not None:
        query = query.where(SessionRow.player_id == player_id)
    if drill is not None:
        scored = select(Scorecard.session_id).where(Scorecard.drill == drill)
        query = query.where(SessionRow.id.in_(scored))
    if limit is not None:
        newest = session.scalars(query.order_by(SessionRow.day.desc(), SessionRow.id.desc()).limit(limit))
        query = select(SessionRow.id).where(SessionRow.id.in_(newest.all()))
    found: Select[Any] = query
    return found


def _facts(session: Session, ids: Select[Any]) -> list[SessionFacts]:
    counts = _counts(session, PuttRow.session_id, ids)
    versions = _counts(session, Correction.session_id, ids)
    cards: dict[int, list[CardFacts]] = defaultdict(list)
    for card in session.scalars(
        select(Scorecard).where(Scorecard.session_id.in_(ids)).order_by(Scorecard.id)
    ):
        cards[card.session_id].append(_card(card))
    rows = session.execute(
        select(SessionRow, Player.name, Player.hand, Place.name)
        .join(Player, Player.id == SessionRow.player_id)
        .outerjoin(Place, Place.id == SessionRow.place_id)
        .where(SessionRow.id.in_(ids))
        .order_by(SessionRow.day, SessionRow.id)
    )
    return [
        SessionFacts(
            id=row.id,
            player=player,
            hand=hand,
            day=row.day,
            kept_at=row.kept_at,
            filmed=row.clip_file is not None,
            clip_file=row.clip_file,
            clip_path=row.clip_path,
            clip_hash=row.clip_hash,
            place=place,
            stimp_ft=Figure(row.stimp_ft, row.stimp_ft_u95),
            gate=gate_of(row),
            n_putts=counts.get(row.id, 0),
            note=row.note,
            version=versions.get(row.id, 0),
            cards=tuple(cards[row.id]),
        )
        for row, player, hand, place in rows
    ]


def _counts(session: Session, column: Any, ids: Select[Any]) -> dict[int, int]:
    query = select(column, func.count()).where(column.in_(ids)).group_by(column)
    return {row[0]: row[1] for row in session.execute(query)}


def _corrections(session: Session, ids: Select[Any]) -> dict[int, list[Correction]]:
    found: dict[int, list[Correction]] = defaultdict(list)
    query = select(Correction).where(Correction.session_id.in_(ids))
    for row in session.scalars(query.order_by(Correction.session_id, Correction.version)):
        found[row.session_id].append(row)
    return dict(found)


def _lines(session: Session, ids: Select[Any], drill: str | None) -> dict[int, dict[int, list[LineFacts]]]:
    """Lines of scorecards by session and putt."""
    query = (
        select(
            Scorecard.session_id,
            ScorecardLine.putt,
            Scorecard.id,
            Scorecard.drill,
            *(getattr(ScorecardLine, name) for name in _LINE),
        )
        .join(Scorecard, Scorecard.id == ScorecardLine.scorecard_id)
        .where(Scorecard.session_id.in_(ids))
        .order_by(Scorecard.id, ScorecardLine.id)
    )
    if drill is not None:
        query = query.where(Scorecard.drill == drill)
    found: dict[int, dict[int, list[LineFacts]]] = defaultdict(lambda: defaultdict(list))
    for number, putt, *columns in session.execute(query):
        found[number][putt].append(LineFacts(*columns))
    return found


_LINE = (
    "stage", "made", "points", "restarted", "distance_m", "grip", "ball", "side", "from_side", "slope",
    "gate_mm", "forfeit",
)  # fmt: skip


def _card(row: Scorecard) -> CardFacts:
    return CardFacts(
        id=row.id,
        drill=row.drill,
        title=row.title,
        options=json.loads(row.options_text),
        state=row.state,
        counted=row.counted,
        made=row.made,
        points=row.points,
        restarts=row.restarts,
        best_streak=row.best_streak,
        time_s=row.time_s,
        stake=row.stake,
    )
