"""The lens board on paper: OpenCV finds every corner in the page as a viewer draws it."""

import cv2
import numpy as np
import pypdfium2
import pytest

from puttvision.green.lens_board import DICTIONARY, N_CORNERS, SQUARE_M, board, board_cells
from puttvision.green.sheet import detect
from puttvision.printing.board_pdf import board_pdf, cell_outlines
from puttvision.printing.paper import PAPERS

DPI = 150


def rendered(paper):
    page = pypdfium2.PdfDocument(board_pdf(PAPERS[paper]))[0]
    return np.asarray(page.render(scale=DPI / 72, grayscale=True).to_numpy()).squeeze()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_opencv_finds_the_whole_board_at_its_size(paper):
    # squares of 36.0 mm at 150 dots an inch: 212.6 pixels
    picture = rendered(paper)
    corners, ids, _, markers = cv2.aruco.CharucoDetector(board()).detectBoard(picture)
    assert len(ids) == N_CORNERS == 20
    assert len(markers) == 15
    places = board().getChessboardCorners()[ids.ravel()][:, :2] * 1000 / 25.4 * DPI
    apart = corners.reshape(-1, 2) - places
    assert np.ptp(apart, axis=0) == pytest.approx([0, 0], abs=0.6)
    assert abs(SQUARE_M - 0.036) < 1e-12


def test_no_sheet_is_seen_in_it():
    assert DICTIONARY != cv2.aruco.DICT_4X4_50
    assert detect(np.ascontiguousarray(rendered("a4"))) == {}


def test_rectangles_cover_the_black_cells_once():
    cells = board_cells()
    again = np.zeros(cells.shape, int)
    for outline in cell_outlines(cells):
        (x0, y0), (x1, y1) = outline[0].astype(int), outline[2].astype(int)
        again[y0:y1, x0:x1] += 1
    assert (again == cells).all()


def test_the_page_keeps_clear_of_the_printers_edge():
    for paper in PAPERS:
        picture = rendered(paper)
        margin = round(4 / 25.4 * DPI)
        edge = np.concatenate(
            [picture[:margin].ravel(), picture[:, :margin].ravel(), picture[:, -margin:].ravel()]
        )
        assert edge.min() > 250
