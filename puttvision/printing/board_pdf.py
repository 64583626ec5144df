"""The lens board as a page. Millimetres, y down from the paper's top left."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.green.lens_board import CELL_M, board_cells
from puttvision.printing.paper import Paper
from puttvision.printing.pen import GREY, Pen, rectangle

_TOP_MM = 14.0
_CELL_MM = 1000 * CELL_M
_BLACK = "#000000"
_GAP_MM = 4.0


def board_pdf(paper: Paper) -> bytes:
    """Make the page."""
    pen = Pen(paper, f"puttvision lens board ({paper.name})")
    cells = board_cells()
    rows, columns = cells.shape
    left = (paper.width_mm - columns * _CELL_MM) / 2
    pen.shapes([outline * _CELL_MM + [left, _TOP_MM] for outline in cell_outlines(cells)], fill=_BLACK)
    below = _TOP_MM + rows * _CELL_MM + _GAP_MM
    pen.text(left, below + 10, "Lens board", size_pt=22, bold=True)
    hint = (
        "Tape it flat on a stiff board: a page that bends is measured as a lens that bends. Its size does "
        "not matter.<br/>Film it for 20 seconds with the lens and the video mode of your drills: "
        "<b>near, far, tilted each way, into every corner of the picture,</b> slowly, with rests."
    )
    pen.paragraph(left, below + 15, columns * _CELL_MM, hint, size_pt=11)
    foot = f"puttvision · lens board, squares of 36.0 mm · {paper.name}"
    pen.text(paper.width_mm / 2, paper.height_mm - 5, foot, size_pt=7.5, colour=GREY, align="centre")
    return pen.finish()


def cell_outlines(cells: NDArray[np.bool_]) -> list[NDArray[np.float64]]:
    """Rectangles in cells that cover the black ones exactly once: runs along a row, joined downwards."""
    done: list[tuple[int, int, int, int]] = []
    running: dict[tuple[int, int], int] = {}
    for y in range(cells.shape[0] + 1):
        row = cells[y] if y < cells.shape[0] else np.zeros(cells.shape[1], bool)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(int)))
        runs = {(int(a), int(b)) for a, b in edges.reshape(-1, 2)}
        for run in [run for run in running if run not in runs]:
            done.append((run[0], running.pop(run), run[1], y))
        for run in runs:
            running.setdefault(run, y)
    return [rectangle(x0, y0, x1 - x0, y1 - y0) for x0, y0, x1, y1 in sorted(done)]
