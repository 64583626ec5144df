"""Players: adding them, consent to film, and forgetting them for good."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from difflib import get_close_matches

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from puttvision.errors import JournalError
from puttvision.journal.store import Store
from puttvision.journal.tables import Player, PuttRow
from puttvision.journal.tables import Session as SessionRow

CONSENT_NOTE = (
    "Before a pupil is filmed: has the pupil, or for anyone under age a parent or guardian, agreed to "
    "filming and to keeping the marks? Keep to your club's safeguarding rules and to local law."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerFacts:
    """What the list of players shows of one."""

    name: str
    hand: str
    consent_at: datetime | None
    n_sessions: int
    n_putts: int
    last_day: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Forgotten:
    """What was removed with a player; clips are files outside the journal."""

    name: str
    n_sessions: int
    n_putts: int
    clips: tuple[str, ...]
    """Where the player's clips lay when they were kept."""


def add_player(store: Store, name: str, *, hand: str = "right", consent: bool = False) -> None:
    """Add a player; JournalError where the name is empty or taken."""
    name = one_line(name, "a player needs a name or a code of one line")
    now = datetime.now(UTC)
    with store.writing() as session:
        if session.scalar(select(Player.id).where(Player.name == name)) is not None:
            raise JournalError(f"{name} is in the journal already: choose another name or a code")
        session.add(Player(name=name, hand=hand, added_at=now, consent_at=now if consent else None, note=""))


def give_consent(store: Store, name: str) -> None:
    """Keep that consent to film was given, and when; the first time stays."""
    with store.writing() as session:
        player = find_player(session, name)
        player.consent_at = player.consent_at or datetime.now(UTC)


def list_players(store: Store) -> list[PlayerFacts]:
    """All players by name, with how much of each is kept."""
    query = (
        select(
            Player.name,
            Player.hand,
            Player.consent_at,
            func.count(func.distinct(SessionRow.id)),
            func.count(PuttRow.id),
            func.max(SessionRow.day),
        )
        .outerjoin(SessionRow, SessionRow.player_id == Player.id)
        .outerjoin(PuttRow, PuttRow.session_id == SessionRow.id)
        .group_by(Player.id)
        .order_by(Player.name)
    )
    with store.reading() as session:
        return [
            PlayerFacts(
                name=name, hand=hand, consent_at=consent, n_sessions=sessions, n_putts=putts, last_day=day
            )
            for name, hand, consent, sessions, putts, day in session.execute(query)
        ]


def check_may_keep(store: Store, name: str, *, filmed: bool) -> None:
    """Raise JournalError where a player is unknown, or is to be filmed and consent was not given."""
    with store.reading() as session:
        require_consent(find_player(session, name), filmed=filmed)


def require_consent(player: Player, *, filmed: bool) -> None:
    """Raise JournalError where putts come from a clip and consent to film was not given."""
    if filmed and player.consent_at is None:
        raise JournalError(
            f"no consent to film {player.name} is kept: ask, "
            f'then `puttvision players consent "{player.name}"`'
        )


def find_player(session: Session, name: str) -> Player:
    """The player of that name; JournalError with the nearest name where there is none."""
    player = session.scalar(select(Player).where(Player.name == name))
    if player is None:
        hint = nearest_name(name, session.scalars(select(Player.name)).all())
        raise JournalError(
            f'no player "{name}" is in the journal: {hint}`puttvision players add "{name}"` first'
        )
    return player


def one_line(text: str, due: str) -> str:
    """``text`` without blanks around it; JournalError saying what was due where it is no single line."""
    text = text.strip()
    if not text or not text.isprintable():
        raise JournalError(due)
    return text


def nearest_name(name: str, names: Sequence[str]) -> str:
    """``did you mean "..."? else``, or nothing where no name is near."""
    near = get_close_matches(name, names, 1)
    return f'did you mean "{near[0]}"? else ' if near else ""


def forget_player(store: Store, name: str) -> Forgotten:
    """Remove a player with all sessions for good, from the file's free space too."""
    with store.writing() as session:
        player = find_player(session, name)
        mine = select(SessionRow.id).where(SessionRow.player_id == player.id)
        n_sessions = session.scalar(select(func.count()).select_from(mine.subquery())) or 0
        n_putts = session.scalar(select(func.count(PuttRow.id)).where(PuttRow.session_id.in_(mine))) or 0
        paths = session.scalars(
            select(SessionRow.clip_path)
            .where(SessionRow.player_id == player.id, SessionRow.clip_path.is_not(None))
            .distinct()
            .order_by(SessionRow.clip_path)
        ).all()
        session.delete(player)
    if store.engine.dialect.name == "sqlite":
        raw = store.engine.raw_connection()
        try:
            raw.cursor().execute("VACUUM")
            raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
        finally:
            raw.close()
    else:
        with store.engine.connect() as connection:
            connection.execution_options(isolation_level="AUTOCOMMIT").execute(text("VACUUM"))
    return Forgotten(
        name=name, n_sessions=n_sessions, n_putts=n_putts, clips=tuple(path for path in paths if path)
    )
