"""``puttvision review``: the page in the browser where the coach has the last word."""

from __future__ import annotations

from getpass import getuser
from pathlib import Path
from typing import Annotated

import typer

from puttvision.cli.players import Store

PORT = 8742


def review(
    folder: Annotated[
        Path | None,
        typer.Argument(help="Folder of measured clips; else `clips` beside the journal.", show_default=False),
    ] = None,
    store: Store = None,
    who: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Written beside every correction; else your login name."),
    ] = None,
    host: Annotated[
        str, typer.Option(help="Address to answer on; any but this computer's own demands a token.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0: any free one.")] = PORT,
    name: Annotated[
        list[str] | None, typer.Option("--name", metavar="HOST", help="A further name the page is called by.")
    ] = None,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page at once.")] = True,
) -> None:
    """Look at sessions in the browser: film with overlay, calls, corrections, score; drop clips in.

    Nothing leaves this computer. With --host 0.0.0.0 phones in the same network can open the page, with
    the token that is printed.
    """
    from puttvision.cli.lens_choice import SavedLenses
    from puttvision.journal.store import default_file, opened, place
    from puttvision.review.page.app import build
    from puttvision.review.page.desk import Desk
    from puttvision.review.page.serve import access_for, listen, serve
    from puttvision.review.page.shelf import Shelf

    where = place(store)
    journal = default_file() if "://" in where else Path(where).expanduser()
    access = access_for(host, name or [])
    with listen(host, port) as socket, opened(where) as journal_store:
        shelf = Shelf(folder or journal.parent / "clips")
        desk = Desk(store=journal_store, shelf=shelf, who=who or _login(), lenses=SavedLenses())
        address = f"http://{_shown(host)}:{socket.getsockname()[1]}/"
        typer.echo(f"{address}{f'?token={access.token}' if access.token else ''}")
        typer.echo("stop with Ctrl+C", err=True)
        if browser and access.token is None:
            typer.launch(address)
        serve(build(desk, access), socket)


def _login() -> str:
    try:
        return getuser()
    except (OSError, KeyError):
        return "coach"


def _shown(host: str) -> str:
    if host in ("0.0.0.0", "::"):
        from puttvision.review.page.serve import own_address

        return own_address()
    return f"[{host}]" if ":" in host else host
