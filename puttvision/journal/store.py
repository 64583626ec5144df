"""Opening the journal: where it lies, its schema, and transactions that are whole or nothing.

A store is an SQLite file (WAL, foreign keys on) or any database SQLAlchemy can reach, such as
PostgreSQL. A store made by an older version is upgraded when opened (an SQLite file is first
copied beside itself, one on a server to a file in the user's data folder); one made by a newer
version, by another program or damaged is left untouched.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import ArgumentError, DatabaseError, DBAPIError, IntegrityError, NoSuchModuleError
from sqlalchemy.orm import Session

from puttvision.errors import JournalError
from puttvision.journal.where import APPLICATION_ID, SCHEMA, WAIT_S, check_file, complaint
from puttvision.journal.where import default_file as default_file
from puttvision.journal.where import place as place

if TYPE_CHECKING:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    from puttvision.journal.questions import Ask

_MIGRATIONS = Path(__file__).resolve().parent / "migrations"
_WRITE_LOCK = 5_275_916
"""Held by the one writer of a PostgreSQL journal, as the file lock is on SQLite; any number of ours."""


@dataclass(frozen=True, slots=True)
class Store:
    """An open journal."""

    engine: Engine
    where: str
    """The file, or the URL without its password."""

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A view of the journal that does not change while it is looked at."""
        reader = self.engine
        if reader.dialect.name == "postgresql":
            reader = reader.execution_options(isolation_level="REPEATABLE READ")
        with explained(self.where), Session(reader) as session:
            yield session

    @contextmanager
    def asking(self) -> Iterator[Ask]:
        """As `reading`, for questions in plain SQL (`questions.py`)."""
        with self.reading() as session:
            yield lambda statement, values: session.execute(text(statement), dict(values))

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction: all of it is kept at the end, or none of it on an error.

        One writer at a time on every database, so that what was read within it still holds when it
        is kept.
        """
        writer = self.engine.execution_options(puttvision_writes=True)
        with explained(self.where), Session(writer) as session, session.begin():
            if self.engine.dialect.name == "postgresql":
                session.execute(text(f"SELECT pg_advisory_xact_lock({_WRITE_LOCK})"))
            yield session

    def close(self) -> None:
        self.engine.dispose()


@contextmanager
def opened(where: str, *, make: bool = True) -> Iterator[Store]:
    """Open the journal for the length of a ``with``; see `open_store`."""
    store = open_store(where, make=make)
    try:
        yield store
    finally:
        store.close()


def open_store(where: str, *, make: bool = True) -> Store:
    """Open the journal at a path or SQLAlchemy URL, making or upgrading it as needed.

    Raises JournalError where it cannot be opened, is no journal, is damaged or newer than this
    program, or is not there and ``make`` is false. Nothing is changed in these cases.
    """
    if "://" not in where:
        path = Path(where).expanduser()
        if not path.exists():
            if not make:
                raise JournalError(f"there is no journal at {path}: `puttvision players add NAME` makes one")
            _make_folder(path)
        return _open_url(f"sqlite:///{path.resolve()}", str(path), path)
    try:
        url = make_url(where)
        shown = url.render_as_string(hide_password=True)
    except ArgumentError as err:
        raise JournalError(f"{where} is neither a file nor a database URL") from err
    if url.get_backend_name() == "sqlite":
        if not url.database or url.database == ":memory:":
            raise JournalError(f"{where} would be lost at once: give a file, such as sqlite:///journal.db")
        return open_store(url.database, make=make)
    if url.drivername == "postgresql":
        where = url.set(drivername="postgresql+psycopg").render_as_string(hide_password=False)
    return _open_url(where, shown, None)


def _open_url(url: str, shown: str, path: Path | None) -> Store:
    with explained(shown):
        if path is not None:
            check_file(path)
        try:
            engine = create_engine(url, connect_args={"timeout": WAIT_S} if path is not None else {})
        except (NoSuchModuleError, ModuleNotFoundError) as err:
            raise JournalError(
                f"{shown}: no driver for this kind of database; "
                "for PostgreSQL: pip install puttvision[postgres]"
            ) from err
        if path is not None:
            _as_sqlite(engine)
        try:
            _bring_up_to_date(engine, shown, path)
        except BaseException:
            engine.dispose()
            raise
        return Store(engine, shown)


def _make_folder(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise JournalError(f"cannot make the folder {path.parent}: {err.strerror or err}") from err


def _as_sqlite(engine: Engine) -> None:
    """Foreign keys, waiting, and transactions that we begin ourselves (DDL is then undone too)."""

    def on_connect(connection: sqlite3.Connection, _: Any) -> None:
        connection.isolation_level = None
        for pragma in ("foreign_keys=ON", "synchronous=FULL", "secure_delete=ON"):
            connection.execute(f"PRAGMA {pragma}")

    def on_begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("puttvision_writes")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    event.listen(engine, "connect", on_connect)
    event.listen(engine, "begin", on_begin)


def _scripts() -> ScriptDirectory:
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(_config())


def _config() -> Config:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    return config


def _bring_up_to_date(engine: Engine, shown: str, path: Path | None) -> None:
    with engine.connect() as connection:
        found = _revision(connection, shown)
    if found == SCHEMA:
        return
    if found is not None and found not in {script.revision for script in _scripts().walk_revisions()}:
        raise JournalError(
            f"{shown} was made by a newer puttvision (schema {found}): it was left as it is; "
            "update with pip install -U puttvision"
        )
    if path is not None and found is not None:
        _copy_beside(path, found)
    if path is not None:
        with contextlib.closing(engine.raw_connection()) as raw:
            raw.cursor().execute("PRAGMA journal_mode=WAL")
    with engine.execution_options(puttvision_writes=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text(f"SELECT pg_advisory_xact_lock({_WRITE_LOCK})"))
            found = _revision(connection, shown)  # another program may have upgraded it in the meantime
            if found not in (None, SCHEMA):
                _copy_of_server(connection, str(found))
        if path is not None:
            connection.exec_driver_sql(f"PRAGMA application_id={APPLICATION_ID}")
        _upgrade(connection, "head")


def _upgrade(connection: Connection, schema: str) -> None:
    from alembic import command

    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, schema)


def _copy_of_server(connection: Connection, revision: str) -> None:
    """A copy of a store on a server, in the user's own data folder."""
    from puttvision.journal.server_copy import copy_of_server

    stamp = datetime.now().strftime("%Y%m%d-%H%M%S")
    copy = default_file().with_name(f"server-journal.schema-{revision}.{stamp}.db")
    copy_of_server(connection, revision, copy, _upgrade)


def _revision(connection: Connection, shown: str) -> str | None:
    """The schema a store has; None where it is empty."""
    names = set(inspect(connection).get_table_names())
    if "alembic_version" in names:
        return str(connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one())
    if names:
        raise JournalError(f"{shown} holds other tables: it was left as it is; name another file or database")
    return None


def _copy_beside(path: Path, revision: str) -> Path:
    """A whole copy of the store next to it, named for its schema and the time."""
    stamp = datetime.now().strftime("%Y%m%d-%H%M%S")
    copy = path.with_name(f"{path.stem}.schema-{revision}.{stamp}{path.suffix}")
    save_copy(path, copy)
    return copy


def save_copy(path: Path, copy: Path) -> None:
    """Copy an SQLite store that may be in use to one file, whole; refuses a damaged one."""
    from puttvision.files import replacing

    with replacing(copy) as temporary, explained(str(path)):
        with (
            contextlib.closing(sqlite3.connect(path)) as source,
            contextlib.closing(sqlite3.connect(temporary)) as target,
        ):
            source.backup(target)
            verdict = target.execute("PRAGMA integrity_check").fetchone()[0]
        if verdict != "ok":
            reason = verdict.splitlines()[-1]
            raise JournalError(f"{path} is damaged ({reason}): it was left as it is; use a backup")


@contextmanager
def explained(shown: str) -> Iterator[None]:
    """Turn the database's own errors into one line for the coach."""
    try:
        yield
    except IntegrityError:
        raise
    except (DBAPIError, DatabaseError, sqlite3.DatabaseError) as err:
        raise complaint(shown, err) from err
