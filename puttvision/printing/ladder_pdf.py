"""A ladder for the notice board, to be read from a step away. Millimetres, y down from the top left."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from puttvision.printing.paper import Paper
from puttvision.printing.pen import GREY, INK, Pen

MARGIN_MM = 18.0
_ROW_MM, _HEAD_MM = 11.0, 9.0
_BODY_PT, _HEAD_PT = 16.0, 11.0
_RULE = "#B9C0BB"

Row = tuple[str, str, str, str]
"""Place, player (name or code), result, times played."""


def ladder_pdf(paper: Paper, title: str, says: str, heads: Row, rows: Sequence[Row]) -> bytes:
    """The pages; ``says`` tells what counts, ``heads`` names the columns. Who has no place stands in grey."""
    pen = Pen(paper, title)
    right = paper.width_mm - MARGIN_MM
    columns = ((MARGIN_MM + 14, "right"), (MARGIN_MM + 24, "left"), (right - 34, "right"), (right, "right"))
    y = pen.paragraph(MARGIN_MM, MARGIN_MM, right - MARGIN_MM, f"<b>{escape(title)}</b>", size_pt=26)
    y = pen.paragraph(MARGIN_MM, y + 3, right - MARGIN_MM, escape(says), size_pt=12, colour=GREY) + 5

    def line(texts: Row, y_mm: float, size_pt: float, colour: str, *, bold: bool = False) -> None:
        for (x_mm, align), text in zip(columns, texts, strict=True):
            pen.text(x_mm, y_mm - 3.2, text, size_pt=size_pt, colour=colour, align=align, bold=bold)

    def head(y_mm: float) -> float:
        line(heads, y_mm + _HEAD_MM, _HEAD_PT, GREY)
        pen.line([(MARGIN_MM, y_mm + _HEAD_MM), (right, y_mm + _HEAD_MM)], width_mm=0.5)
        return y_mm + _HEAD_MM

    y = head(y)
    for row in rows:
        if y + _ROW_MM > paper.height_mm - MARGIN_MM:
            pen.next_page()
            y = head(MARGIN_MM)
        y += _ROW_MM
        line(row, y, _BODY_PT, INK if row[0] else GREY, bold=row[0] == "1")
        pen.line([(MARGIN_MM, y), (right, y)], colour=_RULE)
    return pen.finish()
