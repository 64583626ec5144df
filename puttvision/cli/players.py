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

    if consent is None:
        typer.echo(CONSENT_NOTE)
        consent = typer.confirm("Consent to film given?", default=False) if sys.stdin.isatty() else False
    with opened(place(store)) as journal:
        add_player(journal, name, hand=hand.value, consent=consent)
    filming = "may be filmed" if consent else "not to be filmed yet (`puttvision players consent`)"
    typer.echo(f"{name} added, {hand.value} hand, {filming}")


@players_app.command("consent")
def consent(name: Name, store: Store = None) -> None:
    """Keep that a player, or a parent, agreed to filming."""
    from puttvision.journal.people import CONSENT_NOTE, give_consent
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        give_consent(journal, name)
    typer.echo(f"{CONSENT_NOTE}\nKept: consent to film {name}")


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
    from puttvision.journal.people import forget_player
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        gone = forget_player(journal, name)
    typer.echo(f"{gone.name} forgotten: {gone.n_sessions} sessions, {gone.n_putts} putts removed")
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
    typer.echo("Copies made for backup or before an upgrade still hold what they held.")
    if failed:
        raise typer.Exit(code=1)
