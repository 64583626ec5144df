"""A clip in which the hole is not found: the page says so, a person points at it, and it is measured."""

import re

import little_clip
import numpy as np
import pytest
from page_server import until

pytestmark = pytest.mark.slow

HOLE_PX = little_clip.VIEW.project([*little_clip.HOLE_M, 0.0])


@pytest.fixture(scope="module")
def holeless(tmp_path_factory):
    """The little clip with grass over the hole."""

    def covered():
        x, y = (round(c) for c in HOLE_PX)
        for luma in little_clip.pictures():
            patch = luma.copy()
            patch[y - 14 : y + 15, x - 34 : x + 35] = luma[y + 30 : y + 59, x - 34 : x + 35]
            yield patch

    return little_clip.pack(tmp_path_factory.mktemp("clip") / "no hole.mp4", covered())


def test_a_hole_is_placed_by_hand(page_of, site, holeless, width):
    page = page_of(width)
    page.goto(site.url)
    page.get_by_label("Everyone in the picture").check()
    page.get_by_label("Choose or film a clip").set_input_files(str(holeless))
    page.wait_for_url(re.compile(r"/clips/\w+$"))
    until(page, "document.getElementById('fault').textContent.includes('hole')", 120)
    until(page, "document.getElementById('still').naturalWidth === 1280")
    box = page.locator("#still").bounding_box()
    scale = box["width"] / 1280
    spot = {"x": float((HOLE_PX[0] + 0.5) * scale), "y": float((HOLE_PX[1] + 0.5) * scale)}
    picture = page.locator("#place")
    if width == "phone":
        picture.tap(position=spot)
    else:
        picture.click(position=spot)
    # what a finger misses, the arrow keys mend
    placed = page.locator("#placed").inner_text()
    x, y = (float(number) for number in re.search(r"hole at ([\d.]+), ([\d.]+)", placed).groups())
    assert np.hypot(x - HOLE_PX[0], y - HOLE_PX[1]) < 3 / scale
    for key, far in (("Right", HOLE_PX[0] - x), ("Down", HOLE_PX[1] - y)):
        for _ in range(abs(round(far))):
            page.keyboard.press(f"Arrow{key}" if far > 0 else {"Right": "ArrowLeft", "Down": "ArrowUp"}[key])
    page.get_by_role("button", name="Measure").click()
    page.wait_for_url(re.compile(r"/sessions/\d+$"), timeout=120_000)
    page.wait_for_selector("#list")
    sheet = site.desk.stands(int(page.url.rsplit("/", 1)[1])).measured
    assert np.hypot(*(np.array(sheet.green.hole_px) - HOLE_PX)) < 2.0


@pytest.mark.usefixtures("holeless")
def test_marks_that_are_not_complete_are_named(page_of, site):
    (clip, *_) = site.desk.shelf.all()
    page = page_of()
    page.goto(f"{site.url}/clips/{clip.id}")
    until(page, "document.getElementById('still').naturalWidth === 1280")
    page.get_by_text("Left post").click()
    page.locator("#place").click(position={"x": 300, "y": 200})
    page.get_by_role("button", name="Measure").click()
    assert "two posts" in page.locator("#fault").inner_text()
