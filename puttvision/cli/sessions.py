"""``puttvision sessions``: what is kept of each session, its putts corrected, its forfeits paid."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.notes import Who, myself
from puttvision.cli.players import Store
from puttvision.drill.words import points, several

if TYPE_CHECKING:
    from puttvision.journal.corrections import Corrected
    from puttvision.journal.history import SessionFacts

Number = Annotated[int, typer.Argument(metavar="SESSION", help="Its number.", show_default=False)]
Why = Annotated[str, typer.Option("--why", metavar="TEXT", help="Why, in a few words.")]

sessions_app = typer.Typer(help="The sessions in the journal.", no_args_is_help=True)


@sessions_app.command("list")
def list_(
    player: Annotated[str | None, typer.Argument(metavar="[PLAYER]", help="Only this player's.")] = None,
    last: Annotated[int, typer.Option("--last", metavar="N", min=1, help="How many, the newest.")] = 20,
    store: Store = None,
) -> None:
    """List sessions: number, day, player, putts, drills and how they went."""
    from rich.console import Console
    from rich.table import Table

    from puttvision.journal.history import sessions_of
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        found = sessions_of(journal, player, limit=last)
    if not found:
        typer.echo("no sessions yet: `puttvision score` or `puttvision card` with --player keeps one")
        return
    table = Table("session", "day", "player", "putts", "from", box=None)
    table.add_column("drills", overflow="fold", ratio=1)
    for one in found:
        table.add_row(
            str(one.id),
            one.day.isoformat(),
            one.player,
            str(one.n_putts),
            "clip" if one.filmed else "hand",
            "\n".join(_drills(one)) or "none",
        )
    Console().print(table)


@sessions_app.command("correct")
def correct(
    session: Number,
    putt: Annotated[int, typer.Argument(metavar="PUTT", help="Its number.", show_default=False)],
    field: Annotated[
        str, typer.Argument(metavar="WHAT", help="outcome, gate_result, is_putt, ...", show_default=False)
    ],
    value: Annotated[
        str, typer.Argument(metavar="VALUE", help="What it is; nothing: not known.", show_default=False)
    ],
    why: Why = "",
    who: Who = None,
    store: Store = None,
) -> None:
    """Correct a putt; the measured value stays beside it, and the drills are scored anew."""
    from puttvision.journal.corrections import as_it_stands
    from puttvision.journal.corrections import correct as correct_putt
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        seen = as_it_stands(journal, session).version
        after = correct_putt(journal, session, putt, field, _value(field, value), myself(who), why, seen)
    _tell(after, f"putt {putt} of session {session}: {field} is {value} now")


@sessions_app.command("undo")
def undo(session: Number, why: Why = "", who: Who = None, store: Store = None) -> None:
    """Undo the last correction of a session that is still in force."""
    from puttvision.journal.corrections import as_it_stands
    from puttvision.journal.corrections import undo as undo_last
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        seen = as_it_stands(journal, session).version
        after = undo_last(journal, session, myself(who), why, seen)
    last = after.events[-1]
    _tell(after, f"putt {last.putt} of session {session}: correction of {last.field} undone")


@sessions_app.command("corrections")
def corrections(session: Number, store: Store = None) -> None:
    """Show all corrections of a session: when, by whom, from, to, why."""
    from puttvision.journal.corrections import as_it_stands
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        events = as_it_stands(journal, session).events
    for one in events:
        when = one.at.astimezone().strftime("%Y-%m-%d %H:%M")
        what = f"{one.field} {_words(one.from_value)} to {_words(one.to_value)}"
        if one.field == "added":
            what = "added" if one.undoes is None else "taken out again"
        of = f" (undoes {one.undoes})" if one.undoes else ""
        state = "" if one.in_force else ", undone"
        why = f": {one.why}" if one.why else ""
        typer.echo(f"{one.version}. {when} {one.who}, putt {one.putt}: {what}{of}{state}{why}")
    if not events:
        typer.echo("no corrections")


@sessions_app.command("remove")
def remove(session: Number, store: Store = None) -> None:
    """Remove a session with its putts, scorecards, corrections and notes; its clip stays."""
    from puttvision.journal.forget import remove_session
    from puttvision.journal.store import opened, place
    from puttvision.review.scenes import Scenes

    with opened(place(store), make=False) as journal:
        remove_session(journal, session)
        Scenes.beside(journal).prune(journal)
    typer.echo(f"session {session} removed")


@sessions_app.command("forfeits")
def forfeits(
    player: Annotated[str, typer.Argument(metavar="PLAYER", help="Name or code.", show_default=False)],
    store: Store = None,
) -> None:
    """Show a player's forfeits, due and paid."""
    from puttvision.journal.notes import forfeits_of
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        found = forfeits_of(journal, player)
    for one in found:
        state = f"paid {one.paid_at.astimezone():%Y-%m-%d}" if one.paid_at else "due"
        typer.echo(f"session {one.session}, {one.day}, {one.drill}, putt {one.putt}: {one.forfeit} ({state})")
    if not found:
        typer.echo("no forfeits")


@sessions_app.command("paid")
def paid(
    session: Number,
    putt: Annotated[int | None, typer.Option("--putt", metavar="N", help="Only for this putt.")] = None,
    store: Store = None,
) -> None:
    """Keep that the forfeits of a session were paid."""
    from puttvision.journal.notes import pay
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        typer.echo(f"{several(pay(journal, session, putt), 'forfeit')} of session {session} paid")


def _drills(session: SessionFacts) -> list[str]:
    """A line a drill, and one that says how often the putts were corrected."""
    found = []
    for card in session.cards:
        result = (
            points(round(100 * card.points)) if card.points is not None else f"best streak {card.best_streak}"
        )
        found.append(f"{card.drill}: {card.made} of {card.counted} made, {result}, {card.state}")
    if session.version:
        found.append(f"{several(session.version, 'correction')} kept")
    return found


def _value(field: str, text: str) -> object:
    """A value as people write it."""
    words: dict[str, object] = {"nothing": None, "yes": True, "true": True, "no": False, "false": False}
    if field in ("outcome", "gate_result"):
        return text
    if text.lower() in words:
        return words[text.lower()]
    try:
        return float(text)
    except ValueError:
        return text


def _words(value: object) -> str:
    return {None: "nothing", True: "yes", False: "no"}.get(value, str(value))  # type: ignore[call-overload,no-any-return]


def _tell(after: Corrected, first: str) -> None:
    typer.echo(first)
    for line in after.changed:
        typer.echo(f"  {line}")
