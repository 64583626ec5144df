"""Painting: where lines lie to a fraction of a pixel, how paints mix, what layers do to video samples."""

import numpy as np
import pytest

from puttvision import looks
from puttvision.clip.writer import OpenPicture
from puttvision.review.clips import paint
from puttvision.review.clips.layer import layer

SIZE = (120, 80)


def full(item):
    """Opacity as a picture."""
    out = np.zeros((SIZE[1], SIZE[0]))
    out[item.y, item.x] = item.alpha
    return out


def picture(luma=100, chroma=128):
    width, height = SIZE
    half = (height // 2, width // 2)
    return OpenPicture(
        None, np.full((height, width), luma, np.uint8), np.full(half, chroma, np.uint8),
        np.full(half, chroma, np.uint8),
    )  # fmt: skip


@pytest.mark.parametrize("slope", [0.0, 0.13, -0.4, 0.9])
@pytest.mark.parametrize("start_y", [40.0, 40.37])
def test_a_line_lies_where_it_should_to_a_tenth_of_a_pixel(slope, start_y):
    x = np.linspace(20, 100, 9)
    y = start_y + slope * (x - 60)
    alpha = full(paint.stroke(SIZE, np.column_stack([x, y]), "#ffffff", 3.0))
    rows = np.arange(SIZE[1])
    for column in range(30, 91):
        weight = alpha[:, column]
        centre = float((rows * weight).sum() / weight.sum())
        assert centre == pytest.approx(start_y + slope * (column - 60), abs=0.1)
        # across the line it is as wide as asked; along a column wider by the slope
        assert weight.sum() == pytest.approx(3.0 * np.hypot(1, slope), rel=0.06)


def test_a_line_at_the_edge_is_cut_off_cleanly():
    item = paint.stroke(SIZE, [(-50.0, 10.0), (300.0, 60.0)], "#ffffff", 4.0)
    assert item.x.min() == 0
    assert item.x.max() == SIZE[0] - 1
    assert paint.stroke(SIZE, [(-50.0, -10.0), (-20.0, -60.0)], "#ffffff", 4.0).n == 0


def test_dashes_leave_gaps():
    alpha = full(paint.stroke(SIZE, [(10, 40), (110, 40)], "#ffffff", 2.0, dash_px=(10, 10)))[40]
    assert alpha[11:18].min() > 0.9
    assert alpha[24:28].max() < 0.01


def test_paints_mix_as_film_does():
    # Porter and Duff 1984, "over": a = a1 + a0 (1 - a1), colours times opacity likewise
    low = paint.area(SIZE, [(10, 10), (50, 10), (50, 50), (10, 50)], "#ff0000", 0.5)
    high = paint.area(SIZE, [(10, 10), (50, 10), (50, 50), (10, 50)], "#0000ff", 0.5)
    both = paint.over(SIZE, low, high)
    middle = np.nonzero((both.x == 30) & (both.y == 30))[0][0]
    assert both.alpha[middle] == pytest.approx(0.75)
    np.testing.assert_allclose(both.rgb[middle], [0.25, 0.0, 0.5])


def test_a_ribbon_grows_with_time():
    points = np.column_stack([np.linspace(10, 110, 50), np.full(50, 40.0)])
    item = paint.ribbon(SIZE, points, ["#ffffff"] * 50, np.linspace(1.0, 2.0, 50), 4.0, 1.0)
    done = layer(item)
    reached = []
    for time_s in (0.9, 1.25, 1.5, 2.1):
        shown = picture()
        done.lay(shown, time_s)
        columns = np.nonzero((shown.luma != 100).any(axis=0))[0]
        reached.append(int(columns.max()) if len(columns) else 0)
    assert reached[0] == 0
    assert reached[1:3] == pytest.approx([35, 60], abs=2)
    assert reached[3] >= 110


@pytest.mark.parametrize(("full_range", "white", "black"), [(False, 235, 16), (True, 255, 0)])
def test_opaque_paint_gives_the_samples_of_its_colour(full_range, white, black):
    # ITU-R BT.709-6, 8 bit
    for colour, luma in (("#ffffff", white), ("#000000", black)):
        shown = picture()
        square = paint.area(SIZE, [(9.5, 9.5), (60.5, 9.5), (60.5, 60.5), (9.5, 60.5)], colour, 1.0)
        layer(square, full_range=full_range).lay(shown)
        assert shown.luma[30, 30] == pytest.approx(luma, abs=1)
        assert shown.cb[15, 15] == pytest.approx(128, abs=1)
    shown = picture()
    square = paint.area(SIZE, [(9.5, 9.5), (60.5, 9.5), (60.5, 60.5), (9.5, 60.5)], "#ff0000", 1.0)
    layer(square, full_range=full_range).lay(shown)
    due = looks.yuv("#ff0000", full_range=full_range)
    found = [int(plane[at, at]) for plane, at in ((shown.luma, 30), (shown.cb, 15), (shown.cr, 15))]
    assert found == pytest.approx(due, abs=1)


def test_what_is_not_touched_stays():
    shown = picture(luma=137, chroma=90)
    layer(paint.box(SIZE, 20, 20, 40, 30, 6, "#000000", 0.74)).lay(shown)
    assert (shown.luma[:19] == 137).all()
    assert (shown.luma[:, 62:] == 137).all()
    assert shown.luma[35, 40] == pytest.approx(137 * 0.26 + 16 * 0.74, abs=1)
    assert shown.cb[0, 0] == 90
    corner = shown.luma[20, 20]
    assert corner == 137, "corners are round"


def test_a_full_box_and_single_samples_give_the_same():
    # the same half-clear white, once as a compact square and once with a far-off speck beside it
    square = paint.area(SIZE, [(20, 20), (40, 20), (40, 40), (20, 40)], "#ffffff", 0.5)
    speck = paint.area(SIZE, [(110, 70), (112, 70), (112, 72), (110, 72)], "#ffffff", 0.5)
    alone, spread = picture(), picture()
    layer(square).lay(alone)
    layer(paint.over(SIZE, square, speck)).lay(spread)
    np.testing.assert_array_equal(alone.luma[10:50, 10:50], spread.luma[10:50, 10:50])
    np.testing.assert_array_equal(alone.cb[5:25, 5:25], spread.cb[5:25, 5:25])


def test_words_are_legible_and_inside():
    item = paint.text(SIZE, "8 mm", 10, 10, 30, "#ffffff", bold=True)
    assert item.alpha.max() == pytest.approx(1.0)
    assert np.ptp(item.x) == pytest.approx(paint.text_width("8 mm", 30, True), rel=0.15)
