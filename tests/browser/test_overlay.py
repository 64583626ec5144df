"""The drawing lies on the ball: pixels of the frame shown and of the canvas are read back and compared."""

import json
import shutil

import little_clip
import numpy as np
import pytest
from little_green import BALL_RADIUS_M
from page_server import until

from puttvision.files import write_json, write_text
from puttvision.journal.people import add_player
from puttvision.putt.measure import Options, measure_clip
from puttvision.putts import to_json
from puttvision.resources import shipped
from puttvision.review.page.shelf import About
from puttvision.scene import to_text

pytestmark = pytest.mark.slow

_RING = """() => {
  const kept = film.overlay, putt = film.putt()
  const row = putt.seen.find(([time]) => Math.abs(time - film.now) < 0.5 / film.facts.rate_hz)
  film.overlay = { ...kept, hole: [[-900, -900]], posts: [], putts: [{ ...putt, line: [], seen: [row] }] }
  film.draw()
  const { width, height } = film.canvas
  const data = film.canvas.getContext('2d').getImageData(0, 0, width, height).data
  let [n, x, y] = [0, 0, 0]
  for (let i = 3; i < data.length; i += 4) {
    n += data[i]
    x += data[i] * ((i >> 2) % width)
    y += data[i] * Math.floor((i >> 2) / width)
  }
  const scale = kept.width / width
  film.overlay = kept
  film.draw()
  return [(x / n + 0.5) * scale - 0.5, (y / n + 0.5) * scale - 0.5, row[3]]
}"""
"""The middle of the ring as it stands on the canvas, in pixels of the clip; and the ball's radius."""

_FRAME = """([x, y, size]) => {
  const canvas = document.createElement('canvas')
  canvas.width = canvas.height = size
  const pen = canvas.getContext('2d')
  pen.drawImage(film.video, x, y, size, size, 0, 0, size, size)
  const data = pen.getImageData(0, 0, size, size).data
  return Array.from({ length: size * size }, (_, i) => data[4 * i] + data[4 * i + 1] + data[4 * i + 2])
}"""
"""Light of a square of the frame shown."""


def ball_in_frame(page, near, radius):
    """Middle of what is brighter than grass near a place, in pixels of the frame shown."""
    half = round(3 * radius) + 4
    x0, y0 = (round(c) - half for c in near[:2])
    size = 2 * half + 1
    light = np.array(page.evaluate(_FRAME, [x0, y0, size]), float).reshape(size, size)
    v, u = np.mgrid[:size, :size]
    grass = np.median(light)
    # little more than grass: the side away from the sun is hardly brighter
    ball = light > grass + 0.15 * (light.max() - grass)
    ball &= np.hypot(u - half, v - half) < 1.5 * radius + 3
    return x0 + u[ball].mean(), y0 + v[ball].mean()


@pytest.fixture
def show(page_of, site):
    """Opens a measured clip as a session."""

    def open_session(clip, options=None, width="desktop"):
        player = f"Ines {clip.stem}"
        if player not in site.desk.players():
            add_player(site.desk.store, player, consent=True)
            coming = site.desk.shelf.coming()
            shutil.copy(clip, coming)
            kept = site.desk.shelf.take_in(coming, ".mp4", About(name=clip.name, player=player))
            measurement = measure_clip(clip, options)
            write_json(kept.folder / "putts.json", to_json(measurement.sheet))
            write_text(kept.folder / "scene.json", to_text(measurement.scene))
            site.desk.keep(kept)
        (facts,) = (one for one in site.desk.sessions() if one.player == player)
        page = page_of(width)
        page.goto(f"{site.url}/sessions/{facts.id}")
        until(page, "Boolean(window.film && film.overlay && film.video.readyState >= 2)")
        return page

    return open_session


def at(page, seconds, rate):
    page.evaluate(f"film.seek({seconds})")
    until(page, f"Math.abs(film.now - {seconds}) < {0.6 / rate}")
    page.wait_for_timeout(100)


def test_the_ring_is_where_the_ball_was_filmed(show, little, width):
    page = show(little, width=width)
    turn = np.radians(little_clip.RIGHT_DEG)
    way = np.cos(turn) * little_clip.ALONG + np.sin(turn) * little_clip.RIGHT
    for k in (20, 23, 27, 32, 38):
        at(page, k / 30, 30)
        x, y, _ = page.evaluate(_RING)
        place = little_clip.LIE_M + way * little_clip.travelled_m(k / 30)
        true = little_clip.VIEW.project([*place, BALL_RADIUS_M])
        # a phone's canvas has a third of the clip's pixels: its own half pixel comes on top
        assert np.hypot(x - true[0], y - true[1]) < 2.0


def test_after_a_bump_the_ring_is_round_the_ball_still(show, tmp_path_factory):
    lumas = list(little_clip.bumped(little_clip.pictures(), 1.0))
    page = show(little_clip.pack(tmp_path_factory.mktemp("clip") / "bumped.mp4", lumas), Options())
    for k in (20, 36, 40, 44):  # clear of the tees; a bump is told within 0.2 s
        at(page, k / 30, 30)
        x, y, _ = page.evaluate(_RING)
        seen = little_clip.seen_px(k / 30, BALL_RADIUS_M, bump=k > 30)
        assert np.hypot(x - seen[0], y - seen[1]) < 2.0, k


def test_the_ring_is_round_the_ball_at_several_putts(show, width):
    page = show(shipped("sample_media", "quillow_ball_gate.mp4"), Options(), width)
    putts = page.evaluate("film.overlay.putts")
    assert len(putts) >= 3
    truth = json.loads(shipped("sample_media", "quillow_ball_gate.truth.json").read_text())
    filmed = {row[1]: row[2:4] for putt in truth["putts"] for row in putt["ball_px"]["rows"]}
    looked = 0
    for putt in putts:
        page.evaluate(f"document.querySelector('#list [data-putt=\"{putt['number']}\"]').click()")
        for later in (0.5, 0.9):
            row = min(putt["seen"], key=lambda one, t=putt["start_s"] + later: abs(one[0] - t))
            at(page, row[0], 60)
            x, y, radius = page.evaluate(_RING)
            seen = ball_in_frame(page, (x, y), radius)
            assert np.hypot(x - seen[0], y - seen[1]) < 2.0, (putt["number"], later)
            true = filmed[min(filmed, key=lambda one, t=row[0]: abs(one - t))]
            assert np.hypot(x - true[0], y - true[1]) < 2.0, (putt["number"], later)
            looked += 1
    assert looked >= 6
