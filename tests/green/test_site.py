"""The site of a small clip: sheets, camera and hole from a few frames, and what it says where one is missing.

Frames are ray-traced by ``little_green``; ``little_sheet`` lays the sheets into them.
"""

from functools import cache

import cv2
import little_sheet
import numpy as np
import pytest
from little_green import Scene, View, box_round, film
from little_sheet import SIDE_M, lay

from puttvision.errors import GreenError
from puttvision.green.pose import LensPrior
from puttvision.green.site import survey

VIEW = View(width=1280, height=720, f_px=950.0, height_m=1.4, tilt_deg=28.0)
HOLE_M = (0.45, 3.0)
SHEETS = {0: (-0.75, 2.2, 0.3), 3: (0.95, 2.75, -1.0)}
"""By id: x, y and turn."""


def square_px(x, y, turn, side_m=SIDE_M):
    return little_sheet.square_px(VIEW, x, y, turn, side_m)


@cache
def grass(hole_m, k):
    fine = [] if hole_m is None else [box_round(VIEW, hole_m, 0.08)]
    return film(VIEW, Scene(hole_m=hole_m), fine=fine, seed=k, noise=1.5)


def frames(sheets=None, hole_m=HOLE_M, n=5):
    """Frames as the clip gives them: luma, Cb, Cr."""
    out = []
    for k in range(n):
        seen = grass(hole_m, k)
        luma = seen.luma.copy()
        for sheet_id, place in (SHEETS if sheets is None else sheets).items():
            lay(VIEW, luma, sheet_id, *place)
        out.append((luma, seen.cb, seen.cr))
    return out


@pytest.fixture(scope="module")
def site():
    return survey(iter(frames()))


def test_the_camera_stands_where_it_stood(site):
    camera = site.pose.camera
    assert abs(np.log(camera.f_px / VIEW.f_px)) < 3 * np.sqrt(site.pose.cov[0, 0])
    assert abs(np.log(camera.f_px / VIEW.f_px)) < 0.02
    assert camera.height_m == pytest.approx(VIEW.height_m, rel=0.02)
    assert np.degrees(camera.tilt_rad) == pytest.approx(VIEW.tilt_deg, abs=0.6)
    assert site.pose.rms_px < 0.15
    assert sorted(sheet.id for sheet in site.sheets) == [0, 3]
    assert site.warnings == ()
    for sheet in site.sheets:
        assert np.abs(sheet.corners_px - square_px(*SHEETS[sheet.id])).max() < 0.12


def test_lengths_on_the_green_are_right(site):
    # from sheet to sheet and from sheet to hole: half a per cent
    camera = site.pose.camera
    here, there = (np.array(SHEETS[i][:2]) for i in (0, 3))
    hole = camera.to_plane(site.hole.at_px)
    a, b = (np.array(site.pose.sheets[i][:2]) for i in (0, 3))
    assert np.hypot(*(b - a)) == pytest.approx(np.hypot(*(there - here)), rel=0.005)
    assert np.hypot(*(hole - a)) == pytest.approx(np.hypot(*(HOLE_M - here)), rel=0.005)


def test_the_hole_is_in_its_place(site):
    assert np.hypot(*(np.array(site.hole.at_px) - VIEW.project([*HOLE_M, 0.0]))) < 0.4
    x0, y0, x1, y1 = site.hole_box
    assert x0 < site.hole.at_px[0] < x1
    assert y0 < site.hole.at_px[1] < y1
    assert 1.2 < (x1 - x0) / (0.108 * VIEW.camera().px_per_m([*HOLE_M, 0.0])) < 2.5


def test_pages_are_told_from_balls(site):
    for outline, sheet in zip(site.pages_px(), site.sheets, strict=True):
        assert outline.shape == (4, 2)
        inside = [
            cv2.pointPolygonTest(outline.astype(np.float32), tuple(map(float, c)), False)
            for c in sheet.corners_px
        ]
        assert inside == [1.0] * 4


def test_one_sheet_works_and_is_said_to_be_one():
    one = survey(iter(frames({0: SHEETS[0]}, n=3)))
    assert any("second" in text for text in one.warnings)
    assert one.pose.cov[0, 0] > 0
    assert one.pose.camera.height_m == pytest.approx(VIEW.height_m, rel=0.1)


def test_a_sheet_that_is_covered_most_of_the_time_is_found_still():
    # the player stands before the far sheet in four frames of five
    clip = frames()
    x0, y0 = square_px(*SHEETS[3], 0.4).min(axis=0).astype(int)
    x1, y1 = square_px(*SHEETS[3], 0.4).max(axis=0).astype(int)
    for luma, _, _ in clip[1:]:
        luma[max(0, y0) : y1, x0:x1] = 45
    found = survey(iter(clip))
    assert sorted(sheet.id for sheet in found.sheets) == [0, 3]


def test_no_sheet_is_one_clear_line():
    with pytest.raises(GreenError, match="no sheet seen in any of 3 frames") as caught:
        survey(iter(frames({}, n=3)))
    assert "puttvision sheet" in str(caught.value)  # and what to do
    assert "\n" not in str(caught.value)


def test_no_frames_is_one_clear_line():
    with pytest.raises(GreenError, match="no frame"):
        survey(iter([]))


def test_no_hole_is_one_clear_line_that_names_the_way_out():
    with pytest.raises(GreenError, match="hole was not found") as caught:
        survey(iter(frames(hole_m=None, n=3)))
    assert "--hole" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_hole_may_be_pointed_at():
    clip = frames(n=3)
    true = VIEW.project([*HOLE_M, 0.0])
    found = survey(iter(clip), hole_px=(float(true[0] + 2), float(true[1] - 1.5)))
    assert found.hole.by_hand
    assert np.hypot(*(np.array(found.hole.at_px) - true)) < 0.4  # the rim is there: it is taken
    bare = survey(iter(frames(hole_m=None, n=3)), hole_px=(700.0, 300.0))
    assert bare.hole.by_hand
    assert bare.hole.at_px == (700.0, 300.0)  # none is: the person's word
    assert np.sqrt(bare.hole.cov_px2[0, 0]) >= 1.0


@pytest.mark.parametrize(
    ("at_px", "says"), [((5000.0, 20.0), "outside the picture"), ((640.0, -3.0), "outside")]
)
def test_a_hole_outside_the_picture_is_refused(at_px, says):
    with pytest.raises(GreenError, match=says) as caught:
        survey(iter(frames(n=3)), hole_px=at_px)
    assert "1280 x 720" in str(caught.value)


def test_the_lens_may_be_known_from_the_clip():
    told = survey(
        iter(frames({0: SHEETS[0]}, n=3)), prior=LensPrior(f_over_long_side=950 / 1280, u_ln_f=0.01)
    )
    assert told.pose.camera.f_px == pytest.approx(950, rel=0.02)
    assert np.sqrt(told.pose.cov[0, 0]) <= 0.0101


def hidden(clip, sheet_id):
    """The clip with one sheet's cells washed out by glare, so that it is not recognised."""
    corners = square_px(*SHEETS[sheet_id])
    middle = corners.mean(axis=0)
    patch = np.round(middle + 0.75 * (corners - middle)).astype(np.int32)
    for luma, _, _ in clip:
        cv2.fillConvexPoly(luma, patch, 235)
    return clip


def test_a_sheet_may_be_pointed_at():
    clip = hidden(frames(n=3), 3)
    assert [sheet.id for sheet in survey(iter(clip)).sheets] == [0]
    true = square_px(*SHEETS[3])
    by_hand = true + np.array([(1.5, -1.0), (-1.0, 1.5), (1.0, 1.0), (-1.5, -1.0)])
    found = survey(iter(clip), sheet_px={3: [tuple(at) for at in by_hand]})
    assert sorted(sheet.id for sheet in found.sheets) == [0, 3]
    (placed,) = (sheet for sheet in found.sheets if sheet.id == 3)
    assert np.sqrt(placed.cov_px2.diagonal()).min() >= 1.0  # a finger is no edge fit
    assert found.pose.camera.height_m == pytest.approx(VIEW.height_m, rel=0.04)


def test_print_near_placed_corners_is_taken_instead():
    clip = frames(n=3)
    true = square_px(*SHEETS[3])
    found = survey(iter(clip), sheet_px={3: [tuple(at) for at in true + 1.5]})
    (placed,) = (sheet for sheet in found.sheets if sheet.id == 3)
    assert np.abs(placed.corners_px - true).max() < 0.2


@pytest.mark.parametrize(
    ("corners", "says"),
    [
        ([(10.0, 10.0), (60.0, 10.0), (60.0, 60.0), (10.0, 5000.0)], "outside the picture"),
        ([(10.0, 10.0), (10.0, 60.0), (60.0, 60.0), (60.0, 10.0)], "do not go round it"),
        ([(10.0, 10.0), (60.0, 60.0), (60.0, 10.0), (10.0, 60.0)], "do not go round it"),
    ],
)
def test_corners_that_make_no_sheet_are_refused(corners, says):
    with pytest.raises(GreenError, match=says) as caught:
        survey(iter(frames(n=3)), sheet_px={3: corners})
    assert "sheet 3" in str(caught.value)
