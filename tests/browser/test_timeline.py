"""The timeline of a long drill: a finger meets one putt at a time, and the one looked at is in view."""

import shutil
from itertools import pairwise

import pytest
from page_server import until

from puttvision.files import write_json
from puttvision.journal.people import add_player
from puttvision.putts import ClipInfo, Figure, Putt, PuttSheet, to_json
from puttvision.review.page.shelf import About

pytestmark = pytest.mark.slow

N = 24
_ENDS = """(which) => [...document.querySelectorAll(which)].map((one) => {
  const { left, right } = one.getBoundingClientRect()
  return [left, right]
})"""
"""Left and right end of elements, at one moment: the page may still be laid out."""


@pytest.fixture(scope="module")
def session(site, little):
    """A clip of so many putts that they would lie on each other on a phone."""
    add_player(site.desk.store, "Maren", consent=True)
    coming = site.desk.shelf.coming()
    shutil.copy(little, coming)
    kept = site.desk.shelf.take_in(coming, ".mp4", About(name="long.mp4", player="Maren"))
    putts = tuple(Putt(number=k, outcome="missed", start_s=Figure(0.09 * k)) for k in range(1, N + 1))
    clip = ClipInfo(file="long.mp4", duration_s=2.3, frames=69, width=1280, height=720)
    write_json(kept.folder / "putts.json", to_json(PuttSheet(putts=putts, clip=clip)))
    return f"{site.url}/sessions/{site.desk.keep(kept).about.session}"


def test_no_putt_lies_on_another_and_the_one_looked_at_is_in_view(page_of, session, width):
    page = page_of(width)
    page.goto(session)
    until(page, f"document.querySelectorAll('#timeline button').length === {N}")
    boxes = page.evaluate(_ENDS, "#timeline button")
    assert all(right <= left for (_, right), (left, _) in pairwise(boxes))
    assert min(right - left for left, right in boxes) >= 44
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    for number in (N, 1):
        page.evaluate(f"document.querySelector('#list [data-putt=\"{number}\"]').click()")
        until(page, f"document.querySelector('#timeline [aria-current=true]').innerText === '{number}'")
        (line,), (box,) = (page.evaluate(_ENDS, f"#timeline{part}") for part in ("", " [aria-current=true]"))
        assert line[0] <= box[0] < box[1] <= line[1]
