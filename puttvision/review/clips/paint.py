"""Antialiased painting with the coverage of each pixel worked out, kept as the touched pixels alone.

Pixels: (x, y) from the centre of the top left pixel. What is painted is a :class:`Paint`: places, opacity
and colour times opacity. Paints lie over one another by :func:`over`. A stroke's coverage comes from
the distance to a curve that is sampled four times a pixel, so its middle lies where the curve does to a few
hundredths of a pixel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from puttvision import looks

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Size = tuple[int, int]
"""Width and height."""

_PER_PX = 4
_SHIFT = 4
ALWAYS = -np.inf


@dataclass(frozen=True, slots=True)
class Paint:
    """Touched pixels, each once."""

    x: Ints
    y: Ints
    alpha: Floats
    """Shape (n,), 0 to 1."""
    rgb: Floats
    """Shape (n, 3), 0 to 1, times ``alpha``."""
    shows_s: Floats
    """Shape (n,): from when on each pixel is to be seen; ``ALWAYS`` for one that always is."""

    @property
    def n(self) -> int:
        return len(self.x)


def nothing() -> Paint:
    """No pixel at all."""
    no = np.zeros(0)
    return Paint(no.astype(np.int64), no.astype(np.int64), no, np.zeros((0, 3)), no)


def over(size: Size, *paints: Paint) -> Paint:
    """Paints as one, the first at the bottom."""
    width = size[0]
    paints = tuple(paint for paint in paints if paint.n)
    if not paints:
        return nothing()
    touched = np.zeros(width * size[1], bool)
    for paint in paints:
        touched[paint.y * width + paint.x] = True
    keys = np.flatnonzero(touched)
    alpha, rgb = np.zeros(len(keys)), np.zeros((len(keys), 3))
    shows = np.full(len(keys), np.inf)
    for paint in paints:
        at = np.searchsorted(keys, paint.y * width + paint.x)
        alpha[at] = paint.alpha + alpha[at] * (1 - paint.alpha)
        rgb[at] = paint.rgb + rgb[at] * (1 - paint.alpha[:, None])
        shows[at] = np.minimum(shows[at], paint.shows_s)
    return Paint(keys % width, keys // width, alpha, rgb, shows)


def _share(colour: str) -> Floats:
    return np.array(looks.rgb(colour)) / 255


def _even(x: Ints, y: Ints, alpha: Floats, colour: str, opacity: float) -> Paint:
    keep = alpha > 1 / 512
    a = alpha[keep] * opacity
    return Paint(x[keep], y[keep], a, a[:, None] * _share(colour), np.full(len(a), ALWAYS))


# --- strokes ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Near:
    """Pixels near a curve."""

    x: Ints
    y: Ints
    distance: Floats
    sample: Ints
    """Index of the nearest sample."""


def _samples(points: Floats) -> tuple[Floats, Floats]:
    """Places four a pixel along a polyline, and the (broken) index of each in it."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    n = max(2, int(np.ceil(along[-1] * _PER_PX)) + 1)
    index = np.interp(np.linspace(0, along[-1], n), along, np.arange(len(points), dtype=float))
    whole = np.arange(len(points))
    return np.column_stack([np.interp(index, whole, points[:, i]) for i in (0, 1)]), index


def _near(places: Floats, reach: float, size: Size) -> _Near:
    width, height = size
    inside = ((places > -reach - 2) & (places < np.array([width, height]) + reach + 2)).all(axis=1)
    if not inside.any():
        no = np.zeros(0, np.int64)
        return _Near(no, no, np.zeros(0), no)
    low = np.maximum(np.floor(places[inside].min(axis=0) - reach - 2).astype(int), 0)
    high = np.minimum(np.ceil(places[inside].max(axis=0) + reach + 3).astype(int), (width, height))
    mask = np.zeros((max(high[1] - low[1], 1), max(high[0] - low[0], 1)), np.uint8)
    for px in np.unique(np.round(places[inside] - low).astype(int), axis=0):
        cv2.circle(mask, (int(px[0]), int(px[1])), int(np.ceil(reach + 1.5)), 1, -1)
    y, x = np.nonzero(mask)
    y, x = y + low[1], x + low[0]
    kept = (x < width) & (y < height)
    y, x = y[kept], x[kept]
    distance, sample = cKDTree(places).query(np.column_stack([x, y]).astype(float))
    return _Near(x, y, np.asarray(distance), np.asarray(sample))


def _coverage(distance: Floats, half_width: float) -> Floats:
    return np.clip(half_width + 0.5 - distance, 0.0, 1.0)


def stroke(
    size: Size,
    points_px: ArrayLike,
    colour: str,
    width_px: float,
    *,
    opacity: float = 1.0,
    dash_px: tuple[float, float] | None = None,
    edge_px: float = 0.0,
) -> Paint:
    """A line through points, (n, 2), with round ends; ``edge_px`` of dark around it keeps it legible on
    anything; ``dash_px``: drawn and left out in turn."""
    places, _ = _samples(np.asarray(points_px, dtype=float))
    if dash_px:
        at = np.arange(len(places)) / _PER_PX % sum(dash_px)
        places = places[at <= dash_px[0]]
    near = _near(places, width_px / 2 + edge_px, size)
    core = _even(near.x, near.y, _coverage(near.distance, width_px / 2), colour, opacity)
    if not edge_px:
        return core
    dark = _coverage(near.distance, width_px / 2 + edge_px)
    return over(size, _even(near.x, near.y, dark, looks.FILM.paper, 0.55 * opacity), core)


def ribbon(
    size: Size, points_px: Floats, colours: Sequence[str], shows_s: Floats, width_px: float, edge_px: float
) -> Paint:
    """A line whose colour runs along it and which grows with time: one colour and time a point."""
    places, index = _samples(points_px)
    near = _near(places, width_px / 2 + edge_px, size)
    if not len(near.x):
        return nothing()
    at = index[near.sample]
    whole = np.arange(len(points_px), dtype=float)
    table = np.array([looks.rgb(colour) for colour in colours]) / 255
    rgb = np.column_stack([np.interp(at, whole, table[:, i]) for i in range(3)])
    core = _coverage(near.distance, width_px / 2)
    dark = _coverage(near.distance, width_px / 2 + edge_px) * 0.6
    alpha = core + dark * (1 - core)
    out = rgb * core[:, None] + _share(looks.FILM.paper) * (dark * (1 - core))[:, None]
    keep = alpha > 1 / 512
    return Paint(near.x[keep], near.y[keep], alpha[keep], out[keep], np.interp(at, whole, shows_s)[keep])


# --- areas ------------------------------------------------------------------------------------


def area(size: Size, outline_px: ArrayLike, colour: str, opacity: float) -> Paint:
    """A filled outline, (n, 2)."""
    width, height = size
    outline = np.clip(np.asarray(outline_px, dtype=float), -4000, 8000)
    low = np.clip(np.floor(outline.min(axis=0)).astype(int) - 1, 0, (width, height))
    high = np.clip(np.ceil(outline.max(axis=0)).astype(int) + 2, 0, (width, height))
    if (high <= low).any():
        return nothing()
    mask = np.zeros((high[1] - low[1], high[0] - low[0]), np.uint8)
    fixed = np.round((outline - low) * (1 << _SHIFT)).astype(np.int32)
    cv2.fillPoly(mask, [fixed], 255, cv2.LINE_AA, _SHIFT)
    y, x = np.nonzero(mask)
    return _even(x + low[0], y + low[1], mask[y, x] / 255, colour, opacity)


def box(
    size: Size, x: float, y: float, w: float, h: float, radius: float, colour: str, opacity: float
) -> Paint:
    """A rectangle with round corners."""
    turn = np.linspace(0, np.pi / 2, 12)
    corners = ((x + w, y + h, 0), (x, y + h, 1), (x, y, 2), (x + w, y, 3))
    outline = []
    for cx, cy, k in corners:
        mx, my = cx + (-radius if k in (0, 3) else radius), cy + (-radius if k in (0, 1) else radius)
        outline += [(mx + radius * np.cos(a), my + radius * np.sin(a)) for a in turn + k * np.pi / 2]
    return area(size, outline, colour, opacity)


# --- words ------------------------------------------------------------------------------------


@cache
def _font(height_px: int, bold: bool) -> object:
    import matplotlib
    from PIL import ImageFont

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name), height_px)


@cache
def _glyphs(text: str, height_px: int, bold: bool) -> tuple[NDArray[np.uint8], int]:
    """Coverage of a line of text and how far its top lies under the line's top."""
    from PIL import Image, ImageDraw

    font = _font(height_px, bold)
    width = int(np.ceil(text_width(text, height_px, bold))) + 4
    image = Image.new("L", (max(width, 1), round(1.35 * height_px)), 0)
    ImageDraw.Draw(image).text((1, 0), text, fill=255, font=font)  # type: ignore[arg-type]
    return np.asarray(image, dtype=np.uint8), 0


@cache
def text_width(text: str, height_px: int, bold: bool = False) -> float:
    """Pixels a line of text takes."""
    return float(_font(height_px, bold).getlength(text))  # type: ignore[attr-defined]


def text(
    size: Size, words: str, x: float, y: float, height_px: int, colour: str, *, bold: bool = False
) -> Paint:
    """A line of text with its top left at a place; ``height_px`` is the type's size."""
    width, height = size
    mask, _ = _glyphs(words, height_px, bold)
    rows, columns = np.nonzero(mask)
    xs, ys = columns + round(x), rows + round(y)
    keep = (xs >= 0) & (ys >= 0) & (xs < width) & (ys < height)
    return _even(xs[keep], ys[keep], mask[rows, columns][keep] / 255, colour, 1.0)
