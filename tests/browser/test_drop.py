"""Dragging clips in, clips the browser cannot play, and a second visitor on a network."""

import base64
import re
import shutil

import av
import little_clip
import numpy as np
import pytest
from axe_core import serious_faults
from page_server import running, until

from puttvision.files import write_json
from puttvision.journal.people import add_player
from puttvision.putts import ClipInfo, Figure, Putt, PuttSheet, to_json
from puttvision.review.page.guard import Access
from puttvision.review.page.shelf import About

pytestmark = pytest.mark.slow

_DROP = """([name, type, data]) => {
  const bytes = Uint8Array.from(atob(data), (sign) => sign.charCodeAt(0))
  const dragged = new DataTransfer()
  dragged.items.add(new File([bytes], name, { type }))
  for (const kind of ['dragenter', 'dragover', 'drop']) {
    const facts = { dataTransfer: dragged, bubbles: true, cancelable: true }
    document.body.dispatchEvent(new DragEvent(kind, facts))
  }
}"""


_BOXES = """() => ['video', 'over'].map((id) => {
  const { x, y, width, height } = document.getElementById(id).getBoundingClientRect()
  return { x, y, width, height }
})"""


def drag_in(page, name, kind, data):
    page.evaluate(_DROP, [name, kind, base64.b64encode(data).decode()])


def test_what_is_no_clip_is_refused_where_it_is_dropped(page_of, site):
    page = page_of()
    page.goto(site.url)
    page.get_by_label("Everyone in the picture").check()
    drag_in(page, "notes.txt", "text/plain", b"hello")
    until(page, "document.getElementById('fault')?.textContent.includes('.mp4 or .mov')")
    drag_in(page, "fake.mp4", "video/mp4", b"no clip at all")
    until(page, "document.getElementById('fault')?.textContent.includes('no clip')")
    page_of.faults[:] = [fault for fault in page_of.faults if "415" not in fault]  # the browser's own line


def test_consent_is_asked_for_before_anything_is_sent(page_of, site):
    page = page_of()
    page.goto(site.url)
    drag_in(page, "clip.mp4", "video/mp4", b"\0\0\0\x18ftypisom")
    until(page, "document.getElementById('fault')?.textContent.includes('agreed')")


def test_a_dragged_clip_is_measured_and_says_what_is_wrong(page_of, site, tmp_path):
    lumas = [luma for _, luma in zip(range(8), little_clip.pictures(), strict=False)]
    for luma in lumas:
        luma[:] = np.random.default_rng(1).integers(90, 110, luma.shape)  # grass, and nothing on it
    clip = little_clip.pack(tmp_path / "grass.mp4", lumas)
    page = page_of()
    page.goto(site.url)
    page.get_by_label("Everyone in the picture").check()
    drag_in(page, "grass.mp4", "video/mp4", clip.read_bytes())
    page.wait_for_url(re.compile(r"/clips/\w+$"))
    until(page, "document.getElementById('fault')?.textContent.includes('no sheet')", 60)
    page.goto(site.url)
    assert "grass.mp4" in page.get_by_role("region", name="Clips that are no session yet").inner_text()


def test_a_clip_the_browser_cannot_play_gets_a_copy(page_of, site, tmp_path):
    if "libx265" not in av.codecs_available:
        pytest.skip("this FFmpeg writes no HEVC")
    clip = tmp_path / "hevc.mp4"
    with av.open(str(clip), "w") as out:
        stream = out.add_stream("libx265", rate=30)
        stream.width, stream.height, stream.pix_fmt = 1280, 720, "yuv420p"
        stream.options = {"preset": "ultrafast", "x265-params": "log-level=none"}
        stream.codec_tag = "hvc1"
        for k in range(12):
            picture = av.VideoFrame.from_ndarray(
                np.full((1080, 1280), 60 + 10 * k, np.uint8), format="yuv420p"
            )
            out.mux(stream.encode(picture))
        out.mux(stream.encode())
    add_player(site.desk.store, "Oluf", consent=True)
    coming = site.desk.shelf.coming()
    shutil.copy(clip, coming)
    kept = site.desk.shelf.take_in(coming, ".mp4", About(name="hevc.mp4", player="Oluf"))
    info = ClipInfo(file="hevc.mp4", duration_s=0.4, frames=12, width=1280, height=720)
    sheet = PuttSheet(putts=(Putt(number=1, outcome="missed", start_s=Figure(0.1)),), clip=info)
    write_json(kept.folder / "putts.json", to_json(sheet))
    session = site.desk.keep(kept).about.session
    page = page_of()
    page.goto(f"{site.url}/sessions/{session}")
    page.wait_for_selector("#list li")
    page.wait_for_timeout(500)
    if page.evaluate("film.video.videoWidth") > 0:
        pytest.skip("this Chromium plays HEVC")
    page.get_by_role("button", name="Make a copy it can play").click()
    until(page, "film.video.readyState >= 2 && film.video.videoWidth === 1280", 60)
    assert page.locator("#no-play").is_hidden()


def test_an_upright_clip_keeps_its_shape(page_of, site, tmp_path, width):
    lumas = [np.full((1280, 720), 60 + 10 * k, np.uint8) for k in range(8)]
    clip = little_clip.pack(tmp_path / "upright.mp4", lumas)
    name = f"upright {width}"
    add_player(site.desk.store, name, consent=True)
    coming = site.desk.shelf.coming()
    shutil.copy(clip, coming)
    kept = site.desk.shelf.take_in(coming, ".mp4", About(name=f"{width}.mp4", player=name))
    info = ClipInfo(file=f"{width}.mp4", duration_s=0.3, frames=8, width=720, height=1280)
    sheet = PuttSheet(putts=(Putt(number=1, outcome="missed"),), clip=info)
    write_json(kept.folder / "putts.json", to_json(sheet))
    page = page_of(width)
    page.goto(f"{site.url}/sessions/{site.desk.keep(kept).about.session}")
    until(page, "Boolean(window.film && film.facts.width === 720)")
    box, over = page.evaluate(_BOXES)  # at one moment: the page may still be laid out
    assert box["width"] / box["height"] == pytest.approx(720 / 1280, rel=0.01)
    assert box["height"] < 0.7 * page.viewport_size["height"]
    assert over == pytest.approx(box, abs=0.6)


def test_on_a_network_the_token_opens_the_page(page_of, tmp_path, axe):
    with running(tmp_path, access=Access(hosts=frozenset({"localhost"}), token="abc123")) as guarded:
        page = page_of("phone")
        page.goto(guarded.url)
        page.get_by_label("Token").fill("abc12")
        page.get_by_role("button", name="Open").click()
        page.wait_for_selector(".fault")
        assert serious_faults(axe, page) == []
        page.get_by_label("Token").fill("abc123")
        page.get_by_role("button", name="Open").click()
        page.wait_for_selector("#drop")
        assert "token" not in page.url
        page.goto("about:blank")  # what the page still asks for would find no server
        page_of.faults[:] = [
            fault for fault in page_of.faults if "401" not in fault
        ]  # the browser's own line
