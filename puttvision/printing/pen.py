"""Drawing on a PDF page in millimetres, y down from the paper's top left corner.

The files are the same byte for byte for the same input: no dates, no compression (whose output
differs between zlib builds), standard fonts only, none embedded.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from io import BytesIO

import numpy as np
from numpy.typing import ArrayLike, NDArray
from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_CENTER, TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import FILL_EVEN_ODD, Canvas
from reportlab.platypus import Paragraph

from puttvision.printing.paper import Paper

POINTS_PER_MM = 72 / 25.4
INK = "#16201B"
GREY = "#5B655F"
LEADING = 1.28
"""Line distance over type size."""
_ALIGN = {"left": TA_LEFT, "centre": TA_CENTER, "right": TA_RIGHT}


class Pen:
    """Holds one PDF in the making; ``finish`` gives its bytes."""

    def __init__(self, paper: Paper, title: str) -> None:
        self.paper = paper
        self._buffer = BytesIO()
        size = (paper.width_mm * POINTS_PER_MM, paper.height_mm * POINTS_PER_MM)
        self._canvas = Canvas(self._buffer, pagesize=size, invariant=1, pageCompression=0, lang="en")
        self._canvas.setTitle(title)
        self._canvas.setAuthor("puttvision")
        self._canvas.setCreator("puttvision")
        self._canvas.setViewerPreference("PrintScaling", "None")  # the print dialogue starts at 100 %

    def next_page(self) -> None:
        """End this page and begin another."""
        self._canvas.showPage()

    def finish(self) -> bytes:
        """End the last page and return the whole PDF."""
        self._canvas.showPage()
        self._canvas.save()
        return self._buffer.getvalue()

    def _points(self, xy_mm: ArrayLike) -> NDArray[np.float64]:
        xy = np.asarray(xy_mm, dtype=float).reshape(-1, 2)
        return np.column_stack([xy[:, 0], self.paper.height_mm - xy[:, 1]]) * POINTS_PER_MM

    def shapes(
        self,
        outlines_mm: Iterable[ArrayLike],
        *,
        fill: str | None = None,
        stroke: str | None = None,
        width_mm: float = 0.25,
        dash_mm: Sequence[float] = (),
        closed: bool = True,
    ) -> None:
        """Draw outlines, each of shape (n, 2), as one path; where they overlap, even-odd decides.

        One path leaves no hairline where two shapes touch, as neighbouring fills would.
        """
        canvas = self._canvas
        canvas.saveState()
        path = canvas.beginPath()
        for outline in outlines_mm:
            first, *rest = self._points(outline)
            path.moveTo(*map(float, first))
            for point in rest:
                path.lineTo(*map(float, point))
            if closed:
                path.close()
        if fill:
            canvas.setFillColor(HexColor(fill))
        if stroke:
            canvas.setStrokeColor(HexColor(stroke))
            canvas.setLineWidth(width_mm * POINTS_PER_MM)
            canvas.setLineCap(1)
            canvas.setLineJoin(1)
            canvas.setDash([d * POINTS_PER_MM for d in dash_mm])
        canvas.drawPath(path, fill=int(bool(fill)), stroke=int(bool(stroke)), fillMode=FILL_EVEN_ODD)
        canvas.restoreState()

    def rectangle(
        self, x_mm: float, y_mm: float, width_mm: float, height_mm: float, *, fill: str = INK
    ) -> None:
        """Fill a rectangle given by its top left corner."""
        self.shapes([rectangle(x_mm, y_mm, width_mm, height_mm)], fill=fill)

    def line(
        self,
        xy_mm: ArrayLike,
        *,
        colour: str = INK,
        width_mm: float = 0.25,
        dash_mm: Sequence[float] = (),
    ) -> None:
        """Draw an open line through points of shape (n, 2)."""
        self.shapes([xy_mm], stroke=colour, width_mm=width_mm, dash_mm=dash_mm, closed=False)

    def arrow(
        self, xy_mm: ArrayLike, *, colour: str = INK, width_mm: float = 0.3, head_mm: float = 2.0
    ) -> None:
        """Draw a line through points of shape (n, 2) with a filled head at its end."""
        xy = np.asarray(xy_mm, dtype=float).reshape(-1, 2)
        along = xy[-1] - xy[-2]
        along = along / np.hypot(*along) * head_mm
        across = np.array([-along[1], along[0]]) * 0.36
        neck = xy[-1] - along
        self.line(np.vstack([xy[:-1], neck]), colour=colour, width_mm=width_mm)
        self.shapes([[xy[-1], neck + across, neck - across]], fill=colour)

    def text(
        self,
        x_mm: float,
        y_mm: float,
        words: str,
        *,
        size_pt: float = 10,
        bold: bool = False,
        colour: str = INK,
        align: str = "left",
    ) -> None:
        """One line of text whose baseline is at ``y_mm``."""
        canvas = self._canvas
        canvas.saveState()
        canvas.setFillColor(HexColor(colour))
        canvas.setFont("Helvetica-Bold" if bold else "Helvetica", size_pt)
        draw = {
            "left": canvas.drawString,
            "centre": canvas.drawCentredString,
            "right": canvas.drawRightString,
        }
        x, y = map(float, self._points([x_mm, y_mm])[0])
        draw[align](x, y, words)
        canvas.restoreState()

    def paragraph(
        self,
        x_mm: float,
        y_mm: float,
        width_mm: float,
        words: str,
        *,
        size_pt: float = 10,
        colour: str = INK,
        align: str = "left",
        bullet: str = "",
        indent_mm: float = 0.0,
    ) -> float:
        """Wrapped text, ``<b>`` allowed, from its top ``y_mm`` down; returns the y of its lower end."""
        style = ParagraphStyle(
            "body",
            fontName="Helvetica",
            fontSize=size_pt,
            leading=size_pt * LEADING,
            textColor=HexColor(colour),
            alignment=_ALIGN[align],
            leftIndent=indent_mm * POINTS_PER_MM,
            bulletFontName="Helvetica-Bold",
            bulletFontSize=size_pt,
        )
        block = Paragraph(words, style, bulletText=bullet or None)
        _, height = block.wrap(width_mm * POINTS_PER_MM, 10_000)
        x, top = map(float, self._points([x_mm, y_mm])[0])
        block.drawOn(self._canvas, x, top - height)
        return y_mm + float(height) / POINTS_PER_MM


def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> NDArray[np.float64]:
    """Outline of a rectangle given by its top left corner, shape (4, 2)."""
    x1, y1 = x_mm + width_mm, y_mm + height_mm
    return np.array([[x_mm, y_mm], [x1, y_mm], [x1, y1], [x_mm, y1]])


def ellipse(
    centre_mm: ArrayLike, radius_x_mm: float, radius_y_mm: float | None = None
) -> NDArray[np.float64]:
    """Outline of an upright ellipse (a circle with one radius), shape (48, 2)."""
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    radii = [radius_x_mm, radius_x_mm if radius_y_mm is None else radius_y_mm]
    outline = np.column_stack([np.cos(angle), np.sin(angle)]) * radii + np.asarray(centre_mm, dtype=float)
    return np.asarray(outline, dtype=np.float64)
