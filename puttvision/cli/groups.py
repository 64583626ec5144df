"""``puttvision groups``: players who putt against each other."""

from __future__ import annotations

from typing import Annotated

import typer

from puttvision.cli.players import Store

Name = Annotated[str, typer.Argument(metavar="GROUP", help="Its name.", show_default=False)]
Players = Annotated[
    list[str], typer.Argument(metavar="PLAYER...", help="Names or codes.", show_default=False)
]
SomePlayers = Annotated[
    list[str] | None, typer.Argument(metavar="[PLAYER...]", help="Who is in it from the start.")
]

groups_app = typer.Typer(help="Groups of players.", no_args_is_help=True)


@groups_app.command("add")
def add(name: Name, players: SomePlayers = None, store: Store = None) -> None:
    """Make a group."""
    from puttvision.journal.groups import add_group
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        add_group(journal, name, players or ())
    typer.echo(f"group {name} made" + (f": {', '.join(players)}" if players else ""))


@groups_app.command("join")
def join(name: Name, players: Players, store: Store = None) -> None:
    """Take players into a group."""
    from puttvision.journal.groups import add_members, members
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        add_members(journal, name, players)
        typer.echo(f"{name}: {', '.join(members(journal, name))}")


@groups_app.command("leave")
def leave(name: Name, players: Players, store: Store = None) -> None:
    """Take players out of a group; their sessions stay."""
    from puttvision.journal.groups import members, remove_members
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        remove_members(journal, name, players)
        typer.echo(f"{name}: {', '.join(members(journal, name)) or 'nobody'}")


@groups_app.command("remove")
def remove(name: Name, store: Store = None) -> None:
    """Remove a group; its players and their sessions stay."""
    from puttvision.journal.groups import remove_group
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        remove_group(journal, name)
    typer.echo(f"group {name} removed; its players stay")


@groups_app.command("list")
def list_(store: Store = None) -> None:
    """List the groups and who is in them."""
    from puttvision.journal.groups import list_groups
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        found = list_groups(journal)
    for one in found:
        typer.echo(f"{one.name}: {', '.join(one.members) or 'nobody'}")
    if not found:
        typer.echo("no groups yet: `puttvision groups add GROUP PLAYER...`")
