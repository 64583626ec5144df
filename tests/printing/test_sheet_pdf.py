"""The sheet's page, read back by PDFium and OpenCV, against contract section 1."""

import itertools
import re

import cv2
import numpy as np
import pytest
from pdf_reading import (
    PX_PER_MM,
    asks_for_full_size,
    drawing,
    holds_image,
    ink_span_mm,
    raster,
    size_mm,
    text_boxes_mm,
    words,
)

from puttvision.printing.paper import PAPERS
from puttvision.printing.sheet_pdf import ID_WORDS, sheets_pdf

SIZES_MM = {
    "a4": (210.0, 297.0),  # ISO 216
    "letter": (215.9, 279.4),  # ANSI/ASME Y14.1 size A, 8.5 x 11 in
}
EVERY_PAGE = [pytest.param(i, name, id=f"{i}-{name}") for i, name in itertools.product(range(10), SIZES_MM)]
QUIET_PX = 15 * PX_PER_MM


@pytest.fixture(scope="module")
def pages():
    """Every sheet on both papers: PDF bytes, grey picture, edges of the black square in millimetres."""
    made = {(i, name): sheets_pdf([i], PAPERS[name]) for i in range(10) for name in SIZES_MM}
    pictures = {key: raster(pdf) for key, pdf in made.items()}
    return {key: (pdf, pictures[key], black_square_mm(pictures[key])) for key, pdf in made.items()}


def black_square_mm(grey):
    """Left, top, right, bottom of the largest dark shape on the page."""
    _, _, stats, _ = cv2.connectedComponentsWithStats((grey < 128).astype(np.uint8))
    x, y, w, h, _ = stats[1 + np.argmax(stats[1:, cv2.CC_STAT_AREA])]
    spare = 5 * PX_PER_MM
    across = grey[y + h // 12, x - spare : x + w + spare]
    down = grey[y - spare : y + h + spare, x + w // 12]
    left, right = np.array(ink_span_mm(across)) + (x - spare) / PX_PER_MM
    top, bottom = np.array(ink_span_mm(down)) + (y - spare) / PX_PER_MM
    return np.array([left, top, right, bottom])


@pytest.mark.parametrize(("sheet_id", "paper"), EVERY_PAGE)
def test_page_has_the_papers_size(pages, sheet_id, paper):
    np.testing.assert_allclose(size_mm(pages[sheet_id, paper][0]), SIZES_MM[paper], atol=0.01)


@pytest.mark.parametrize(("sheet_id", "paper"), EVERY_PAGE)
def test_black_square_is_180_mm_and_centred_across_the_page(pages, sheet_id, paper):
    left, top, right, bottom = pages[sheet_id, paper][2]
    assert right - left == pytest.approx(180.0, abs=0.1)
    assert bottom - top == pytest.approx(180.0, abs=0.1)
    assert left == pytest.approx(SIZES_MM[paper][0] - right, abs=0.1)


@pytest.mark.parametrize(("sheet_id", "paper"), EVERY_PAGE)
def test_nothing_is_printed_within_15_mm_of_the_square(pages, sheet_id, paper):
    grey = pages[sheet_id, paper][1].copy()
    x0, y0, x1, y1 = np.round(pages[sheet_id, paper][2] * PX_PER_MM).astype(int)
    grey[y0 - 1 : y1 + 1, x0 - 1 : x1 + 1] = 255
    assert x0 >= QUIET_PX - 1
    assert y0 >= QUIET_PX
    around = grey[y0 - QUIET_PX + 1 : y1 + QUIET_PX - 1, max(x0 - QUIET_PX + 1, 0) : x1 + QUIET_PX - 1]
    assert around.min() == 255


@pytest.mark.parametrize(("sheet_id", "paper"), EVERY_PAGE)
def test_bar_below_the_square_is_100_mm(pages, sheet_id, paper):
    pdf, _, square_mm = pages[sheet_id, paper]
    fine = 25  # pixels a millimetre: filling whole pixels is then out by 0.08 mm at most
    below = raster(pdf, px_per_mm=fine, from_top_mm=square_mm[3] + 15)
    x, y, w, h = widest_black_shape(below)
    row = below[y + h // 2, x - fine : x + w + fine]
    start, end = ink_span_mm(row, fine)
    assert end - start == pytest.approx(100.0, abs=0.1)


def widest_black_shape(grey):
    _, _, stats, _ = cv2.connectedComponentsWithStats((grey < 128).astype(np.uint8))
    x, y, w, h, _ = stats[1 + np.argmax(stats[1:, cv2.CC_STAT_WIDTH])]
    return x, y, w, h


@pytest.mark.parametrize(("sheet_id", "paper"), EVERY_PAGE)
def test_marker_decodes_upright(pages, sheet_id, paper):
    # OpenCV's own finder with its own settings, on a page of 1 pixel a millimetre
    scale = 1 / PX_PER_MM
    grey = cv2.resize(pages[sheet_id, paper][1], None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    quads, ids, _ = cv2.aruco.ArucoDetector(codes).detectMarkers(grey)
    assert np.ravel(ids).tolist() == [sheet_id]
    left, top, right, bottom = pages[sheet_id, paper][2]
    corners = [[left, top], [right, top], [right, bottom], [left, bottom]]
    np.testing.assert_allclose(quads[0][0], corners, atol=1.5)


@pytest.mark.parametrize(("sheet_id", "paper"), EVERY_PAGE)
def test_every_cell_is_in_its_place_and_joins_without_hairlines(pages, sheet_id, paper):
    # reference: OpenCV's own picture of the marker, a cell 30 mm wide
    _, grey, square_mm = pages[sheet_id, paper]
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    ideal = cv2.aruco.generateImageMarker(codes, sheet_id, 180 * PX_PER_MM)
    x0, y0 = np.round(square_mm[:2] * PX_PER_MM).astype(int)
    square = grey[y0 : y0 + ideal.shape[0], x0 : x0 + ideal.shape[1]]
    away_from_edges = cv2.morphologyEx(ideal, cv2.MORPH_GRADIENT, np.ones((5, 5), np.uint8)) == 0
    away_from_edges[[0, -1]] = away_from_edges[:, [0, -1]] = False
    np.testing.assert_array_equal(square[away_from_edges], ideal[away_from_edges])


@pytest.mark.parametrize(("sheet_id", "paper"), EVERY_PAGE)
def test_words_say_the_id_and_to_measure_the_bar(pages, sheet_id, paper):
    said = words(pages[sheet_id, paper][0])
    assert f"{sheet_id} Sheet {ID_WORDS[sheet_id]}" in said
    assert "Measure this bar: 100.0 mm" in said
    assert "Print again at 100 %" in said
    assert "Flat on the green" in said
    assert f"id {sheet_id} " in said
    assert ("3 15/16 inches" in said) == (paper == "letter")


@pytest.mark.parametrize("paper", SIZES_MM)
def test_no_words_overlap_or_leave_the_page(pages, paper):
    boxes = text_boxes_mm(pages[8, paper][0])
    for box in boxes:
        assert box[:2].min() >= 5
        assert (np.array(SIZES_MM[paper]) - box[2:]).min() >= 5
    for one, other in itertools.combinations(boxes, 2):
        apart = (one[:2] >= other[2:]) | (other[:2] >= one[2:])
        assert apart.any(), (one, other)


def test_page_is_vector_with_standard_fonts_only(pages):
    pdf = pages[7, "a4"][0]
    assert not holds_image(pdf)
    assert b"/FontFile" not in pdf
    assert set(re.findall(rb"/BaseFont /([\w-]+)", pdf)) == {b"Helvetica", b"Helvetica-Bold"}


def test_file_asks_the_print_dialogue_for_full_size(pages):
    assert asks_for_full_size(pages[0, "a4"][0])


def test_several_pages_are_the_single_ones_in_the_order_asked():
    together = sheets_pdf([9, 2, 5], PAPERS["letter"])
    assert drawing(together) == [drawing(sheets_pdf([i], PAPERS["letter"]))[0] for i in (9, 2, 5)]
    assert [words(together, page)[0] for page in range(3)] == ["9", "2", "5"]


def test_same_input_gives_the_same_bytes():
    assert sheets_pdf([1, 4], PAPERS["a4"]) == sheets_pdf([1, 4], PAPERS["a4"])


@pytest.mark.parametrize("ids", [[], [10], [-1], [3, 3]], ids=str)
def test_wrong_ids_are_refused(ids):
    with pytest.raises(ValueError, match="different numbers from 0 to 9"):
        sheets_pdf(ids, PAPERS["a4"])
