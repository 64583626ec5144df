"""``puttvision next``: what a player should practise next."""

from __future__ import annotations

from typing import Annotated

import typer

from puttvision.cli.player_options import chance as chance_of
from puttvision.cli.players import Name, Store


def next_(
    player: Name,
    wanted: Annotated[
        str, typer.Option("--chance", metavar="P", help="How often the player shall succeed: 1/3 or 33%.")
    ] = "1/3",
    minutes: Annotated[
        float, typer.Option("--minutes", metavar="T", min=2, help="Minutes there are in all.")
    ] = 20.0,
    store: Store = None,
) -> None:
    """Propose two or three drills for PLAYER: target, gate, distance, and the figure each rests on."""
    asked = chance_of(wanted, "--chance")
    if not 0 < asked < 1:
        raise typer.BadParameter("a chance between 0 and 1 was due, such as 1/3", param_hint="--chance")
    from puttvision.coaching.attempts import attempts
    from puttvision.coaching.next_drills import NEWEST, advise
    from puttvision.drill.words import minutes as in_words
    from puttvision.journal.history import putts_of, sessions_of
    from puttvision.journal.questions import opened_to_read
    from puttvision.journal.where import place

    with opened_to_read(place(store)) as journal:
        since, left = None, 2 * NEWEST  # twice: corrections may take putts away
        for one in reversed(sessions_of(journal, player)):
            since, left = one.day, left - one.n_putts
            if left <= 0:
                break
        found = advise(attempts(putts_of(journal, player, since=since)), chance=asked, minutes=minutes)
    for number, choice in enumerate(found.choices, start=1):
        typer.echo(f"{number}. {choice.title} ({choice.drill}), {in_words(60 * choice.minutes)}")
        for line in choice.says:
            typer.echo(f"   {line}")
        typer.echo(f"   rests on: {choice.rests_on}")
    for note in found.notes:
        typer.echo(note)
