"""Questions to the journal in plain SQL, which SQLite answers itself and any other store through SQLAlchemy.

What a coach asks most, `puttvision progress` and `next`, has one second in all, and loading SQLAlchemy with
its mapped tables takes a third of it. So these commands ask in the SQL that SQLite and PostgreSQL share, and
SQLAlchemy is loaded only where the store is written to, is on a server or is of another schema.
"""

from __future__ import annotations

import json
import sqlite3
from collections import namedtuple
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, Protocol

from puttvision.errors import JournalError
from puttvision.journal.where import SCHEMA, WAIT_S, check_file, complaint

Ask = Callable[[str, Mapping[str, Any]], Iterable[Any]]
"""Takes a statement with ``:names`` and their values; gives rows with the columns as attributes."""


class Asked(Protocol):
    """A journal that can be read: `store.Store`, or a `ReadFile`."""

    def asking(self) -> AbstractContextManager[Ask]:
        """A view of the journal that does not change while questions are put to it."""


@dataclass(frozen=True, slots=True)
class ReadFile:
    """An SQLite journal of the present schema, opened to be read only."""

    path: Path

    @contextmanager
    def asking(self) -> Iterator[Ask]:
        with _reading(self.path) as connection:

            def ask(statement: str, values: Mapping[str, Any]) -> Iterable[Any]:
                days = {name: v.isoformat() if isinstance(v, date) else v for name, v in values.items()}
                found = connection.execute(statement, days)
                columns = [column[0] for column in found.description]
                row = namedtuple("row", columns)  # type: ignore[misc]  # their names are not known before
                return (row(*values) for values in found)

            yield ask


@contextmanager
def opened_to_read(where: str) -> Iterator[Asked]:
    """Open a journal that is there for the length of a ``with``, the quick way where that can be.

    Raises JournalError as `store.open_store` does; an older store is brought up to date.
    """
    path = Path(where).expanduser()
    if "://" not in where and path.exists():
        check_file(path)
        if _schema(path) == SCHEMA:
            yield ReadFile(path)
            return
    from puttvision.journal.store import opened

    with opened(where, make=False) as store:
        yield store


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection]:
    try:
        with closing(sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)) as connection:
            connection.execute("PRAGMA query_only=ON")
            connection.execute("BEGIN")
            yield connection
    except sqlite3.DatabaseError as err:
        raise complaint(str(path), err) from err


def _schema(path: Path) -> str | None:
    """The schema of the store at ``path``; None where it says none."""
    with _reading(path) as connection:
        if (
            connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'").fetchone()
            is None
        ):
            return None
        row = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        return None if row is None else str(row[0])


# --- values as the databases give them ----------------------------------------------------------


def day_in(value: date | str) -> date:
    """A day: SQLite keeps it as text."""
    return date.fromisoformat(value) if isinstance(value, str) else value


def time_in(value: datetime | str) -> datetime:
    """A time in UTC: SQLite keeps it as text without its zone."""
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def json_in(value: Any) -> Any:
    """What a JSON column holds: SQLite keeps it as text."""
    return json.loads(value) if isinstance(value, str) else value


# --- names -----------------------------------------------------------------------------------


def nearest_name(name: str, names: Iterable[str]) -> str:
    """``did you mean "..."? else``, or nothing where no name is near."""
    from difflib import get_close_matches

    near = get_close_matches(name, list(names), 1)
    return f'did you mean "{near[0]}"? else ' if near else ""


def no_such_player(name: str, names: Iterable[str]) -> JournalError:
    """What to raise where ``name`` is none of the players' ``names``."""
    hint = nearest_name(name, names)
    return JournalError(
        f'no player "{name}" is in the journal: {hint}`puttvision players add "{name}"` first'
    )


def player_id(ask: Ask, name: str) -> int:
    """The number of the player of that name; JournalError with the nearest name where there is none."""
    for row in ask("SELECT id FROM players WHERE name = :name", {"name": name}):
        return int(row.id)
    raise no_such_player(name, [row.name for row in ask("SELECT name FROM players", {})])
