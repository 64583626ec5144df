"""The field guide: one page that says all it must, drawn as a camera would see it."""

import itertools

import cv2
import numpy as np
import pypdfium2
import pytest
from pdf_reading import holds_image, raster, size_mm, text_boxes_mm, words

from puttvision.printing import guide_scene as scene
from puttvision.printing.guide_pdf import guide_pdf
from puttvision.printing.paper import PAPERS

MUST_SAY = [
    "100.0 mm",
    "flat on the green",
    "with tees through its four corners",
    "3 m (10 ft)",
    "0.3–0.6 m",
    "lens 1.4–1.6 m",
    "Landscape",
    "1080p, 60 frames a second or more",
    "no zoom",
    "Main lens",
    "Lock exposure and focus",
    "stabilisation off",
    "sun never shines into the lens",
    "No shadow on a sheet",
    "Tripod and tees trip people",
    "Mind other players",
    "only with their consent; minors only with their guardian’s",
    "Ask the club whether tees and sheets may go in a green",
    "Local rules come first",
    "under a licensed coach’s guidance",
]


@pytest.fixture(scope="module", params=PAPERS)
def guide(request):
    return guide_pdf(PAPERS[request.param]), PAPERS[request.param]


def test_guide_is_one_page_of_the_papers_size(guide):
    pdf, paper = guide
    assert len(pypdfium2.PdfDocument(pdf)) == 1
    np.testing.assert_allclose(size_mm(pdf), [paper.width_mm, paper.height_mm], atol=0.01)


def test_guide_says_what_it_must(guide):
    said = words(guide[0])
    assert [phrase for phrase in MUST_SAY if phrase not in said] == []


def test_no_words_overlap_or_leave_the_margins(guide):
    pdf, paper = guide
    boxes = text_boxes_mm(pdf)
    for box in boxes:
        assert box[:2].min() >= 6
        assert (np.array([paper.width_mm, paper.height_mm]) - box[2:]).min() >= 6
    for one, other in itertools.combinations(boxes, 2):
        assert ((one[:2] >= other[2:] - 0.01) | (other[:2] >= one[2:] - 0.01)).any(), (one, other)


def test_guide_is_vector_with_standard_fonts_only(guide):
    assert not holds_image(guide[0])
    assert b"/FontFile" not in guide[0]


def test_sheets_in_the_drawn_pictures_can_be_read(guide):
    # every drawn sheet is the real marker, right way up and not mirrored: OpenCV's finder reads
    # both in the plan, on the left half, and in the phone's picture, on the right half
    pdf, paper = guide
    grey = raster(pdf, px_per_mm=24)[: int(24 * paper.height_mm / 2)]
    middle = int(24 * paper.width_mm / 2)
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    settings = cv2.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = 0.01
    finder = cv2.aruco.ArucoDetector(codes, settings)
    for half in (grey[:, :middle], grey[:, middle:]):
        _, ids, _ = finder.detectMarkers(np.ascontiguousarray(half))
        assert set(np.ravel(ids).tolist()) == {sheet.sheet_id for sheet in scene.SHEETS}


def test_guide_follows_its_own_advice():
    # as its words have it: phone 3 m to the side, 1.4-1.6 m up, gate 0.3-0.6 m ahead, sheets 30-50 cm off
    assert scene.PHONE[1] == -3.0
    assert 1.4 <= scene.PHONE[2] <= 1.6
    assert scene.PHONE[0] == pytest.approx(scene.HOLE[0] / 2)
    assert 0.3 <= scene.GATE_X_M <= 0.6
    assert all(0.3 <= abs(sheet.y_m) <= 0.5 for sheet in scene.SHEETS)
    seen = np.vstack([sheet.paper() for sheet in scene.SHEETS] + [[scene.BALL, scene.HOLE]])
    picture = scene.picture(seen)
    assert (picture > 0.1).all()
    assert (picture < [0.9, scene.PICTURE_HEIGHT - 0.1]).all()


def test_camera_of_the_drawing_agrees_with_a_worked_example(monkeypatch):
    # reference values, section I: f = 1442.2205 px, camera 1.5 m up, tilted 30 degrees down, looking
    # along +y; ground point (0.5, 3.0, 0) m lies at pixel (1175.3805, 453.4335) of 1920x1080
    monkeypatch.setattr(scene, "PHONE", np.array([0.0, 0.0, 1.5]))
    monkeypatch.setattr(scene, "LOOKS_AT", np.array([0.0, 1.5 / np.tan(np.radians(30)), 0.0]))
    pixel = scene.picture([[0.5, 3.0]])[0] * 1920
    np.testing.assert_allclose(pixel, [1175.3805, 453.4335], atol=0.001)


def test_angle_of_view_of_the_drawing():
    # reference values, section I: full-width 16:9 video of a 26 mm equivalent lens: 67.2987 degrees
    assert np.degrees(2 * scene.half_angle_rad()) == pytest.approx(67.2987, abs=0.001)
