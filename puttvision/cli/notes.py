"""``puttvision notes``: words about a player, a session or a putt."""

from __future__ import annotations

import getpass
from typing import Annotated

import typer

from puttvision.cli.players import Store

Session = Annotated[
    int | None, typer.Option("--session", metavar="N", help="A session of `puttvision sessions list`.")
]
Player = Annotated[str | None, typer.Option("--player", metavar="NAME", help="A player.")]
Who = Annotated[
    str | None,
    typer.Option("--who", metavar="NAME", help="Who writes it; else the name you are logged in by."),
]

notes_app = typer.Typer(help="Notes of players, sessions and putts.", no_args_is_help=True)


@notes_app.command("add")
def add(
    text: Annotated[str, typer.Argument(metavar="TEXT", help="The note.", show_default=False)],
    player: Player = None,
    session: Session = None,
    putt: Annotated[int | None, typer.Option("--putt", metavar="N", help="One putt of the session.")] = None,
    who: Who = None,
    store: Store = None,
) -> None:
    """Write a note of a player, or of a session, or of one putt of it."""
    from puttvision.journal.notes import add_note
    from puttvision.journal.store import opened, place

    if (player is None) == (session is None):
        raise typer.BadParameter("one of --player and --session is due")
    if putt is not None and session is None:
        raise typer.BadParameter("--putt goes with --session")
    with opened(place(store), make=False) as journal:
        number = add_note(journal, text, myself(who), player=player, session_id=session, putt=putt)
    typer.echo(f"note {number} kept")


@notes_app.command("list")
def list_(player: Player = None, session: Session = None, store: Store = None) -> None:
    """Show the notes: all, of a player with all sessions, or of one session."""
    from puttvision.journal.notes import notes_of
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        found = notes_of(journal, player, session_id=session)
    for one in found:
        of = f", session {one.session}" if one.session else ""
        of += f", putt {one.putt}" if one.putt else ""
        day = one.at.astimezone().strftime("%Y-%m-%d")
        typer.echo(f"{one.id}. {one.player}{of} ({day}, {one.who}): {one.text}")
    if not found:
        typer.echo("no notes")


@notes_app.command("remove")
def remove(
    number: Annotated[int, typer.Argument(metavar="N", help="Its number.", show_default=False)],
    store: Store = None,
) -> None:
    """Remove a note."""
    from puttvision.journal.notes import remove_note
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        remove_note(journal, number)
    typer.echo(f"note {number} removed")


def myself(who: str | None) -> str:
    """Who does it: as the option says, else the name one is logged in by."""
    return who or getpass.getuser()
