"""``puttvision report``: a session as one HTML file that opens anywhere and prints."""

from __future__ import annotations

from dataclasses import replace
from datetime import date as Day
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.clips import Drill, rules_of
from puttvision.cli.players import Store
from puttvision.cli.score import Players, Putts, Seed, Strict, Target, read_putts
from puttvision.files import check_place, write_text

if TYPE_CHECKING:
    from puttvision.drill.rules import Rules
    from puttvision.review.report.page import Report


def report(
    source: Annotated[
        Path | None, typer.Argument(help="A putts.json, or a clip to measure first.", show_default=False)
    ] = None,
    session: Annotated[
        int | None,
        typer.Option("--session", metavar="N", help="A session of `puttvision sessions list`, as it stands."),
    ] = None,
    drill: Drill = None,
    target: Target = None,
    putts: Putts = None,
    strict: Strict = False,
    seed: Seed = None,
    players: Players = None,
    out: Annotated[Path, typer.Option(metavar="FILE.html", help="The file to write.")] = Path("report.html"),
    player: Annotated[
        str | None,
        typer.Option(
            "--player", metavar="NAME", help="Whose session it is; known to the journal: against last time."
        ),
    ] = None,
    date: Annotated[
        str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="Day of the session, for its head.")
    ] = None,
    note: Annotated[
        list[str] | None, typer.Option("--note", metavar="TEXT", help="A word to the pupil; may be repeated.")
    ] = None,
    store: Store = None,
) -> None:
    """Write a session as one HTML file: score, putts, charts, set-up, what to practise next.

    The session is a putts.json, a clip, or one of the journal (--session), with its corrections, set beside
    the session before. The file needs nothing else: it opens by a double click, on a phone too, and prints to
    A4 or Letter (the browser's print also makes a PDF of it).
    """
    from puttvision.review.report.page import html

    if (source is None) == (session is None):
        raise typer.BadParameter("either a putts.json or clip, or --session N was due")
    if session is not None and (player is not None or date is not None):
        raise typer.BadParameter("--session knows whose it is and of which day: no --player, no --date")
    rules = rules_of(drill, target, putts, strict, seed, players)
    day = _day(date)
    check_place(out.parent)
    if session is not None:
        from puttvision.journal.store import opened, place
        from puttvision.review.report.from_journal import of_session

        with opened(place(store), make=False) as journal:
            made = of_session(journal, session, rules)
    else:
        assert source is not None
        made = _of_source(source, out.parent, rules, player, day, store)
    write_text(out, html(replace(made, notes=tuple(note or ()))))
    typer.echo(f"written: {out}")


def _of_source(
    source: Path, folder: Path, rules: Rules | None, player: str | None, day: Day | None, store: str | None
) -> Report:
    """Of a file; with what the journal knows of its player, if anything."""
    from puttvision.drill.scorecard import score
    from puttvision.errors import JournalError
    from puttvision.journal.store import opened, place
    from puttvision.review.report.from_journal import in_words, of_player
    from puttvision.review.report.page import Report

    sheet = read_putts(source, folder, quiet=False)
    card = score(rules, sheet.putts) if rules else None
    if player is not None:
        try:
            with opened(place(store), make=False) as journal:
                return of_player(journal, player, sheet, card, day)
        except JournalError as err:
            if store is not None:
                raise  # else a name for the head of the page is enough
            typer.echo(f"note: nothing from the journal is in it: {err}", err=True)
    return Report(sheet=sheet, card=card, player=player or "", day=in_words(day) if day else "")


def _day(text: str | None) -> Day | None:
    if text is None:
        return None
    try:
        return Day.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"--date: a day such as 2026-04-30 was due, got {text}") from None
