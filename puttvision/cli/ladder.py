"""``puttvision ladder``: a group's table on one drill."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from puttvision.cli.players import Store


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
        Path | None, typer.Option("--page", metavar="FILE.html", help="Also a page for the notice board.")
    ] = None,
    as_codes: Annotated[bool, typer.Option("--codes", help="Codes in place of names on the page.")] = False,
    against: Annotated[
        str | None, typer.Option("--against", metavar="A,B", help="Two players head to head.")
    ] = None,
    store: Store = None,
) -> None:
    """Rank GROUP on a drill; who has fewer than N results is listed below, unranked."""
    from puttvision.coaching import ladder as work
    from puttvision.coaching.intervals import Estimate
    from puttvision.journal.groups import members
    from puttvision.journal.history import cards_of
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        players = members(journal, group)
        cards = cards_of(journal, players, drill, since=since and since.date(), until=until and until.date())
    if not cards:
        typer.echo(f"nobody in {group} has a result of {drill} yet")
        return
    newest = cards[-1].card.options
    same = [one for one in cards if one.card.options == newest]
    found = work.ladder(same, players, by="best" if by is By.best else "mean", last=last)
    says = (
        f"{work.kind_of(same)}, "
        + (f"best of the last {last}" if by is By.best else f"mean of all, from {last} results on")
        + f"; {same[0].day} to {same[-1].day}"
    )
    typer.echo(f"{group}, {cards[-1].card.title}: {says}")
    for one in found:
        shown = "too few" if one.result is None else f"{one.result:.3g}"
        mean = one.mean
        text = (
            f"mean {mean.value:.1f} ({mean.low:.1f} to {mean.high:.1f})" if isinstance(mean, Estimate) else ""
        )
        typer.echo(f"{one.place or '–':>3}  {one.player:<20} {shown:>8}  {one.n} played  {text}".rstrip())
    if len(same) < len(cards):
        typer.echo(f"left out: {len(cards) - len(same)} results with other options of the drill")
    if against is not None:
        first, comma, second = (part.strip() for part in against.partition(","))
        if not comma or first not in players or second not in players:
            raise typer.BadParameter(f"two players of {group} were due, such as A,B", param_hint="--against")
        won, lost, level = work.head_to_head(same, first, second)
        typer.echo(f"{first} against {second}, on days both played: {won} to {lost}, {level} level")
    if page is not None:
        from puttvision.coaching.ladder_page import ladder_page
        from puttvision.files import write_text

        if as_codes:
            names = work.codes(players)
            found = [replace(one, player=names[one.player]) for one in found]
        write_text(page, ladder_page(f"{group}: {cards[-1].card.title}", says, found))
        typer.echo(f"written: {page}")
        if as_codes:
            typer.echo("codes: " + ", ".join(f"{code} {name}" for name, code in names.items()))
