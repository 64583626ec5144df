"""The picture of a drill's odds: putts (or points) against the chance; made to be read in black and white."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib
from matplotlib.figure import Figure

from puttvision.cli.odds_bars import points_rows
from puttvision.drill.odds import Odds
from puttvision.drill.odds_words import BEYOND_PATIENCE, player_words, putts_to_tell, sentences
from puttvision.errors import PuttvisionError
from puttvision.files import replacing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE_IN = (8.0, 5.0)
DPI = 150
GREY = "0.45"
LOOK: Any = {
    "font.family": "sans-serif", "font.size": 11, "svg.fonttype": "none", "svg.hashsalt": "puttvision",
    "axes.spines.top": False, "axes.spines.right": False,
}  # fmt: skip


def write_plot(odds: Odds, path: Path, within: Sequence[int] = (), minutes: float | None = None) -> None:
    """Write ``path`` (.svg or .png); an existing file is never overwritten. Raises PuttvisionError."""
    kind = path.suffix.lower().removeprefix(".")
    if kind not in ("svg", "png"):
        raise PuttvisionError(f"{path}: a picture FILE.svg or FILE.png was due")
    if path.exists():
        raise PuttvisionError(f"{path} is there already: give another name, nothing was overwritten")
    with matplotlib.rc_context(LOOK):
        figure = draw(odds, within, minutes)
        with replacing(path) as temporary:
            # no date: the same odds give the same file
            figure.savefig(
                temporary, format=kind, dpi=DPI, metadata={"Date": None} if kind == "svg" else None
            )


def draw(odds: Odds, within: Sequence[int] = (), minutes: float | None = None) -> Figure:
    """The figure; `LOOK` is in force where it is called."""
    figure = Figure(figsize=SIZE_IN, layout="constrained")
    axes = figure.add_subplot()
    if odds.is_fixed and odds.points:
        _points(axes, odds)
    else:
        asked = list(within)
        if minutes is not None and odds.seconds_per_putt is not None:
            asked.append(odds.putts_in(minutes))
        _putts(axes, odds, sorted(set(asked)))
    axes.set_ylim(0, 1.02)
    axes.set_yticks(
        [tenth / 10 for tenth in range(0, 11, 2)], [f"{10 * tenth} %" for tenth in range(0, 11, 2)]
    )
    axes.grid(axis="y", color="0.85", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.set_title("\n".join(textwrap.wrap(sentences(odds)[0], 84)), loc="left", fontsize=11)
    return figure


def _putts(axes: Axes, odds: Odds, asked: list[int]) -> None:
    told = [n for n in putts_to_tell(odds, asked) if n <= BEYOND_PATIENCE]
    last = told[-1]
    grid = sorted({*range(0, last + 1, max(1, last // 400)), *told})
    chances = [odds.chance_within(n) for n in grid]
    axes.plot(grid, chances, color="black", linewidth=2, drawstyle="steps-post" if last < 60 else "default")
    if odds.n_runs:
        errors = [2 * (odds.u_chance(chance) or 0.0) for chance in chances]
        low = [chance - e for chance, e in zip(chances, errors, strict=True)]
        high = [chance + e for chance, e in zip(chances, errors, strict=True)]
        axes.fill_between(grid, low, high, color="0.8", linewidth=0, label="two standard errors")
        axes.legend(frameon=False, loc="lower right")
    half = odds.putts_for(0.5)
    if half is not None and half <= last:
        axes.plot([0, half, half], [0.5, 0.5, 0], color=GREY, linewidth=1, linestyle=(0, (4, 3)))
        _mark(axes, half, odds.chance_within(half), f"half within {half} putts", "o")
    for n in asked:
        if n <= last and n != half:
            chance = odds.chance_within(n)
            _mark(axes, n, chance, f"{n} putts: {100 * chance:.3g} %", "s")
    axes.set_xlim(0, last)
    axes.set_xlabel("putts")
    axes.set_ylabel("chance that it is over" if odds.wins else "chance of having finished")
    if odds.seconds_per_putt:
        top = axes.secondary_xaxis("top", functions=_scales(odds.seconds_per_putt / 60))
        top.set_xlabel(f"minutes, at {odds.seconds_per_putt:g} s a putt")
        top.spines["top"].set_visible(True)


def _scales(factor: float) -> Any:
    return (lambda n: n * factor), (lambda t: t / factor)


def _mark(axes: Axes, x: float, y: float, text: str, shape: str) -> None:
    axes.plot([x], [y], shape, markersize=8, markerfacecolor="white", markeredgecolor="black")
    late = x > 0.6 * axes.dataLim.x1
    axes.annotate(
        text, (x, y), xytext=(-10 if late else 10, 8 if late else -14), textcoords="offset points",
        ha="right" if late else "left",
    )  # fmt: skip


def _points(axes: Axes, odds: Odds) -> None:
    rows = points_rows(odds, most=40)
    step = rows[1][0] - rows[0][0] if len(rows) > 1 else 1.0
    axes.bar(
        [total for total, _ in rows], [chance for _, chance in rows], width=0.8 * step,
        color="0.82", edgecolor="black", linewidth=0.8,
    )  # fmt: skip
    third = odds.points_reached(1 / 3)
    chance = odds.chance_of_points(third) if third is not None else None
    if third is not None and chance is not None:
        _mark(axes, third, chance, f"{third:g} or more: {100 * chance:.3g} %", "o")
    axes.set_xlabel("points")
    axes.set_ylabel("chance of reaching them")


def caption(odds: Odds) -> str:
    """One line under a picture in a report."""
    return f"{odds.rules.title}. {player_words(odds.rules, odds.player)}."
