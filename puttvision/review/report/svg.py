"""Charts as inline SVG: scales, ticks, lines and marks, in colours of the page itself.

A chart is 420 units wide whatever the screen, so that on a phone a unit is about a pixel and words stay
legible. Colours are the page's custom properties (see ``puttvision.looks``): they follow light and dark.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from html import escape

from puttvision import looks

WIDTH = 420.0
SMALL, BODY = 12.5, 14.0


def ticks(low: float, high: float, about: int = 5) -> list[float]:
    """Round numbers in a range, about so many of them."""
    if not high > low:
        return [low]
    raw = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * m for m in (1, 2, 5, 10) if power * m >= raw * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [round(k * step, 10) + 0.0 for k in range(first, math.floor(high / step + 1e-9) + 1)]


class Chart:
    """One drawing with a plot area; data in its own units, y upwards."""

    def __init__(
        self,
        label: str,
        x: tuple[float, float],
        y: tuple[float, float],
        height: float = 260.0,
        margin: tuple[float, float, float, float] = (14.0, 14.0, 40.0, 48.0),
    ) -> None:
        """``label``: what a screen reader says; ``margin``: top, right, bottom, left."""
        self.label, self.height = label, height
        self.top, self.right, self.bottom, self.left = margin
        self._x, self._y = x, y
        self.parts: list[str] = []

    def x(self, value: float) -> float:
        """Across the drawing."""
        low, high = self._x
        return self.left + (value - low) / (high - low) * (WIDTH - self.left - self.right)

    def y(self, value: float) -> float:
        """Down the drawing."""
        low, high = self._y
        return (
            self.height - self.bottom - (value - low) / (high - low) * (self.height - self.top - self.bottom)
        )

    @property
    def frame(self) -> tuple[float, float, float, float]:
        """The plot area in the drawing: left, top, right, bottom."""
        return self.left, self.top, WIDTH - self.right, self.height - self.bottom

    # --- in data units -----------------------------------------------------------------------

    def line(
        self,
        points: Iterable[tuple[float, float]],
        colour: str = "ink",
        width: float = 1.5,
        *,
        dash: str = "",
        opacity: float = 1.0,
    ) -> None:
        """A line through points."""
        self.path("M" + "L".join(f"{self.x(a):.1f} {self.y(b):.1f}" for a, b in points), colour, width,
                  dash=dash, opacity=opacity)  # fmt: skip

    def area(self, points: Iterable[tuple[float, float]], colour: str, opacity: float) -> None:
        """A filled outline."""
        d = "M" + "L".join(f"{self.x(a):.1f} {self.y(b):.1f}" for a, b in points) + "Z"
        self.parts.append(f'<path d="{d}" fill="var(--{colour})" fill-opacity="{opacity:g}"/>')

    def mark(self, kind: str, x: float, y: float, size: float = 5.5, *, tip: str = "") -> None:
        """The shape of an outcome; ``tip`` shows where a pointer rests on it."""
        shape = looks.svg_mark(kind, self.x(x), self.y(y), size)
        self.parts.append(f"<g><title>{escape(tip)}</title>{shape}</g>" if tip else shape)

    def words(
        self,
        text: str,
        x: float,
        y: float,
        *,
        dx: float = 0.0,
        dy: float = 0.0,
        anchor: str = "middle",
        colour: str = "soft",
        size: float = SMALL,
        bold: bool = False,
    ) -> None:
        """Words at a place, moved by ``dx``, ``dy`` units of the drawing (down positive)."""
        self.label_at(
            text, self.x(x) + dx, self.y(y) + dy, anchor=anchor, colour=colour, size=size, bold=bold
        )

    # --- in units of the drawing -------------------------------------------------------------

    def path(self, d: str, colour: str, width: float, *, dash: str = "", opacity: float = 1.0) -> None:
        """A stroke along SVG path data."""
        more = f' stroke-dasharray="{dash}"' if dash else ""
        more += f' stroke-opacity="{opacity:g}"' if opacity < 1 else ""
        self.parts.append(
            f'<path d="{d}" fill="none" stroke="var(--{colour})" stroke-width="{width:g}"{more} '
            'stroke-linecap="round" stroke-linejoin="round"/>'
        )

    def label_at(
        self, text: str, x: float, y: float, *, anchor: str = "middle", colour: str = "soft",
        size: float = SMALL, bold: bool = False,
    ) -> None:  # fmt: skip
        """Words at a place of the drawing."""
        weight = ' font-weight="600"' if bold else ""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size:g}"{weight} '
            f'fill="var(--{colour})">{escape(text)}</text>'
        )

    # --- axes ---------------------------------------------------------------------------------

    def grid_y(self, values: Sequence[float], text: Sequence[str]) -> None:
        """Level hairlines with their words at the left."""
        for value, words in zip(values, text, strict=True):
            self.line([(self._x[0], value), (self._x[1], value)], "rule", 1.0)
            self.label_at(words, self.left - 6, self.y(value) + 4, anchor="end")

    def axis_x(self, values: Sequence[float], text: Sequence[str], title: str = "") -> None:
        """Words under the plot."""
        base = self.height - self.bottom
        for value, words in zip(values, text, strict=True):
            self.path(f"M{self.x(value):.1f} {base:.1f}v4", "rule", 1.0)
            self.label_at(words, self.x(value), base + 17)
        if title:
            self.label_at(title, (self.left + WIDTH - self.right) / 2, self.height - 5)

    def svg(self) -> str:
        """The element."""
        return (
            f'<svg viewBox="0 0 {WIDTH:g} {self.height:g}" role="img" aria-label="{escape(self.label)}" '
            f'font-family="inherit">{"".join(self.parts)}</svg>'
        )


def putt_numbers(chart: Chart, numbers: Sequence[int]) -> None:
    """Numbers of putts under a chart whose x counts putts from 1: all of few, every fifth of many."""
    n = len(numbers)
    every = 1 if n <= 14 else 5 if n <= 60 else 10 * math.ceil(n / 120)
    places = [k for k in range(1, n + 1) if k == 1 or k % every == 0]
    chart.axis_x(places, [str(numbers[k - 1]) for k in places], "putt")
