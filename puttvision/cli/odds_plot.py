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
from puttvision.drill.odds_words import BEYOND_PATIENCE, putts_to_tell, sentences, share
from puttvision.errors import PuttvisionError
from puttvision.files import replacing
from puttvision.looks import LIGHT, plot_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE_IN = (8.0, 5.0)
LOOK: Any = plot_style("light") | {"svg.hashsalt": "puttvision", "axes.grid": False}
WRAP = 92
"""Letters in a line of the title."""


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
            figure.savefig(temporary, format=kind, metadata={"Date": None} if kind == "svg" else None)


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
    axes.set_ylim(0, 1.04)
    axes.set_yticks([tenth / 10 for tenth in range(0, 11, 2)], [f"{10 * t} %" for t in range(0, 11, 2)])
    axes.grid(axis="y")
    says = sentences(odds)
    head = " ".join(says if odds.is_fixed else says[:1])
    axes.set_title("\n".join(textwrap.wrap(head, WRAP, break_on_hyphens=False)), fontsize=10.5)
    return figure


def _putts(axes: Axes, odds: Odds, asked: list[int]) -> None:
    told = [n for n in putts_to_tell(odds, asked) if n <= BEYOND_PATIENCE]
    last = told[-1]
    step = max(1, last // 400)
    grid = sorted({*range(0, last + 1, step), *told})
    chances = [odds.chance_within(n) for n in grid]
    style = "steps-post" if step == 1 else "default"
    if odds.n_runs:
        errors = [2 * (odds.u_chance(chance) or 0.0) for chance in chances]
        low = [max(chance - e, 0.0) for chance, e in zip(chances, errors, strict=True)]
        high = [min(chance + e, 1.0) for chance, e in zip(chances, errors, strict=True)]
        axes.fill_between(grid, low, high, color=LIGHT.rule, linewidth=0, label="two standard errors")
        axes.legend(loc="lower right")
    axes.plot(grid, chances, color=LIGHT.ink, drawstyle=style)
    half = odds.putts_for(0.5)
    if half is not None and half <= last:
        axes.plot([0, half, half], [0.5, 0.5, 0], color=LIGHT.soft, linewidth=1, linestyle=(0, (4, 3)))
        _mark(axes, half, odds.chance_within(half), last, f"half within {half} putts", "o")
    for n in asked:
        if n <= last and n != half:
            chance = odds.chance_within(n)
            _mark(axes, n, chance, last, f"{n} putts: {share(chance)}", "s")
    axes.set_xlim(0, last)
    axes.set_xlabel("putts")
    axes.set_ylabel("chance that it is over" if odds.wins else "chance of having finished")
    if odds.seconds_per_putt:
        top = axes.secondary_xaxis("top", functions=_scales(odds.seconds_per_putt / 60))
        top.set_xlabel(f"minutes, at {odds.seconds_per_putt:g} s a putt")
        top.spines["top"].set_visible(True)


def _scales(factor: float) -> Any:
    return (lambda n: n * factor), (lambda t: t / factor)


def _mark(axes: Axes, x: float, y: float, last: float, text: str, shape: str) -> None:
    """A point with its words, below a curve that rises."""
    axes.plot(
        [x], [y], shape, markersize=8, markerfacecolor=LIGHT.card, markeredgecolor=LIGHT.accent,
        markeredgewidth=2, zorder=4, clip_on=False,
    )  # fmt: skip
    late = x > 0.6 * last
    axes.annotate(
        text, (x, y), xytext=(4 if late else 11, -24 if late else -13), textcoords="offset points",
        ha="center" if late else "left", zorder=5,
        bbox={"facecolor": LIGHT.card, "edgecolor": "none", "pad": 1.5, "alpha": 0.9},
    )  # fmt: skip


def _points(axes: Axes, odds: Odds) -> None:
    rows = points_rows(odds, most=40)
    step = rows[1][0] - rows[0][0] if len(rows) > 1 else 1.0
    good = odds.points_reached(1 / 3)
    for total, chance in rows:
        is_good = good is not None and abs(total - good) < step / 2
        axes.bar(
            total, chance, width=0.8 * step, color=LIGHT.accent if is_good else LIGHT.rule,
            edgecolor=LIGHT.ink, linewidth=0.8, hatch="///" if is_good else None,
        )  # fmt: skip
    height = odds.chance_of_points(good) if good is not None else None
    if good is not None and height is not None:
        axes.annotate(
            f"{good:g} or more: {share(height)}", (good, height), xytext=(2, 6), textcoords="offset points",
        )  # fmt: skip
    axes.set_xlabel("points")
    axes.set_ylabel("chance of reaching them")
