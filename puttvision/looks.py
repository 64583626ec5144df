"""The design tokens: type, spacing, palette and shapes of every page, plot, report and clip.

One place for all looks. Pages take :func:`css` (custom properties, light and dark), matplotlib takes
:func:`plot_style`, clips take :func:`bgr`. Colour never speaks alone: every outcome has a shape of its own in
``MARKS``, drawn by :func:`svg_mark` in pages and by ``Mark.plot_marker`` in matplotlib.

Blue and orange stay apart in every common colour blindness; text colours keep a contrast of 4.5 to 1 and
shapes 3 to 1 on their grounds (WCAG 2.1, success criteria 1.4.3 and 1.4.11). ``tests/test_looks.py``
works both out.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, Literal

ThemeName = Literal["light", "dark"]

# --- type and space ---------------------------------------------------------------------------

FONT = "system-ui, -apple-system, 'Segoe UI', Roboto, 'Noto Sans', 'DejaVu Sans', sans-serif"
"""The reader's own type: nothing is loaded."""
PLOT_FONTS = ("DejaVu Sans",)
"""The type that comes with matplotlib; also for clips."""

TYPE_REM = {"small": 0.875, "body": 1.0625, "lead": 1.25, "title": 1.75, "figure": 3.0}
"""Sizes in rem (16 px): ``small`` is the least anywhere, ``figure`` is for the one number of a page."""
SPACE_REM = {"1": 0.25, "2": 0.5, "3": 0.75, "4": 1.0, "5": 1.5, "6": 2.5, "7": 4.0}
RADIUS_REM = 0.5
STROKE_PX = {"hair": 1.0, "line": 2.0, "strong": 3.5}
TOUCH_REM = 2.75
"""Least side of what a finger presses: 44 px (WCAG 2.1, 2.5.5)."""
MEASURE_REM = 42.0
"""Widest column of text."""


# --- palette ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """Colours as ``#rrggbb``, named by what they are for."""

    paper: str
    """The page."""
    card: str
    """What lies on it."""
    ink: str
    """Text and axes."""
    soft: str
    """Text of second rank."""
    rule: str
    """Hairlines and grid."""
    accent: str
    """Links, buttons, focus, the figure that matters."""
    on_accent: str
    """Text on ``accent``."""
    good: str
    """Holed, made, clear through the gate, on line."""
    bad: str
    """Missed, outside the gate."""
    edge: str
    """Between the two: touched a post, on the rim."""
    unsure: str
    """Not seen, a person should look."""
    turf: str
    """The green, seen from above."""
    turf_ink: str
    """Lines on the green."""
    hole: str


LIGHT = Theme(
    paper="#f6f5f0",
    card="#ffffff",
    ink="#1a231f",
    soft="#535f58",
    rule="#d3d8d1",
    accent="#0b5a9d",
    on_accent="#ffffff",
    good="#0b5a9d",
    bad="#b34500",
    edge="#7d6200",
    unsure="#5f6661",
    turf="#e2ebdc",
    turf_ink="#5d7160",
    hole="#1a231f",
)
DARK = Theme(
    paper="#111614",
    card="#1a211e",
    ink="#eef1ec",
    soft="#a8b3ab",
    rule="#38433d",
    accent="#7abdf7",
    on_accent="#0c1a26",
    good="#7abdf7",
    bad="#f79a52",
    edge="#e3c25c",
    unsure="#b4bab4",
    turf="#223026",
    turf_ink="#8fa694",
    hole="#050706",
)
FILM = Theme(
    paper="#0d1210",
    card="#0d1210",
    ink="#ffffff",
    soft="#d5dcd6",
    rule="#8a948d",
    accent="#ffffff",
    on_accent="#0d1210",
    good="#8fcbff",
    bad="#ffa65c",
    edge="#ffe08a",
    unsure="#dfe4df",
    turf="#3d6b45",
    turf_ink="#ffffff",
    hole="#0d1210",
)
"""On film: bright lines with a dark edge, over grass in sun or shade."""

THEMES: dict[ThemeName, Theme] = {"light": LIGHT, "dark": DARK}

SPEED_RAMP = ("#3b2a68", "#35598c", "#2e8a8f", "#6db96a", "#f2e35c")
"""Slow to fast, brightness rising all the way: reads without colour too."""


# --- shapes -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Mark:
    """The shape and colour of one kind of putt."""

    word: str
    colour: str
    """Name of a colour of ``Theme``."""
    svg: str
    """Path in a box from -1 to 1."""
    filled: bool
    plot_marker: str
    """The same in matplotlib."""
    glyph: str
    """The same in text."""


_RING = "M-.9 0a.9 .9 0 1 0 1.8 0a.9 .9 0 1 0 -1.8 0"
MARKS: dict[str, Mark] = {
    "holed": Mark("holed", "good", _RING, True, "o", "●"),
    "missed": Mark("missed", "bad", "M-.8 -.8L.8 .8M.8 -.8L-.8 .8", False, "x", "✕"),
    "unseen": Mark("not seen", "unsure", "M0 -1L1 0L0 1L-1 0Z", False, "D", "◇"),
    "clear": Mark("clear", "good", _RING, True, "o", "●"),
    "touched": Mark("touched a post", "edge", "M0 -.95L.95 .75L-.95 .75Z", True, "^", "▲"),
    "outside": Mark("outside", "bad", "M-.8 -.8L.8 .8M.8 -.8L-.8 .8", False, "x", "✕"),
    "none": Mark("no gate", "unsure", "M-.8 0L.8 0", False, "_", "–"),
}
"""By outcome and gate result, as putts.json writes them."""


def svg_mark(kind: str, x: float, y: float, size: float = 6.0) -> str:
    """An SVG element of the mark of ``kind`` (see ``MARKS``) at a place; ``size`` is its half width.

    Its colour is the page's own custom property, so it follows light and dark.
    """
    mark = MARKS[kind]
    fill = f"var(--{mark.colour})" if mark.filled else "none"
    return (
        f'<path d="{mark.svg}" transform="translate({x:.2f} {y:.2f}) scale({size:g})" fill="{fill}" '
        f'stroke="var(--{mark.colour})" stroke-width="2" vector-effect="non-scaling-stroke" '
        f'stroke-linecap="round" stroke-linejoin="round"/>'
    )


# --- for each medium --------------------------------------------------------------------------


def rgb(colour: str) -> tuple[int, int, int]:
    """``#rrggbb`` to 0-255 each."""
    if len(colour) != 7 or colour[0] != "#":
        raise ValueError(f"a colour is #rrggbb, got {colour}")
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def bgr(colour: str) -> tuple[int, int, int]:
    """``#rrggbb`` in OpenCV's order."""
    r, g, b = rgb(colour)
    return b, g, r


def yuv(colour: str, *, full_range: bool = False) -> tuple[int, int, int]:
    """``#rrggbb`` as Y, Cb, Cr of HD video (ITU-R BT.709, 3.2 to 3.4), 8 bit."""
    r, g, b = (value / 255 for value in rgb(colour))
    y = 0.2126 * r + 0.7152 * g + 0.0722 * b
    cb, cr = (b - y) / 1.8556, (r - y) / 1.5748
    low, scale, chroma = (0, 255, 255) if full_range else (16, 219, 224)
    found = (low + scale * y, 128 + chroma * cb, 128 + chroma * cr)
    y8, cb8, cr8 = (min(255, round(value)) for value in found)
    return y8, cb8, cr8


def speed_colour(share: float) -> str:
    """Colour of ``SPEED_RAMP`` for a share of the fastest, 0 to 1."""
    at = min(max(share, 0.0), 1.0) * (len(SPEED_RAMP) - 1)
    k = min(int(at), len(SPEED_RAMP) - 2)
    low, high = rgb(SPEED_RAMP[k]), rgb(SPEED_RAMP[k + 1])
    mixed = [round(a + (at - k) * (b - a)) for a, b in zip(low, high, strict=True)]
    return "#{:02x}{:02x}{:02x}".format(*mixed)


def _colours(theme: Theme) -> str:
    return "".join(f"--{f.name.replace('_', '-')}:{getattr(theme, f.name)};" for f in fields(theme))


def css() -> str:
    """Custom properties for a page: ``--paper``, ``--ink``, ``--good``, ``--space-4``, ``--type-lead``...

    Dark where the reader's system is dark; ``<html data-theme="dark">`` or ``"light"`` settles it. Print
    is always light.
    """
    sizes = "".join(f"--type-{name}:{value}rem;" for name, value in TYPE_REM.items())
    sizes += "".join(f"--space-{name}:{value}rem;" for name, value in SPACE_REM.items())
    sizes += "".join(f"--stroke-{name}:{value}px;" for name, value in STROKE_PX.items())
    sizes += f"--radius:{RADIUS_REM}rem;--touch:{TOUCH_REM}rem;--measure:{MEASURE_REM}rem;--font:{FONT};"
    sizes += "".join(f"--speed-{i}:{colour};" for i, colour in enumerate(SPEED_RAMP))
    light, dark = _colours(LIGHT), _colours(DARK)
    return (
        f":root{{color-scheme:light;{sizes}{light}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root:not([data-theme=light])"
        f"{{color-scheme:dark;{dark}}}}}\n"
        f"@media screen{{:root[data-theme=dark]{{color-scheme:dark;{dark}}}}}\n"
    )


def plot_style(theme: ThemeName = "light") -> dict[str, Any]:
    """Settings for ``matplotlib.rc_context``."""
    t = THEMES[theme]
    return {
        "font.family": list(PLOT_FONTS), "font.size": 11.0, "axes.titlesize": 13.0,
        "figure.facecolor": t.paper, "savefig.facecolor": t.paper, "axes.facecolor": t.card,
        "text.color": t.ink, "axes.labelcolor": t.ink, "axes.edgecolor": t.soft,
        "xtick.color": t.ink, "ytick.color": t.ink, "grid.color": t.rule, "grid.linewidth": 1.0,
        "axes.grid": True, "axes.axisbelow": True, "axes.spines.top": False, "axes.spines.right": False,
        "lines.linewidth": STROKE_PX["line"], "lines.markersize": 7.0, "legend.frameon": False,
        "axes.titlelocation": "left", "figure.dpi": 110.0, "savefig.dpi": 160.0, "svg.fonttype": "none",
    }  # fmt: skip
