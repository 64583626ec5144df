"""Every table of the journal as CSV, JSON lines or Parquet; what each column means is in COLUMNS.md."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from datetime import date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal, NamedTuple

from sqlalchemy import JSON, Boolean, Date, Double, Float, Integer, select
from sqlalchemy.orm import Session

from puttvision.errors import JournalError
from puttvision.files import replacing
from puttvision.journal.amend import amended, events_of
from puttvision.journal.rows import putt_columns, putt_of
from puttvision.journal.store import Store
from puttvision.journal.tables import Base, Correction, Place, Player, PuttRow, UtcTime
from puttvision.journal.tables import Session as SessionRow

Form = Literal["csv", "jsonl", "parquet"]
AS_THEY_STAND = "putts_as_they_stand"
_ROWS = 2_000
"""Rows held at a time."""

Row = Sequence[Any]
Kind = Literal["integer", "number", "boolean", "day", "moment", "list", "text"]


class Table(NamedTuple):
    """A table to write: its columns, the kind of each, and its rows."""

    name: str
    columns: tuple[str, ...]
    kinds: tuple[Kind, ...]
    rows: Callable[[Session], Iterable[Row]]


def export(store: Store, folder: Path, form: Form) -> list[Path]:
    """Write one file a table into ``folder``, all of the same moment; all of them or none."""
    write = {"csv": _write_csv, "jsonl": _write_jsonl, "parquet": _write_parquet}[form]
    if folder.exists() and not folder.is_dir():
        raise JournalError(f"{folder} is a file: name a folder")
    paths = []
    with store.reading() as session, ExitStack() as files_made:
        for table in tables():
            path = folder / f"{table.name}.{form}"
            write(files_made.enter_context(replacing(path)), table, session)
            paths.append(path)
    return paths


def columns_page() -> str:
    """The page that says what every table and column means (Markdown)."""
    return (files("puttvision.journal") / "COLUMNS.md").read_text(encoding="utf-8")


def tables() -> list[Table]:
    """All tables that are written, by name."""
    found = [_kept(table) for table in Base.metadata.sorted_tables]
    putts = [column for column in PuttRow.__table__.columns if column.name != "id"]
    found.append(
        Table(
            AS_THEY_STAND,
            ("player", "day", "place", "play_order", *(column.name for column in putts)),
            ("text", "day", "text", "integer", *(_kind(column.type) for column in putts)),
            _as_they_stand,
        )
    )
    return sorted(found, key=lambda table: table.name)


# --- rows ----------------------------------------------------------------------------------------


def _kept(table: Any) -> Table:
    def rows(session: Session) -> Iterator[Row]:
        query = select(table).order_by(*table.primary_key.columns)
        yield from session.execute(query.execution_options(yield_per=_ROWS))

    return Table(
        table.name,
        tuple(column.name for column in table.columns),
        tuple(_kind(column.type) for column in table.columns),
        rows,
    )


def _as_they_stand(session: Session) -> Iterator[Row]:
    corrected = set(session.scalars(select(Correction.session_id).distinct()))
    sessions = session.execute(
        select(SessionRow.id, Player.name, SessionRow.day, Place.name)
        .join(Player, Player.id == SessionRow.player_id)
        .outerjoin(Place, Place.id == SessionRow.place_id)
        .order_by(SessionRow.day, SessionRow.id)
    ).all()
    names = [column.name for column in PuttRow.__table__.columns if column.name not in ("id", "session_id")]
    for number, player, day, place in sessions:
        query = select(PuttRow.__table__).where(PuttRow.session_id == number).order_by(PuttRow.number)
        putts = tuple(putt_of(row) for row in session.execute(query))
        if number in corrected:
            events = session.scalars(
                select(Correction).where(Correction.session_id == number).order_by(Correction.version)
            ).all()
            putts = amended(putts, events_of(events)).putts
        for order, putt in enumerate(putts, start=1):
            columns = putt_columns(putt)
            yield (player, day, place, order, number, *(columns.get(name) for name in names))


def _kind(kind: Any) -> Kind:
    pairs: tuple[tuple[Any, Kind], ...] = (
        (Boolean, "boolean"),
        (Integer, "integer"),
        ((Double, Float), "number"),
        (UtcTime, "moment"),
        (Date, "day"),
        (JSON, "list"),
    )
    return next((word for one, word in pairs if isinstance(kind, one)), "text")


def _plain(value: Any) -> Any:
    """A value as JSON has it."""
    return value.isoformat() if isinstance(value, (date, datetime)) else value


# --- files ---------------------------------------------------------------------------------------


def _write_csv(path: Path, table: Table, session: Session) -> None:
    def cell(value: Any) -> str:
        if value is None:
            return ""
        if isinstance(value, (bool, list)):
            return json.dumps(value, ensure_ascii=False)
        return str(_plain(value))

    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(table.columns)
        writer.writerows([cell(value) for value in row] for row in table.rows(session))


def _write_jsonl(path: Path, table: Table, session: Session) -> None:
    with path.open("w", encoding="utf-8") as file:
        for row in table.rows(session):
            data = {name: _plain(value) for name, value in zip(table.columns, row, strict=True)}
            file.write(json.dumps(data, ensure_ascii=False, allow_nan=False) + "\n")


def _write_parquet(path: Path, table: Table, session: Session) -> None:
    import pyarrow as pa
    from pyarrow import parquet

    kinds = {
        "integer": pa.int64(),
        "number": pa.float64(),
        "boolean": pa.bool_(),
        "day": pa.date32(),
        "moment": pa.timestamp("us", tz="UTC"),
        "list": pa.string(),
        "text": pa.string(),
    }
    schema = pa.schema([(name, kinds[kind]) for name, kind in zip(table.columns, table.kinds, strict=True)])

    def cell(value: Any) -> Any:
        return json.dumps(value, ensure_ascii=False) if isinstance(value, list) else value

    with parquet.ParquetWriter(path, schema) as writer:
        part: list[dict[str, Any]] = []
        for row in table.rows(session):
            part.append({name: cell(value) for name, value in zip(table.columns, row, strict=True)})
            if len(part) >= _ROWS:
                writer.write_table(pa.Table.from_pylist(part, schema))
                part = []
        writer.write_table(pa.Table.from_pylist(part, schema))
