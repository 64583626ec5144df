"""``puttvision players``: who is in the journal."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

Store = Annotated[
    str | None,
    typer.Option(
        "--store",
        metavar="FILE|URL",
        help="The journal; else the environment variable PUTTVISION_STORE, else your own data folder.",
    ),
]
Name = Annotated[str, typer.Argument(metavar="PLAYER", help="Name or code.", show_default=False)]

players_app = typer.Typer(help="The players in the journal.", no_args_is_help=True)


class Hand(StrEnum):
    """Dominant hand."""

    right = "right"
    left = "left"


@players_app.command("add")
def add(
    name: Name,
    hand: Annotated[Hand, typer.Option(help="Dominant hand.")] = Hand.right,
    consent: Annotated[
        bool | None,
        typer.Option("--consent/--no-consent", help="Consent to film was given; asked where not said."),
    ] = None,
    store: Store = None,
) -> None:
    """Add a player, and keep whether consent to film was given."""
    import sys

    from puttvision.journal.people import CONSENT_NOTE, add_player
    from puttvision.journal.store import opened, place

    if consent is None and not sys.stdin.isatty():
        consent = False
    if consent is not False:
        typer.echo(CONSENT_NOTE)
    if consent is None:
        consent = typer.confirm("Consent to film given?", default=False)
    with opened(place(store)) as journal:
        add_player(journal, name, hand=hand.value, consent=consent)
    filming = "may be filmed" if consent else "not to be filmed yet (`puttvision players consent`)"
    typer.echo(f"{name} added, {hand.value} hand, {filming}")


@players_app.command("consent")
def consent(
    name: Name,
    withdraw: Annotated[bool, typer.Option("--withdraw", help="It was taken back.")] = False,
    store: Store = None,
) -> None:
    """Keep that a player, or a parent, agreed to filming, or that this was taken back."""
    from puttvision.journal.people import CONSENT_NOTE, give_consent, withdraw_consent
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        if withdraw:
            withdraw_consent(journal, name)
            typer.echo(
                f"Kept: {name} is not to be filmed any more; `puttvision forget` removes what there is"
            )
            return
        before = give_consent(journal, name)
    if before is not None:
        typer.echo(f"consent to film {name} was given on {before.date()}: that stays")
        return
    typer.echo(f"{CONSENT_NOTE}\nKept: consent to film {name}")


@players_app.command("change")
def change(
    name: Name,
    new_name: Annotated[
        str | None, typer.Option("--name", metavar="NEW", help="Another name or code.")
    ] = None,
    hand: Annotated[Hand | None, typer.Option(help="Dominant hand.")] = None,
    store: Store = None,
) -> None:
    """Give a player another name or code, or another dominant hand."""
    from puttvision.journal.people import change_player
    from puttvision.journal.store import opened, place

    if new_name is None and hand is None:
        raise typer.BadParameter("--name or --hand is due")
    with opened(place(store), make=False) as journal:
        change_player(journal, name, new_name=new_name, hand=hand.value if hand else None)
    typer.echo(f"{name} changed")


@players_app.command("list")
def list_(store: Store = None) -> None:
    """List the players: sessions, putts, last day, consent."""
    from rich.console import Console
    from rich.table import Table

    from puttvision.journal.people import list_players
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        found = list_players(journal)
    if not found:
        typer.echo("no players yet: `puttvision players add NAME`")
        return
    table = Table("player", "hand", "sessions", "putts", "last day", "consent to film", box=None)
    for one in found:
        given = one.consent_at.date().isoformat() if one.consent_at else "not given"
        day = one.last_day.isoformat() if one.last_day else "none"
        table.add_row(one.name, one.hand, str(one.n_sessions), str(one.n_putts), day, given)
    Console().print(table)


@players_app.command("forget")
def forget(
    name: Name,
    clips: Annotated[bool, typer.Option("--clips", help="Delete the player's clips as well.")] = False,
    store: Store = None,
) -> None:
    """Remove a player and all that is kept of them, for good; tells which clips there are."""
    from puttvision.drill.words import several
    from puttvision.journal.forget import forget_player
    from puttvision.journal.store import opened, place
    from puttvision.review.page.shelf import forget as forget_beside
    from puttvision.review.scenes import Scenes

    with opened(place(store), make=False) as journal:
        gone = forget_player(journal, name)
        Scenes.beside(journal).prune(journal)
    removed = f"{several(gone.n_sessions, 'session')}, {several(gone.n_putts, 'putt')}"
    typer.echo(f"{gone.name} forgotten: {removed} removed")
    failed = False
    for clip in (Path(path) for path in gone.clips):
        if not clip.exists():
            typer.echo(f"  clip {clip}: not there any more")
        elif not clips:
            typer.echo(f"  clip {clip}: still there")
        else:
            try:
                clip.unlink()
                typer.echo(f"  clip {clip}: removed")
            except OSError as err:
                failed = True
                typer.echo(f"  clip {clip}: cannot be removed: {err.strerror or err}", err=True)
        forget_beside(clip)
    for path in gone.shared_clips:
        typer.echo(f"  clip {path}: kept, another player's session is from it too")
    if gone.mentions:
        what = "notes, reasons, clips, groups or places"
        typer.echo(f"  {gone.mentions} {what} of others still hold the name {gone.name}")
    if gone.in_use:
        typer.echo(
            "  another program is reading the journal: what was removed leaves the file when it closes"
        )
    for copy in gone.copies:
        typer.echo(f"  {copy}: a copy of the journal that still holds {gone.name}; delete it by hand")
    typer.echo("Backups and exports you made yourself still hold what they held.")
    if failed:
        raise typer.Exit(code=1)
