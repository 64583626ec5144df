"""The whole journal in one file, made while it is in use; and put back from such a file.

A backup is itself a journal (an SQLite file), also of a store on PostgreSQL: it can be opened,
exported, or put into another kind of database.
"""

from __future__ import annotations

import contextlib
import sqlite3
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlalchemy import Connection, delete, func, insert, select, text

from puttvision.errors import JournalError
from puttvision.files import replacing
from puttvision.journal.store import Store, explained, opened, save_copy
from puttvision.journal.tables import Base
from puttvision.journal.where import check_file

_ROWS = 1_000
"""Rows copied at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What putting a backup back did."""

    kept_old: Path | None
    """Where the journal that was there before is now; None where there was none."""
    n_players: int
    n_sessions: int
    n_putts: int


def back_up(store: Store, copy: Path) -> None:
    """Write the whole journal to one file; others may go on reading and writing.

    A file of that name is replaced only where it is a journal. Raises JournalError where the store
    is damaged or the file cannot be written.
    """
    if copy.is_dir():
        raise JournalError(f"{copy} is a folder: name a file in it, such as {copy / 'journal-backup.db'}")
    check_file(copy)
    here = _file_of(store)
    if here is not None:
        if copy.exists() and copy.samefile(here):
            raise JournalError(f"{copy} is the journal itself: name another file")
        save_copy(here, copy)
        return
    with (
        replacing(copy) as temporary,
        opened(str(temporary)) as target,
        store.reading() as source,
        target.writing() as session,
    ):
        _copy_rows(source.connection(), session.connection())


def restore(backup: Path, where: str) -> Restored:
    """Put a backup in the place of the journal at ``where``, once it was found to be whole.

    The journal that was there is kept first: beside itself, one on PostgreSQL in the present folder.
    Raises JournalError where the backup is not there, is none, is damaged or was made by a newer
    version; then nothing is changed.
    """
    if not backup.is_file():
        raise JournalError(f"there is no file {backup}")
    check_file(backup)
    path = _path_of(where)
    if path is not None and path.exists() and path.samefile(backup):
        raise JournalError(f"{backup} is the journal itself: name a backup of it")
    with TemporaryDirectory(prefix="puttvision-restore-") as folder:
        checked = Path(folder) / "journal.db"
        save_copy(backup, checked)  # a damaged one ends here
        with opened(str(checked)) as source:  # and a newer one here; an older one is brought up to date
            n_players, n_sessions, n_putts = _counts(source)
            kept_old = _into_database(source, where) if path is None else None
        if path is not None:
            kept_old = _into_file(checked, path)
    return Restored(kept_old=kept_old, n_players=n_players, n_sessions=n_sessions, n_putts=n_putts)


def _into_file(checked: Path, path: Path) -> Path | None:
    """Overwrite the journal; where it is sound in one transaction, so that others may have it open."""
    if not path.exists():
        save_copy(checked, path)
        return None
    kept_old = path.with_name(f"{path.stem}.before-restore.{_stamp()}{path.suffix}")
    try:
        check_file(path)
        save_copy(path, kept_old)
    except JournalError:  # damaged, which may be why a backup is put back: it is moved away as it is
        for ending in ("", "-wal", "-shm"):
            part = path.with_name(path.name + ending)
            if part.exists():
                part.rename(kept_old.with_name(kept_old.name + ending))
        save_copy(checked, path)
        return kept_old
    with (
        explained(str(path)),
        contextlib.closing(sqlite3.connect(checked)) as source,
        contextlib.closing(sqlite3.connect(path, timeout=30)) as target,
    ):
        source.backup(target)
    return kept_old


def _into_database(source: Store, where: str) -> Path | None:
    with opened(where) as target:
        kept_old = None
        if any(_counts(target)):
            kept_old = Path.cwd() / f"journal.before-restore.{_stamp()}.db"
            back_up(target, kept_old)
        with source.reading() as rows, target.writing() as session:
            connection = session.connection()
            for table in reversed(Base.metadata.sorted_tables):
                connection.execute(delete(table))
            _copy_rows(rows.connection(), connection)
        return kept_old


def _copy_rows(source: Connection, target: Connection) -> None:
    """Copy every row of every table, owners first."""
    for table in Base.metadata.sorted_tables:
        query = select(table).order_by(*table.primary_key.columns)
        for part in source.execution_options(yield_per=_ROWS).execute(query).mappings().partitions():
            target.execute(insert(table), [dict(row) for row in part])
        if target.dialect.name == "postgresql" and "id" in table.columns:
            target.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), max(id)) FROM {table.name}"
                )
            )


def _counts(store: Store) -> tuple[int, int, int]:
    tables = Base.metadata.tables
    with store.reading() as session:
        counts = [
            session.scalar(select(func.count()).select_from(tables[name])) or 0
            for name in ("players", "sessions", "putts")
        ]
    return counts[0], counts[1], counts[2]


def _file_of(store: Store) -> Path | None:
    url = store.engine.url
    return Path(url.database) if url.get_backend_name() == "sqlite" and url.database else None


def _path_of(where: str) -> Path | None:
    """The file a place names; None for a database server."""
    if "://" not in where:
        return Path(where).expanduser().resolve()
    return Path(where.removeprefix("sqlite:///")).resolve() if where.startswith("sqlite:///") else None


def _stamp() -> str:
    return datetime.now().strftime("%Y%m%d-%H%M%S")
