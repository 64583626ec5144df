"""A copy, in one file, of a journal on a database server as it is before an upgrade."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, MetaData, Table, create_engine, insert, select

from puttvision.files import replacing


def copy_of_server(source: Connection, revision: str, copy: Path, upgrade: Any) -> None:
    """Write every row of a store of schema ``revision`` to the SQLite file ``copy``, which is a store too.

    ``upgrade`` makes the tables of that schema in an empty store, given a connection and the schema.
    Tables are read as they are found: today's models need not fit an earlier schema.
    """
    with replacing(copy) as temporary:
        engine = create_engine(f"sqlite:///{temporary}")
        try:
            _copy(source, engine, revision, upgrade)
        finally:
            engine.dispose()


def _copy(source: Connection, engine: Engine, revision: str, upgrade: Any) -> None:
    theirs, ours = MetaData(), MetaData()
    theirs.reflect(source)
    with engine.begin() as target:
        upgrade(target, revision)
        ours.reflect(target)
        for table in theirs.sorted_tables:
            if table.name != "alembic_version":
                _copy_table(source, table, target, ours.tables[table.name])


def _copy_table(source: Connection, theirs: Table, target: Connection, ours: Table) -> None:
    rows = [
        {key: _utc(value) for key, value in row.items()} for row in source.execute(select(theirs)).mappings()
    ]
    if rows:
        target.execute(insert(ours), rows)


def _utc(value: Any) -> Any:
    """SQLite keeps no zone with a time: in a store all are UTC."""
    return value.astimezone(UTC).replace(tzinfo=None) if isinstance(value, datetime) else value
