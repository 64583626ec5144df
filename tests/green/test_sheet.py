"""The sheet's geometry and its coarse finder, against OpenCV's documentation and real photographs."""

import itertools
import json

import av
import cv2
import numpy as np
import pytest

from puttvision.green.sheet import (
    MARKER_CELLS,
    QUIET_ZONE_M,
    SHEET_IDS,
    SHEET_SIDE_M,
    detect,
    marker_bits,
    sheet_corners,
)

SIX_BY_SIX = cv2.aruco.DICT_6X6_250
FOUR_BY_FOUR = cv2.aruco.DICT_4X4_50

PHOTOGRAPHS = [
    # file, dictionary, ids that OpenCV 5.0.0's own finder sees with default settings
    # (../shared/real/README.md, section B), side in pixels from smallest to largest
    pytest.param("findgcp_20191029_110437.jpg", FOUR_BY_FOUR, {1, 2, 3, 4, 5, 6}, (51, 72), id="phone, room"),
    pytest.param(
        "opencv_singlemarkersoriginal.jpg", SIX_BY_SIX, {23, 40, 62, 98, 124, 203}, (30, 43), id="table"
    ),
    pytest.param("opencv_choriginal.jpg", SIX_BY_SIX, set(range(17)), (20, 31), id="board"),
    pytest.param(
        "opencv_chocclusion_original.jpg",
        SIX_BY_SIX,
        set(range(11)) | {12, 15},
        (20, 29),
        id="board, covered",
    ),
    pytest.param(
        "yumashino_board.jpg", SIX_BY_SIX, set(range(9)) | set(range(12, 22)), (202, 229), id="large board"
    ),
]
TEXT_DRAWN_ACROSS = {9, 10, 11}
"""Three markers of the large board have words drawn over them: they may be read or not."""
WITHOUT_SHEETS = [
    "opencv_singlemarkersoriginal.jpg",
    "opencv_choriginal.jpg",
    "opencv_chocclusion_original.jpg",
    "opencv_gboriginal.jpg",
    "opencv_diamondmarkers.jpg",
    "yumashino_board.jpg",
]


def photograph(shared, name):
    return cv2.imread(str(shared / "real" / "markers" / name), cv2.IMREAD_GRAYSCALE)


def drawn_sheet(sheet_id, cell_px=20, margin_cells=1):
    bits = np.pad(marker_bits(sheet_id), margin_cells, constant_values=True)
    return np.kron(bits, np.ones((cell_px, cell_px))).astype(np.uint8) * 255


def test_corners_are_the_contract_s_square():
    # contract section 1: 180.0 mm, origin at the centre, x right, y up, z out of the paper;
    # OpenCV's order: clockwise as seen, from the top left
    corners = sheet_corners()
    np.testing.assert_allclose(
        corners, [[-0.09, 0.09, 0], [0.09, 0.09, 0], [0.09, -0.09, 0], [-0.09, -0.09, 0]], atol=1e-15
    )
    assert SHEET_SIDE_M == 0.180
    assert QUIET_ZONE_M == 0.015
    assert SHEET_IDS == (0, 1, 2, 3, 4, 5, 6, 7, 8, 9)


def test_cells_have_a_black_border():
    for sheet_id in SHEET_IDS:
        bits = marker_bits(sheet_id)
        assert bits.shape == (MARKER_CELLS, MARKER_CELLS)
        assert bits[1:-1, 1:-1].sum() == bits.sum() > 0


def test_sheets_differ_by_four_cells_at_least_however_turned():
    # OpenCV dictionary documentation: DICT_4X4_50 has minimum Hamming distance 4
    cells = [marker_bits(i) for i in SHEET_IDS]
    distances = [
        int((a != np.rot90(b, turn)).sum()) for a, b in itertools.combinations(cells, 2) for turn in range(4)
    ]
    assert min(distances) >= 4


@pytest.mark.parametrize("sheet_id", [-1, 50])
def test_marker_bits_refuses_an_id_outside_the_dictionary(sheet_id):
    with pytest.raises(ValueError, match=rf"0 to 49, got {sheet_id}"):
        marker_bits(sheet_id)


@pytest.mark.parametrize("sheet_id", SHEET_IDS)
def test_drawn_sheet_is_found_with_its_corners_in_order(sheet_id):
    found = detect(drawn_sheet(sheet_id))
    # the black square covers pixels 20 to 139
    np.testing.assert_allclose(found[sheet_id], [[20, 20], [139, 20], [139, 139], [20, 139]], atol=1.0)


def test_corners_turn_with_the_sheet():
    upside_down = np.rot90(drawn_sheet(4), 2)
    np.testing.assert_allclose(detect(upside_down)[4][0], [139, 139], atol=1.0)


def test_an_id_seen_twice_is_left_out():
    picture = np.hstack([drawn_sheet(2), drawn_sheet(5), drawn_sheet(2)])
    assert set(detect(picture)) == {5}


def test_only_asked_ids_are_given():
    picture = np.hstack([drawn_sheet(2), drawn_sheet(5), drawn_sheet(17)])
    assert set(detect(picture)) == {2, 5}
    assert set(detect(picture, ids=[5])) == {5}
    assert set(detect(picture, ids=None)) == {2, 5, 17}


@pytest.mark.parametrize(
    "luma", [np.zeros((20, 20, 3), np.uint8), np.zeros((20, 20))], ids=["colour", "not 8 bit"]
)
def test_detect_refuses_what_is_no_grey_picture(luma):
    with pytest.raises(ValueError, match="luma is"):
        detect(luma)


def test_empty_picture_has_no_sheet():
    assert detect(np.full((480, 640), 90, np.uint8)) == {}


@pytest.mark.parametrize(("name", "dictionary", "ids", "side_px"), PHOTOGRAPHS)
def test_markers_in_real_photographs(shared, name, dictionary, ids, side_px):
    found = detect(photograph(shared, name), dictionary, ids=None)
    assert ids <= set(found) <= ids | (TEXT_DRAWN_ACROSS if name == "yumashino_board.jpg" else set())
    sides = [np.linalg.norm(c - np.roll(c, 1, axis=0), axis=1).mean() for c in found.values()]
    # the same finder at other settings: a pixel and the table's rounding
    assert min(sides) == pytest.approx(side_px[0], abs=1.5)
    assert max(sides) == pytest.approx(side_px[1], abs=1.5)


def test_markers_of_nine_pixels_are_still_read(shared):
    # section B: OpenCV's default settings read 3, 5, 6 and 10 of a board of 12 (ids 0 to 11), 8-10 px a side
    found = detect(photograph(shared, "deepcharuco_IMG_7412.png"), ids=None)
    assert {3, 5, 6, 10} <= set(found) <= set(range(12))


@pytest.mark.parametrize("name", WITHOUT_SHEETS)
def test_no_sheet_where_there_is_none(shared, name):
    # section B: none holds a 4x4 marker; in the first a printed shipping symbol reads as id 17
    assert detect(photograph(shared, name)) == {}


@pytest.mark.parametrize("clip", ["d1_side_flat", "d2_side_slope_30", "d3_behind_720p120", "d4_left_hevc"])
def test_corners_lie_within_two_pixels_of_the_truth(shared, clip):
    # the clips' truth files; "1 or 2 pixels" is what detect() promises
    truth = json.loads((shared / "clips" / f"{clip}.truth.json").read_text())
    with av.open(str(shared / "clips" / f"{clip}.mp4")) as container:
        frame = next(container.decode(video=0)).reformat(format="gray")
    found = detect(frame.to_ndarray())
    assert set(found) == {sheet["id"] for sheet in truth["sheets"]}
    for sheet in truth["sheets"]:
        assert np.abs(found[sheet["id"]] - sheet["corners_px"][0]).max() < 2.0
