"""``puttvision places``: the greens that are played on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from puttvision.cli.players import Store

if TYPE_CHECKING:
    from puttvision.putts import Figure

Name = Annotated[str, typer.Argument(metavar="PLACE", help="Its name.", show_default=False)]

places_app = typer.Typer(help="Greens, with their speed and slope.", no_args_is_help=True)


@places_app.command("add")
def add(
    name: Name,
    stimp: Annotated[
        str | None,
        typer.Option(metavar="FT[+-U]", help="Green speed in feet, such as 9.6 or 9.6+-0.4 (95 % interval)."),
    ] = None,
    slope: Annotated[
        str | None, typer.Option(metavar="PERCENT[+-U]", help="How much it falls, such as 1.5 or 1.5+-0.2.")
    ] = None,
    roll: Annotated[
        Path | None,
        typer.Option("--roll", metavar="ROLL.JSON", help="Take both as `puttvision roll` measured them."),
    ] = None,
    on: Annotated[
        str | None,
        typer.Option("--on", metavar="YYYY-MM-DD", help="The day these were measured; else today."),
    ] = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="A line about it.")] = None,
    store: Store = None,
) -> None:
    """Add a green or a spot on one; or change the speed and slope of one that is there."""
    from puttvision.cli.keeping import day_of
    from puttvision.journal.places import put_place, read_roll
    from puttvision.journal.store import opened, place

    stimp_ft = None if stimp is None else figure(stimp, "--stimp")
    slope_percent = None if slope is None else figure(slope, "--slope")
    if roll is not None:
        if stimp_ft or slope_percent:
            raise typer.BadParameter("it says both: leave --stimp and --slope away", param_hint="--roll")
        stimp_ft, slope_percent = read_roll(roll)
    with opened(place(store)) as journal:
        new = put_place(
            journal,
            name,
            stimp_ft=stimp_ft,
            slope_percent=slope_percent,
            measured_on=None if on is None else day_of(on, "--on"),
            note=note,
        )
    typer.echo(f"{name} {'added' if new else 'changed'}")


@places_app.command("list")
def list_(store: Store = None) -> None:
    """List the places: speed and slope as given, speed as the last clip there shows it."""
    from rich.console import Console
    from rich.table import Table

    from puttvision.journal.places import list_places
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        found = list_places(journal)
    if not found:
        typer.echo("no places yet: `puttvision places add PLACE --stimp 9.6`")
        return
    table = Table(
        "place", "speed (ft)", "slope (%)", "measured", "last clip (ft)", "sessions", "note", box=None
    )
    for one in found:
        clip = f"{shown(one.last_clip_stimp_ft)}, {one.last_clip_on}" if one.last_clip_on else "none"
        table.add_row(
            one.name,
            shown(one.stimp_ft),
            shown(one.slope_percent),
            str(one.measured_on or "not yet"),
            clip,
            str(one.n_sessions),
            one.note,
        )
    Console().print(table)


@places_app.command("remove")
def remove(name: Name, store: Store = None) -> None:
    """Remove a place; the sessions played there stay."""
    from puttvision.journal.places import remove_place
    from puttvision.journal.store import opened, place

    with opened(place(store), make=False) as journal:
        remove_place(journal, name)
    typer.echo(f"{name} removed; its sessions stay")


def figure(text: str, option: str) -> Figure:
    """``9.6`` or ``9.6+-0.4`` as a figure; a usage error where it is neither."""
    from puttvision.putts import Figure

    parts = text.replace("±", "+-").split("+-")
    try:
        numbers = [float(part) for part in parts]
        if len(numbers) > 2 or (len(numbers) == 2 and numbers[1] < 0):
            raise ValueError
        return Figure(*numbers)
    except ValueError:
        raise typer.BadParameter(
            f"a number such as 9.6 or 9.6+-0.4 was due, got {text}", param_hint=option
        ) from None


def shown(value: Figure) -> str:
    """A figure with its 95 % interval."""
    if value.value is None:
        return "not given"
    return f"{value.value:.3g}" + (f" ± {value.u95:.2g}" if value.u95 is not None else "")
