"""``puttvision progress``: how a player gets on, from week to week."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from puttvision.cli.players import Name, Store


class By(StrEnum):
    """What putts can be told apart by."""

    drill = "drill"
    distance = "distance"
    grip = "grip"
    break_ = "break"
    gate = "gate"
    time = "time"
    streak = "streak"


def progress(
    player: Name,
    page: Annotated[
        Path | None, typer.Option("--page", metavar="FILE.html", help="Also write a page with plots.")
    ] = None,
    drill: Annotated[
        str | None, typer.Option("--drill", metavar="NAME", help="Only putts of a drill.")
    ] = None,
    by: Annotated[
        list[By] | None, typer.Option("--by", help="Also tell the putts apart by this, of all drills.")
    ] = None,
    window: Annotated[
        tuple[float, float], typer.Option("--window", metavar="FROM TO", help="Good pace: cm past the hole.")
    ] = (0.0, 45.0),
    store: Store = None,
) -> None:
    """Set PLAYER's newest session beside the last and the best; claim a trend only where there is one."""
    if window[0] >= window[1]:
        raise typer.BadParameter("the first number is the smaller, such as 0 45", param_hint="--window")
    from puttvision.coaching.attempts import attempts
    from puttvision.coaching.causes import explain
    from puttvision.coaching.long_run import long_run
    from puttvision.coaching.progress import courses, lines, mixture
    from puttvision.coaching.results import result_lines
    from puttvision.coaching.streaks import series_of, streaks
    from puttvision.coaching.words import cause_lines, group_lines, streak_lines
    from puttvision.drill.words import several
    from puttvision.errors import JournalError
    from puttvision.journal.history import cards_of, putts_of
    from puttvision.journal.questions import opened_to_read
    from puttvision.journal.where import place

    with opened_to_read(place(store)) as journal:
        found = attempts(putts_of(journal, player, drill=drill))
        newest_drill = found[-1].drill if found else ""
        cards = cards_of(journal, [player], newest_drill) if newest_drill else []
    if not found:
        which = f" in {drill}" if drill else ""
        raise JournalError(
            f"no putts of {player}{which} are kept yet: --player of `puttvision score` and "
            "`puttvision card` keeps them"
        )
    apart = [line for key in by or () for line in group_lines(key.value, found)]
    others = sorted({one.drill for one in found} - {newest_drill, ""})
    found = [one for one in found if one.drill == newest_drill]
    course = courses(found, (window[0] / 100, window[1] / 100))
    result = result_lines(cards)
    figures = lines(course) or ["no session has the 8 putts that a figure needs"]
    newest = [one for one in found if one.session == found[-1].session]
    missed = sum(one.holed is False for one in newest)
    mixed = mixture(found, player) if course else []
    text = cause_lines(explain(newest), missed, long_run(newest))
    text += streak_lines(streaks(series_of(found)), len(found)) + apart
    which = f"of {newest_drill}" if newest_drill else "scored by no drill"
    n_sessions = len({one.session for one in found})
    said = f"{several(len(found), 'putt')} in {several(n_sessions, 'session')} {which}"
    also = f"; also on record: {', '.join(others)} (--drill NAME)" if others else ""
    typer.echo(f"{player}: {said}{also}")
    for line in (*result, *figures, *mixed, *text):
        typer.echo(line)
    if page is not None:
        from puttvision.coaching.progress_page import progress_page
        from puttvision.files import write_text

        write_text(page, progress_page(player, said, found, course, result, mixed, text))
        typer.echo(f"written: {page}")
