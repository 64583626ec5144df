"""The scorecard as a coach reads it at the end of `score`."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console
from rich.markup import escape
from rich.panel import Panel
from rich.table import Table

from puttvision.drill import words
from puttvision.drill.rules import BOTH_HANDS
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.tally import Line

MOST_LINES = 120
"""A longer drill shows its last putts; all of them are in scorecard.json."""

_STATES = {"running": "RUNNING", "finished": "FINISHED", "failed": "NOT MADE"}


def print_scorecard(card: Scorecard, console: Console | None = None) -> None:
    """Print a line a putt, then where the drill stands and what comes next."""
    console = console or Console(highlight=False)
    console.print(f"[bold]{escape(card.rules.title)}[/bold]")
    if card.rules.stake:
        console.print(f"At stake: {card.rules.stake}", markup=False)
    if card.lines:
        hidden = len(card.lines) - MOST_LINES
        if hidden > 0:
            console.print(f"(the first {hidden} putts are in scorecard.json only)")
        console.print(_table(card, card.lines[-MOST_LINES:]))
    for line in notes(card):
        console.print(line, markup=False)
    style = {"finished": "green", "failed": "red"}.get(card.state, "none")
    head = "TIME IS UP" if card.time_is_up else _STATES[card.state]
    console.print(
        Panel(f"[bold]{head}[/bold]  {escape(_figures(card))}\n{escape(_next(card))}", border_style=style)
    )


def notes(card: Scorecard) -> list[str]:
    """Putts that were set aside, and those to look at."""
    out = [f"putt {number} set aside: {why}" for number, why in card.set_aside[:MOST_LINES]]
    if len(card.set_aside) > MOST_LINES:
        out.append(f"{len(card.set_aside) - MOST_LINES} more set aside")
    if card.look_at:
        out.append(f"to look at before the score is final: putts {_listed(card.look_at)}")
    if card.elsewhere:
        which = "all putts" if len(card.elsewhere) == card.counted else f"putts {_listed(card.elsewhere)}"
        out.append(f"{which} measured from another distance than the drill asks: is it the right drill?")
    return out


def _listed(numbers: tuple[int, ...]) -> str:
    more = f" and {len(numbers) - 12} more" if len(numbers) > 12 else ""
    return ", ".join(str(number) for number in numbers[:12]) + more


def _table(card: Scorecard, lines: tuple[Line, ...]) -> Table:
    rules = card.rules
    steps = [line.step for line in card.lines]
    columns: list[tuple[str, Callable[[Line], str]]] = [("putt", lambda line: str(line.putt))]
    if rules.two_players:
        columns.append(("player", card.player))
    if len(rules.stages) > 1:
        columns.append(("stage", lambda line: str(line.step.stage + 1)))
    if len({step.setting[:1] + step.setting[3:6] for step in steps}) > 1:
        columns.append(("from", lambda line: words.place(line.step.setting)))
    if any(step.setting.grip != BOTH_HANDS for step in steps):
        columns.append(("grip", lambda line: line.step.setting.grip))
    if any(step.setting.ball for step in steps):
        columns.append(("ball", lambda line: line.step.setting.ball))
    columns.append(("what happened", lambda line: _happened(card, line)))
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name, _ in columns:
        table.add_column(name, justify="right" if name in ("putt", "stage") else "left")
    for line in lines:
        table.add_row(
            *(escape(cell(line)) for _, cell in columns), style="bold" if line.step.restarted else ""
        )
    return table


def _happened(card: Scorecard, line: Line) -> str:
    text = words.what_happened(card.rules, line)
    return f"{text} ({line.doubt})" if line.doubt else text


def _figures(card: Scorecard) -> str:
    texts = [words.several(card.counted, "putt") + " counted"]
    if card.points is not None:
        texts.append(words.points(card.points))
    texts.append(f"{card.totals[card.side].best_streak} in a row at best")
    restarts = sum(totals.restarts for totals in card.totals)
    if restarts:
        texts.append(words.several(restarts, "restart"))
    return ", ".join(texts)


def _next(card: Scorecard) -> str:
    text = card.what_next
    if card.state == "running":
        return f"Next: {text}"
    return text[0].upper() + text[1:]
