"""Taking things out of the journal for good: a session, or a person with all that is kept of them."""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import delete, func, or_, select, text
from sqlalchemy.orm import Session

from puttvision.journal.corrections import find_session
from puttvision.journal.people import find_player
from puttvision.journal.store import Store
from puttvision.journal.tables import (
    Base,
    Correction,
    Group,
    Note,
    Place,
    Player,
    PuttRow,
    RulesText,
    Scorecard,
)
from puttvision.journal.tables import Session as SessionRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Forgotten:
    """What was removed with a player, and what is left to do: clips and copies are files of their own."""

    name: str
    n_sessions: int
    n_putts: int
    clips: tuple[str, ...]
    """Where the player's clips lay when they were kept."""
    shared_clips: tuple[str, ...]
    """Clips from which another player's session was measured too."""
    mentions: int
    """What people wrote about others (notes, reasons, stakes, clips, groups, places) that holds the name."""
    copies: tuple[Path, ...]
    """Copies of the journal beside it, made before an upgrade or a restore: they hold what they held."""
    in_use: bool
    """Another program was reading: what was removed leaves the file when it is done."""


SOMEBODY = "another player"
"""Stands in the program's own notes of others (`matches.py`) where a forgotten player's name stood."""


def forget_player(store: Store, name: str) -> Forgotten:
    """Remove a player with all sessions for good, from the file's free space too."""
    with store.writing() as session:
        player = find_player(session, name)
        mine = select(SessionRow.id).where(SessionRow.player_id == player.id)
        n_sessions = session.scalar(select(func.count()).select_from(mine.subquery())) or 0
        n_putts = session.scalar(select(func.count(PuttRow.id)).where(PuttRow.session_id.in_(mine))) or 0
        clips = _clips(session, SessionRow.player_id == player.id)
        others = _clips(session, SessionRow.player_id != player.id)
        session.delete(player)
        session.flush()
        _drop_unused_rules(session)
        _unname(session, name)
        mentions = _mentions(session, name)
    in_use = not _wipe(store)
    return Forgotten(
        name=name,
        n_sessions=n_sessions,
        n_putts=n_putts,
        clips=tuple(sorted(clips - others)),
        shared_clips=tuple(sorted(clips & others)),
        mentions=mentions,
        copies=tuple(_copies(store)),
        in_use=in_use,
    )


def remove_session(store: Store, session_id: int) -> None:
    """Remove one session, with its putts, scorecards, corrections and notes."""
    with store.writing() as session:
        session.delete(find_session(session, session_id))
        session.flush()
        _drop_unused_rules(session)


def _clips(session: Session, whose: object) -> set[str]:
    query = select(SessionRow.clip_path).where(whose, SessionRow.clip_path.is_not(None))  # type: ignore[arg-type]
    return {path for path in session.scalars(query) if path}


def _drop_unused_rules(session: Session) -> None:
    """A drill file of one's own may hold a name as well."""
    session.execute(delete(RulesText).where(RulesText.id.not_in(select(Scorecard.rules_id))))


def _unname(session: Session, name: str) -> None:
    """Take a name out of what the program itself wrote about others: whom they played against."""
    word = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
    for note in session.scalars(
        select(Note).where(Note.who == "", Note.text.contains(name, autoescape=True))
    ):
        note.text = word.sub(SOMEBODY, note.text)
    session.flush()


def _mentions(session: Session, name: str) -> int:
    """How many texts about others still hold the name."""
    counts = [
        session.scalar(
            select(func.count())
            .select_from(table)
            .where(or_(*(column.contains(name, autoescape=True) for column in columns)))
        )
        for table, columns in (
            (Note, (Note.text, Note.who)),
            (Group, (Group.name, Group.note)),
            (Place, (Place.name, Place.note)),
            (Player, (Player.note,)),
            (SessionRow, (SessionRow.note, SessionRow.clip_file, SessionRow.clip_path)),
            (Scorecard, (Scorecard.stake,)),
            (Correction, (Correction.who, Correction.why)),
            (RulesText, (RulesText.text,)),
        )
    ]
    return sum(count or 0 for count in counts)


def _wipe(store: Store) -> bool:
    """Write the tables anew, so that nothing of what was removed stays in free space; False where another
    program's reading keeps the old ones in the file for now.

    What a PostgreSQL server keeps beside its tables (its log of changes, its own backups) is in the
    hands of whoever runs it.
    """
    if store.engine.dialect.name == "sqlite":
        with contextlib.closing(store.engine.raw_connection()) as raw:
            raw.cursor().execute("VACUUM")
            raw.cursor().execute("PRAGMA busy_timeout=2000")
            busy = raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        return busy is not None and not busy[0]
    with store.engine.connect() as connection:
        own = connection.execution_options(isolation_level="AUTOCOMMIT")
        for table in Base.metadata.sorted_tables:
            own.execute(text(f"VACUUM (FULL, ANALYZE) {table.name}"))
    return True


def _copies(store: Store) -> list[Path]:
    if store.engine.dialect.name != "sqlite" or not store.engine.url.database:
        return []
    path = Path(store.engine.url.database)
    found = {
        copy
        for kind in ("schema-", "before-restore.")
        for copy in path.parent.glob(f"{path.stem}.{kind}*{path.suffix}")
    }
    return sorted(found)
