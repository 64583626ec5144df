"""The sheet as a page: marker, print check and a few words. Millimetres, y down from the paper's top left."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from puttvision.green.sheet import MARKER_CELLS, QUIET_ZONE_M, SHEET_SIDE_M, marker_bits
from puttvision.printing.paper import Paper
from puttvision.printing.pen import GREY, INK, Pen, ellipse, rectangle

BAR_MM = 100.0
SIDE_MM = SHEET_SIDE_M * 1000
QUIET_MM = QUIET_ZONE_M * 1000
TEE_INSET_MM = 8.0
"""From the paper's edges to the middle of a tee's ring."""
TEE_RING_MM = 2.5
ID_WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_BLACK = "#000000"
_WORDS_MM = 48.0
"""Height of the block of words below the quiet zone."""
_FOOT_MM = 12.0


def sheets_pdf(ids: Sequence[int], paper: Paper) -> bytes:
    """Make a PDF with one page for each id, in the order given.

    Raises ValueError where ``ids`` is empty, names an id twice or one that is no sheet's.
    """
    if not ids or len(set(ids)) < len(ids) or not all(0 <= i < len(ID_WORDS) for i in ids):
        raise ValueError(f"ids are different numbers from 0 to {len(ID_WORDS) - 1}, got {list(ids)}")
    pen = Pen(paper, f"puttvision sheet {', '.join(map(str, ids))} ({paper.name})")
    for place, sheet_id in enumerate(ids):
        if place:
            pen.next_page()
        draw_sheet(pen, sheet_id)
    return pen.finish()


def marker_outlines(sheet_id: int) -> list[NDArray[np.float64]]:
    """Outlines of a marker in units of its side, x right and y down from its top left corner.

    First the square, then its white cells: filled together by the even-odd rule they give the marker.
    """
    cell = 1 / MARKER_CELLS
    holes = np.argwhere(marker_bits(sheet_id))
    return [rectangle(0, 0, 1, 1)] + [rectangle(c * cell, r * cell, cell, cell) for r, c in holes]


def draw_sheet(pen: Pen, sheet_id: int) -> None:
    """Draw a whole sheet on the present page."""
    paper = pen.paper
    left = (paper.width_mm - SIDE_MM) / 2
    top = paper.black_top_mm
    outlines = [outline * SIDE_MM + [left, top] for outline in marker_outlines(sheet_id)]
    pen.shapes(outlines, fill=_BLACK)
    _tee_rings(pen)
    words_top = top + SIDE_MM + QUIET_MM
    words_top += max(0.0, (paper.height_mm - _FOOT_MM - _WORDS_MM - words_top) / 2)
    _name(pen, sheet_id, left, words_top)
    _print_check(pen, left + SIDE_MM - BAR_MM, words_top)
    pen.text(
        paper.width_mm / 2,
        paper.height_mm - 6,
        f"puttvision · marker DICT_4X4_50, id {sheet_id} · black square 180.0 mm · {paper.name}",
        size_pt=7.5,
        colour=GREY,
        align="centre",
    )


def _tee_rings(pen: Pen) -> None:
    for x in (TEE_INSET_MM, pen.paper.width_mm - TEE_INSET_MM):
        for y in (TEE_INSET_MM, pen.paper.height_mm - TEE_INSET_MM):
            pen.shapes([ellipse([x, y], TEE_RING_MM)], stroke=GREY, width_mm=0.3, dash_mm=(0.9, 0.9))


def _name(pen: Pen, sheet_id: int, left: float, top: float) -> None:
    pen.text(left - 1.2, top + 25, str(sheet_id), size_pt=96, bold=True, colour=_BLACK)
    pen.text(left + 21.5, top + 11, "Sheet", size_pt=20)
    pen.text(left + 21.5, top + 20, ID_WORDS[sheet_id], size_pt=20, bold=True)
    _turning_square(pen, left + 5.2, top + 39.5)
    hint = "<b>Flat on the green,</b> beside the line.<br/>Any way round will do.<br/>Tees through the rings."
    pen.paragraph(left + 13.5, top + 31.5, 62, hint, size_pt=11)


def _turning_square(pen: Pen, x: float, y: float) -> None:
    """Draw a small square with an arrow around it: how the sheet is turned does not matter."""
    turn = np.radians(20)
    corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * 2.0
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    pen.shapes([corner @ rotation.T + [x, y]], fill=INK)
    angle = np.radians(np.linspace(-170, 95, 40))
    arc = np.column_stack([x + 4.9 * np.cos(angle), y + 4.9 * np.sin(angle)])
    pen.arrow(arc, width_mm=0.45, head_mm=2.4)


def _print_check(pen: Pen, left: float, top: float) -> None:
    """Draw the bar with its words, ``BAR_MM`` wide from ``left`` on."""
    pen.text(left, top + 6.5, "Measure this bar: 100.0 mm", size_pt=17, bold=True)
    pen.rectangle(left, top + 10, BAR_MM, 6, fill=_BLACK)
    for tenth in range(11):
        x = left + BAR_MM * tenth / 10
        x = min(max(x, left + 0.15), left + BAR_MM - 0.15)
        pen.line([[x, top + 17.2], [x, top + (20.2 if tenth % 5 == 0 else 18.8)]], width_mm=0.3)
    for x, words, align in (
        (left, "0", "left"),
        (left + 50, "50", "centre"),
        (left + 100, "100.0 mm", "right"),
    ):
        pen.text(x, top + 24.4, words, size_pt=10, align=align)
    inches = " (3 15/16 inches)" if pen.paper.inches else ""
    words = (
        f"End to end of the black bar, with a ruler{inches}.<br/>Half a millimetre off? "
        "<b>Print again at 100 %</b> (“actual size”), never “fit to page”."
    )
    pen.paragraph(left, top + 31.5, BAR_MM, words, size_pt=11)
