"""The progress page: one self-contained HTML file, plots as SVG; readable on a phone, in print, in grey."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from puttvision import looks
from puttvision.coaching.attempts import Attempt, by
from puttvision.coaching.intervals import Estimate
from puttvision.coaching.progress import Course, course_lines
from puttvision.coaching.summary import share
from puttvision.drill.make_tables import BERRY, BROADIE

Draw = Callable[[Any, looks.Theme], None]
"""Draws into matplotlib axes with a theme's colours."""

NINETY_SHOOTER = ((3, 84), (4, 65), (5, 50), (6, 39), (8, 27), (10, 20), (15, 11), (20, 6))
"""(feet, per cent holed) of a player who scores about 90: Broadie 2014, Every Shot Counts, as restated in
two texts; good to 3 points."""

_UNITS = {"%": "%", "°": "degrees", "cm": "cm"}
"""What a unit is called beside an axis, where a sign alone is easily overlooked."""

_CSS = """
body{margin:0;background:var(--paper);color:var(--ink);font:var(--type-body)/1.5 var(--font)}
main{max-width:var(--measure);margin:auto;padding:var(--space-4)}
h1{font-size:var(--type-title)} h2{font-size:var(--type-lead);margin-top:var(--space-6)}
figure{margin:var(--space-4) 0} figure svg{width:100%;height:auto}
ul{list-style:none;padding:0} li.more{padding-left:1.2em;color:var(--soft)}
figcaption{font-size:var(--type-small);color:var(--soft)}
.dark{display:none}
@media screen and (prefers-color-scheme:dark){.dark{display:block}.light{display:none}}
@page{margin:14mm}
@media print{
body{background:#fff;font-size:10pt} main{max-width:none;padding:0}
h1{font-size:18pt} h2{font-size:12pt;margin-top:6mm;break-after:avoid}
section,figure,li{break-inside:avoid}
figure{margin:3mm 0} figure svg{max-height:70mm} figcaption{font-size:8pt}
}
"""


def progress_page(
    player: str,
    says: str,
    attempts: Sequence[Attempt],
    courses: Sequence[Course],
    result: Sequence[str],
    mixed: Sequence[str],
    text: Sequence[str],
) -> str:
    """The page as HTML; nothing is loaded from outside.

    ``says``: how many putts of what; ``result``: the drill's own result in lines, and ``mixed``, what to bear
    in mind of the figures, stand above them; ``text``: lines that stand below.
    """
    first, last = attempts[0].day, attempts[-1].day
    parts = [_section("The drill's result", result)] if result else []
    for course in courses:
        plot = partial(_plot_course, course=course) if len(course.points) > 1 else None
        caption = f"Each session with its 95 % interval, in {_UNITS[course.measure.unit]}."
        figure = _figure(plot, caption) if plot else ""
        parts.append(_section(course.measure.name, course_lines(course), figure))
    parts.append(
        _section(
            "holed by distance",
            (),
            _figure(
                partial(_plot_makes, attempts=attempts),
                "With 95 % intervals (Wilson's). Reference lines: tour putts of 2016-2018 (Broadie 2018) and "
                "professionals of the 1990s (Berry 1995), both as given by Gelman 2019; a player who scores "
                "about 90 (Broadie 2014, restated). They are there to compare with, no norm for a pupil.",
            ),
        )
    )
    parts.append(_section("Why putts missed, and streaks", text))
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>Progress of {html.escape(player)}</title><style>{looks.css()}{_CSS}</style><main>"
        f"<h1>{html.escape(player)}</h1><p>{html.escape(says)}, {first} to {last}</p>"
        f"{''.join(f'<p>{_text(line)}</p>' for line in mixed)}{''.join(parts)}</main></html>\n"
    )


def _section(title: str, lines: Sequence[str], figure: str = "") -> str:
    """A heading, its sentences, of which those set in stand back, and a figure."""
    items = "".join(
        f"<li{' class=more' if line.startswith(' ') else ''}>{_text(line.strip())}</li>" for line in lines
    )
    told = f"<ul>{items}</ul>" if items else ""
    return f"<section><h2>{_text(title)}</h2>{told}{figure}</section>"


def _text(line: str) -> str:
    """A line as a sentence; a command stands between backquotes."""
    return re.sub("`([^`]+)`", r"<code>\1</code>", html.escape(line[:1].upper() + line[1:], quote=False))


def _figure(draw: Draw, caption: str) -> str:
    """A plot for light and for dark surroundings, of which one shows."""
    both = "".join(f'<div class="{theme}">{_svg(draw, theme)}</div>' for theme in ("light", "dark"))
    return f"<figure>{both}<figcaption>{caption}</figcaption></figure>"


def _svg(draw: Draw, theme: str) -> str:
    import matplotlib
    from matplotlib.figure import Figure

    name: looks.ThemeName = "dark" if theme == "dark" else "light"
    style: Any = {**looks.plot_style(name), "svg.hashsalt": "puttvision", "savefig.facecolor": "none"}
    with matplotlib.rc_context(style):
        figure = Figure(figsize=(5.2, 3.1), layout="constrained")
        draw(figure.add_subplot(), looks.THEMES[name])
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None})
    text = out.getvalue()
    return text[text.index("<svg") :]


def _plot_course(axes: Any, colours: looks.Theme, course: Course) -> None:
    days = [point.day for point in course.points]
    values = [point.value.value for point in course.points]
    below = [max(point.value.value - point.value.low, 0.0) for point in course.points]
    above = [max(point.value.high - point.value.value, 0.0) for point in course.points]
    axes.errorbar(days, values, yerr=[below, above], fmt="o", color=colours.soft, elinewidth=1, markersize=4)
    axes.plot(days[-1:], values[-1:], "D", color=colours.accent, markersize=9, label="newest", zorder=3,
              clip_on=False)  # fmt: skip
    trend = course.a_week
    if isinstance(trend, Estimate) and course.has_trend:
        weeks = [(day - days[0]).days / 7 for day in days]
        weight = [point.value.n for point in course.points]
        total = sum(weight)
        x = sum(w * v for w, v in zip(weight, weeks, strict=True)) / total
        y = sum(w * v for w, v in zip(weight, values, strict=True)) / total
        ends = (weeks[0], weeks[-1])
        axes.plot((days[0], days[-1]), [y + trend.value * (w - x) for w in ends], "-", color=colours.ink,
                  label="trend")  # fmt: skip
    if course.measure.kind == "mean":
        axes.axhline(0, color=colours.ink, linewidth=1)
    sign = f", {course.measure.sign}" if course.measure.sign else ""
    axes.set_ylabel(f"{_UNITS[course.measure.unit]}{sign}")
    _legend(axes)
    axes.figure.autofmt_xdate(rotation=30)


def _plot_makes(axes: Any, colours: looks.Theme, attempts: Sequence[Attempt]) -> None:
    for table, style, label in ((BROADIE, "-", "tour, 2016-2018"), (BERRY, "--", "professionals, 1990s")):
        rows = [row for row in table if 1.5 <= row.distance_ft <= 30]
        axes.plot([row.distance_ft for row in rows], [100 * row.holed / row.tries for row in rows], style,
                  color=colours.soft, label=label)  # fmt: skip
    axes.plot(*zip(*NINETY_SHOOTER, strict=True), ":", color=colours.soft, label="scores about 90")
    for number, (name, mine) in enumerate(by("distance", attempts).items()):
        made = share(one.holed for one in mine)
        if made:
            error = [[100 * (made.value - made.low)], [100 * (made.high - made.value)]]
            axes.errorbar([float(name.split()[0])], [100 * made.value], yerr=error, fmt="D",
                          color=colours.accent, label="this player" if number == 0 else None, zorder=3,
                          clip_on=False)  # fmt: skip
    axes.set_xlabel("distance, ft")
    axes.set_ylabel("holed, %")
    axes.set_ylim(0, 100)
    _legend(axes)


def _legend(axes: Any) -> None:
    """Above the plot, where it hides no session."""
    axes.legend(loc="lower left", bbox_to_anchor=(0, 1), ncols=2, fontsize=11, frameon=False, borderpad=0)
