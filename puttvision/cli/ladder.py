"""``puttvision ladder``: a group's table on one drill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.players import Store
from puttvision.cli.sheet import PaperName

if TYPE_CHECKING:
    from puttvision.coaching.ladder import Place


class By(StrEnum):
    """What ranks."""

    best = "best"
    mean = "mean"


Day = Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="A season's first or last day.")]


def ladder(
    group: Annotated[str, typer.Argument(metavar="GROUP", show_default=False)],
    drill: Annotated[str, typer.Option("--drill", metavar="NAME", help="The drill.", show_default=False)],
    by: Annotated[By, typer.Option(help="The best of the last N, or the mean of all.")] = By.best,
    last: Annotated[int, typer.Option("--last", metavar="N", min=1, help="Results that count.")] = 5,
    since: Day = None,
    until: Day = None,
    page: Annotated[
        Path | None,
        typer.Option("--page", metavar="FILE.pdf|.html", help="Also a page for the notice board."),
    ] = None,
    as_codes: Annotated[bool, typer.Option("--codes", help="Codes in place of names on the page.")] = False,
    paper: Annotated[
        PaperName, typer.Option("--paper", case_sensitive=False, help="Paper of a PDF page.")
    ] = PaperName.a4,
    against: Annotated[
        str | None, typer.Option("--against", metavar="A,B", help="Two players head to head.")
    ] = None,
    store: Store = None,
) -> None:
    """Rank GROUP on a drill; who has fewer than N results is listed below, unranked."""
    if page is not None and page.suffix.lower() not in (".pdf", ".html", ".htm"):
        raise typer.BadParameter("a file that ends in .pdf or .html was due", param_hint="--page")
    from puttvision.coaching import ladder as work
    from puttvision.errors import JournalError
    from puttvision.journal.board_codes import board_codes
    from puttvision.journal.groups import members
    from puttvision.journal.history import cards_of
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        players = members(journal, group)
        cards = cards_of(journal, players, drill, since=since and since.date(), until=until and until.date())
        names = board_codes(journal, players) if as_codes and page is not None else {}
    if not cards:
        raise JournalError(f"nobody in {group} has a result of {drill} yet: nothing to rank")
    newest = cards[-1].card.options
    same = [one for one in cards if one.card.options == newest]
    found = work.ladder(same, players, by="best" if by is By.best else "mean", last=last)
    kind = work.kind_of(same)
    which = f"best of the last {last}" if by is By.best else f"mean of all, from {last} results on"
    says = f"{kind}, {which}; {same[0].day} to {same[-1].day}"
    typer.echo(f"{group}, {cards[-1].card.title}: {says}")
    for text in _table(found, kind, last):
        typer.echo(text)
    if len(same) < len(cards):
        typer.echo(f"left out: {len(cards) - len(same)} results with other options of the drill")
    if against is not None:
        first, comma, second = (part.strip() for part in against.partition(","))
        if not comma or first not in players or second not in players:
            raise typer.BadParameter(f"two players of {group} were due, such as A,B", param_hint="--against")
        won, lost, level = work.head_to_head(same, first, second)
        typer.echo(f"{first} against {second}, on days both played: {won} to {lost}, {level} level")
    if page is not None:
        on_board = [replace(one, player=names.get(one.player, one.player)) for one in found]
        if as_codes:  # equal places and the unranked stand by code: the alphabet of names would tell
            on_board.sort(key=lambda one: (one.place is None, one.place, one.player))
        results = [work.shown(one, last, by.value) for one in on_board]
        _write(page, f"{group}: {cards[-1].card.title}", says, kind, on_board, results, paper)
        typer.echo(f"written: {page}")
        if as_codes:
            typer.echo("codes: " + ", ".join(f"{names[name]} {name}" for name in players))


def _table(found: Sequence[Place], kind: str, last: int) -> list[str]:
    """The ladder as lines for a terminal."""
    from puttvision.coaching.intervals import Estimate
    from puttvision.coaching.ladder import shown
    from puttvision.coaching.shown import with_interval

    wide = max(len("player"), *(len(one.player) for one in found))
    wide_result = max(len(kind), *(len(shown(one, last)) for one in found))
    out = [f"{'':>3}  {'player':<{wide}}  {kind:>{wide_result}}  played  mean (95 % interval)"]
    for one in found:
        mean = one.mean
        text = with_interval(mean, 1) if isinstance(mean, Estimate) else "–"
        line = f"{one.place or '–':>3}  {one.player:<{wide}}  {shown(one, last):>{wide_result}}"
        out.append(f"{line}  {one.n:>6}  {text}")
    return out


def _write(
    page: Path,
    title: str,
    says: str,
    kind: str,
    found: Sequence[Place],
    results: Sequence[str],
    paper: PaperName,
) -> None:
    """The page for the notice board, as its file's name says."""
    from puttvision.files import replacing, write_text

    if page.suffix.lower() == ".pdf":
        from puttvision.printing.ladder_pdf import ladder_pdf
        from puttvision.printing.paper import PAPERS

        rows = [
            (str(one.place or ""), one.player, result, str(one.n))
            for one, result in zip(found, results, strict=True)
        ]
        heads = ("place", "player", kind, "played")
        with replacing(page) as temporary:
            temporary.write_bytes(ladder_pdf(PAPERS[paper.value], title, says, heads, rows))
    else:
        from puttvision.coaching.ladder_page import ladder_page

        write_text(page, ladder_page(title, says, kind, found, results))
