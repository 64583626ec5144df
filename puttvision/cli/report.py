"""``puttvision report``: a session as one HTML file that opens anywhere and prints."""

from __future__ import annotations

from datetime import date as Day
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.clips import Drill, rules_of
from puttvision.cli.players import Store
from puttvision.cli.score import Players, Putts, Seed, Strict, Target, read_putts
from puttvision.files import check_place, write_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from puttvision.drill.scorecard import Scorecard
    from puttvision.putts import Putt
    from puttvision.review.report.before import Before


def report(
    source: Annotated[
        Path, typer.Argument(help="A putts.json, or a clip to measure first.", show_default=False)
    ],
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

    The file needs nothing else: it opens by a double click, on a phone too, and prints to A4 or Letter
    (the browser's print also makes a PDF of it).
    """
    from puttvision.drill.scorecard import score
    from puttvision.review.report.page import Report, html

    rules = rules_of(drill, target, putts, strict, seed, players)
    day = _day(date)
    check_place(out.parent)
    sheet = read_putts(source, out.parent, quiet=False)
    card = score(rules, sheet.putts) if rules else None
    before = _before(player, store, rules.name if rules else None, day, sheet.putts, card)
    text = html(
        Report(
            sheet=sheet,
            card=card,
            player=player or "",
            day=f"{day.day} {day:%B %Y}" if day else "",
            changes=before.changes if before else (),
            before=before.words if before else "",
            notes=tuple(note or ()),
        )
    )
    write_text(out, text)
    typer.echo(f"written: {out}")


def _day(text: str | None) -> Day | None:
    if text is None:
        return None
    try:
        return Day.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(f"--date: a day such as 2026-04-30 was due, got {text}") from None


def _before(
    player: str | None,
    store: str | None,
    drill: str | None,
    day: Day | None,
    putts: Sequence[Putt],
    card: Scorecard | None,
) -> Before | None:
    """The session before of a player whom the journal knows; None where there is none."""
    if player is None:
        return None
    from puttvision.errors import JournalError
    from puttvision.journal.store import opened, place
    from puttvision.review.report.before import find

    try:
        with opened(place(store), make=False) as journal:
            return find(journal, player, drill, day, putts, card)
    except JournalError:
        if store is not None:
            raise
        return None  # a name for the head of the page is enough
