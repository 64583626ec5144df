"""A ladder of a group on one drill, fair to those who play more; head to head.

A result is the points of a drill that gives them, the best streak of one that asks for so many in a row, else
the putts it took to finish (fewer is better). ``best``: the best of each player's last N, so that playing
more often gains nothing beyond N. ``mean``: the mean of all with Student's interval. Players with fewer than
N results stand below, unranked.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from puttvision.coaching.attempts import streak_target
from puttvision.coaching.intervals import Estimate, TooFew, bias
from puttvision.coaching.shown import with_interval
from puttvision.journal.history import CardOf

By = Literal["best", "mean"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One player's place; ``place`` None: too few results to be ranked. Equal results share a place."""

    place: int | None
    player: str
    result: float | None
    mean: Estimate | TooFew
    n: int


def kind_of(cards: Iterable[CardOf]) -> str:
    """What is compared: ``points``, ``best streak`` or ``putts to finish``."""
    cards = list(cards)
    if any(one.card.points is not None for one in cards):
        return "points"
    in_a_row = any(streak_target(one.card.drill, one.card.options.get("target"), 1) for one in cards)
    return "best streak" if in_a_row else "putts to finish"


def result(one: CardOf, kind: str) -> float | None:
    """One card's result; None where it has none (a drill not finished)."""
    if kind == "points":
        return one.card.points
    if kind == "best streak":
        return float(one.card.best_streak)
    return float(one.card.counted) if one.card.state == "finished" else None


def ladder(cards: Sequence[CardOf], players: Sequence[str], *, by: By = "best", last: int = 5) -> list[Place]:
    """Places, best first; ``cards`` of one drill with one set of options, oldest first."""
    kind = kind_of(cards)
    sign = -1.0 if kind == "putts to finish" else 1.0
    rows = []
    for player in players:
        mine = [result(one, kind) for one in cards if one.player == player]
        known = [value for value in mine if value is not None]
        newest = known[-last:]
        value: float | None = None
        if len(known) >= last:
            value = sign * max(sign * v for v in newest) if by == "best" else sum(known) / len(known)
        rows.append((player, value, bias(known), len(known)))
    rows.sort(key=lambda row: (row[1] is None, -sign * (row[1] or 0.0), row[0]))
    out: list[Place] = []
    for i, (player, value, mean, n) in enumerate(rows):
        same = bool(out) and value is not None and out[-1].result == value
        place = None if value is None else out[-1].place if same else i + 1
        out.append(Place(place=place, player=player, result=value, mean=mean, n=n))
    return out


def head_to_head(cards: Sequence[CardOf], one: str, other: str) -> tuple[int, int, int]:
    """Days on which both played: (won by ``one``, won by ``other``, level), each day by the day's best."""
    kind = kind_of(cards)
    sign = -1.0 if kind == "putts to finish" else 1.0
    best: dict[tuple[object, str], float] = {}
    for card in cards:
        value = result(card, kind)
        if value is not None and card.player in (one, other):
            key = (card.day, card.player)
            best[key] = max(best.get(key, sign * value), sign * value)
    days = {day for day, _ in best if (day, one) in best and (day, other) in best}
    won = sum(best[day, one] > best[day, other] for day in days)
    lost = sum(best[day, one] < best[day, other] for day in days)
    return won, lost, len(days) - won - lost


def shown(one: Place, last: int, by: By = "best") -> str:
    """A result as a board shows it: ``17.5``, a mean with its interval, or how many more are needed."""
    if one.result is None:
        return f"{max(last - one.n, 1)} more to play"
    return with_interval(one.mean, 1) if by == "mean" and one.mean else f"{one.result:.3g}"
