"""Odds as bars in the terminal: a line a number of putts (or points), its chance as a length."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from puttvision.drill.odds import Odds
from puttvision.drill.odds_words import STEPS, putts_to_tell

WIDTH = 40
ROWS = 12


def bars(odds: Odds, within: Sequence[int] = ()) -> list[str]:
    """Lines of text; empty where there is nothing to see (always the same putts, no points)."""
    if odds.is_fixed and odds.points:
        rows = [(f"{total:g}", chance) for total, chance in points_rows(odds)]
        return [*_lines("points", "chance to reach them", rows)]
    if odds.is_fixed or not odds.chance_to_finish:
        return []
    unit = "over" if odds.wins else "finished"
    rows = [(str(n), odds.chance_within(n)) for n in putts_to_tell(odds, within, ROWS)]
    return _lines("putts", f"chance to have {unit}" if unit == "finished" else "chance that it is over", rows)


def points_rows(odds: Odds, most: int = ROWS) -> list[tuple[float, float]]:
    """(points, chance to reach at least these), where it is neither certain nor out of reach."""
    totals = [total for total, _ in odds.points if 0.002 < (odds.chance_of_points(total) or 0.0) < 0.9995]
    if not totals:
        totals = [total for total, _ in odds.points][:1]
    step = next(s / 100 for s in STEPS if s / 100 * most >= totals[-1] - totals[0] and s >= 50)
    first = round(totals[0] / step)
    found = [first * step + i * step for i in range(most + 2) if first * step + i * step <= totals[-1] + 1e-9]
    return [(total, odds.chance_of_points(total) or 0.0) for total in found]


def _lines(left: str, right: str, rows: Sequence[tuple[str, float]]) -> list[str]:
    block = _block()
    wide = max(len(left), *(len(name) for name, _ in rows))
    out = [f"{left:>{wide}}  {right}"]
    for name, chance in rows:
        if chance != chance:  # not known
            continue
        out.append(f"{name:>{wide}}  {block * round(WIDTH * chance)} {100 * chance:.3g} %")
    return out


def _block() -> str:
    """A full block where the terminal can show it."""
    try:
        "█".encode(sys.stdout.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return "#"
    return "█"
