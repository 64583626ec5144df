"""``puttvision export``, ``import``, ``backup`` and ``restore``: the journal in and out."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from puttvision.cli.players import Store


class Form(StrEnum):
    """What the files are written as."""

    csv = "csv"
    jsonl = "jsonl"
    parquet = "parquet"


def export(
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the files, one a table.")] = Path(
        "export-out"
    ),
    form: Annotated[Form, typer.Option("--form", help="CSV, JSON lines or Parquet.")] = Form.csv,
    columns: Annotated[
        bool, typer.Option("--columns", help="Print what every table and column means, and its unit.")
    ] = False,
    store: Store = None,
) -> None:
    """Write every table of the journal: CSV, JSON lines or Parquet."""
    from puttvision.journal.export import columns_page
    from puttvision.journal.export import export as export_tables
    from puttvision.journal.store import opened, place

    if columns:
        typer.echo(columns_page(), nl=False)
        return
    with opened(place(store), make=False) as journal:
        written = export_tables(journal, out, form.value)
    typer.echo(f"written: {len(written)} tables in {out}; `puttvision export --columns` says what they hold")


def import_(
    file: Annotated[
        Path, typer.Argument(metavar="FILE.csv", help="Hand scores, one row a putt.", show_default=False)
    ],
    store: Store = None,
) -> None:
    """Keep hand scores from a CSV file: all rows, or none where one is bad.

    The first line names the columns: player, day and outcome (holed, missed, unseen) are due; session,
    place, drill, target, putts_in_drill, strict, putt, gate_result, lipped, miss_side, miss_length and
    hole_distance_m may be there.
    """
    from puttvision.drill.words import several
    from puttvision.journal.hand_scores import BadRowsError, import_scores
    from puttvision.journal.store import opened, place

    try:
        with opened(place(store), make=False) as journal:
            done = import_scores(journal, file)
    except BadRowsError as err:
        for row in err.rows:
            typer.echo(f"{file}, {row}", err=True)
        typer.echo("puttvision: nothing was kept: mend these rows and import the file again", err=True)
        raise typer.Exit(code=1) from err
    known = f"; {several(done.known, 'session')} known already" if done.known else ""
    typer.echo(f"kept: {several(done.sessions, 'session')}, {several(done.putts, 'putt')}{known}")


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE.db", help="Where to write it.", show_default=False)],
    store: Store = None,
) -> None:
    """Write the whole journal to one file, also while it is in use."""
    from puttvision.journal.backup import back_up
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        back_up(journal, file)
    typer.echo(f"written: {file}; `puttvision restore {file}` puts it back")


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE.db", help="A backup.", show_default=False)],
    store: Store = None,
) -> None:
    """Put a backup in the journal's place, once it is found whole; the old journal is kept."""
    from puttvision.drill.words import several
    from puttvision.journal.backup import restore as put_back
    from puttvision.journal.store import place

    done = put_back(file, place(store))
    counts = f"{several(done.n_players, 'player')}, {several(done.n_sessions, 'session')}"
    typer.echo(f"put back: {counts}, {several(done.n_putts, 'putt')}")
    if done.kept_old:
        typer.echo(f"the journal as it was: {done.kept_old}")
