"""Sheets far off and seen flat: what reads them where the plain finder sees no code.

Through a lens of 1400 px, 1.3 m up, a sheet 5 m off is some 50 px wide and 12 high: a cell is 2 px high.
"""

import numpy as np
import pytest
from little_green import Scene, View, box_round, film
from little_sheet import lay, square_px

from puttvision.green.from_above import detect_from_above
from puttvision.green.pose import LensPrior
from puttvision.green.sheet import detect, detect_far
from puttvision.green.site import survey

VIEW = View(width=1280, height=480, f_px=1400.0, height_m=1.3, tilt_deg=13.0)
HOLE_M = (0.35, 4.2)
NEAR = (-0.45, 3.5, 0.3)
"""x, y and turn of a sheet that any finder reads."""


def seen(*sheets, scene=None, seed=0):
    """A frame with sheets, each of id and place."""
    scene = scene or Scene()
    fine = [box_round(VIEW, scene.hole_m, 0.08)] if scene.hole_m else []
    frame = film(VIEW, scene, fine=fine, seed=seed)
    for sheet_id, place in sheets:
        lay(VIEW, frame.luma, sheet_id, *place)
    return frame


@pytest.mark.parametrize(
    ("sheet_id", "place"), [(3, (0.5, 5.5, 1.5)), (5, (0.5, 5.4, -0.1)), (5, (-0.6, 5.6, 1.65))]
)
def test_a_sheet_of_two_pixels_a_cell_is_read_enlarged(sheet_id, place):
    luma = seen((sheet_id, place)).luma
    assert detect(luma) == {}
    found = detect_far(luma)
    assert set(found) == {sheet_id}
    assert np.abs(found[sheet_id] - square_px(VIEW, *place)).max() < 2.0


@pytest.mark.parametrize(
    ("sheet_id", "place"), [(3, (0.5, 5.2, 1.5)), (3, (0.5, 5.4, 1.4)), (5, (-0.6, 5.2, 1.65))]
)
def test_and_in_a_map_of_the_plane(sheet_id, place):
    # the map has a pixel to 5 mm, so two of them are 3 px of the picture
    luma = seen((sheet_id, place)).luma
    assert detect(luma) == {}
    found = detect_from_above(luma, VIEW.camera())
    assert set(found) == {sheet_id}
    off = found[sheet_id] - square_px(VIEW, *place)
    assert np.abs(off).max() < 3.0
    assert np.abs(off.mean(axis=0)).max() < 0.5  # no shift of the whole


def test_a_map_shows_a_sheet_only_in_its_own_size():
    # a small print of the code lies on the green, or what is read is no sheet: half the size is refused
    frame = film(VIEW, Scene())
    lay(VIEW, frame.luma, 3, 0.1, 3.4, 0.3, side_m=0.090)
    assert detect_from_above(frame.luma, VIEW.camera()) == {}
    lay(VIEW, frame.luma, 5, -0.4, 3.6, 0.3)
    assert set(detect_from_above(frame.luma, VIEW.camera())) == {5}


def test_a_view_of_the_sky_has_no_map():
    assert detect_from_above(seen().luma, View(width=1280, height=480, tilt_deg=-40).camera()) == {}


@pytest.mark.parametrize(
    "far", [pytest.param((0.5, 5.5, 1.5), id="enlarged"), pytest.param((0.5, 5.2, 1.5), id="from above")]
)
def test_a_survey_takes_in_the_far_sheet(far):
    frames = [seen((0, NEAR), (3, far), scene=Scene(hole_m=HOLE_M), seed=k) for k in range(3)]
    lens = LensPrior(f_over_long_side=VIEW.f_px / VIEW.width)
    site = survey(((f.luma, f.cb, f.cr) for f in frames), prior=lens)
    assert sorted(sheet.id for sheet in site.sheets) == [0, 3]
    apart_m = np.subtract(site.pose.sheets[3][:2], site.pose.sheets[0][:2])
    assert np.hypot(*apart_m) == pytest.approx(np.hypot(*np.subtract(far, NEAR)[:2]), rel=0.01)
