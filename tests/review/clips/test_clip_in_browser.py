"""An annotated clip in a browser: it opens, is as long and large as written, and shows its pictures."""

import html
import re
import shutil
import subprocess

import clip_setting as film
import pytest

from puttvision.clip.source import open_clip
from puttvision.review.clips.make import Studio, write_putt

PAGE = """<!doctype html><title>c</title><body><video muted preload="auto" src="putt.mp4"></video><script>
const video = document.querySelector("video");
const tell = text => { document.body.dataset.said = text; };
video.onerror = () => tell("error " + video.error.message);
video.onloadeddata = () => { video.currentTime = 1.0; };
video.onseeked = () => {
  const canvas = document.createElement("canvas");
  canvas.width = video.videoWidth; canvas.height = video.videoHeight;
  const pen = canvas.getContext("2d");
  pen.drawImage(video, 0, 0);
  try {
    const d = pen.getImageData(%d, %d, 1, 1).data;
    tell([video.videoWidth, video.videoHeight, video.duration.toFixed(3), d[0], d[1], d[2]].join(" "));
  } catch (e) { tell("error " + e.message); }
};
</script></body>"""


@pytest.mark.slow
def test_a_browser_decodes_the_clip(tmp_path):
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        pytest.skip("there is no Chromium here (Debian's package `chromium`)")
    film.write_film(tmp_path / "c.mp4", tone_hz=440)
    with open_clip(tmp_path / "c.mp4") as clip:
        studio = Studio(clip, film.sheet(), film.scene(), None)
        write_putt(studio, studio.filmed[0], tmp_path / "putt.mp4")
    with open_clip(tmp_path / "putt.mp4") as written:
        total_s = written.facts.duration_s
    # a second into the clip the ball still lies where it was struck from: white there
    x, y = film.ball_px(film.LIE_M)
    (tmp_path / "page.html").write_text(PAGE % (round(x), round(y)), encoding="utf-8")
    done = subprocess.run(
        [
            browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
            "--allow-file-access-from-files", f"--user-data-dir={tmp_path / 'profile'}",
            "--virtual-time-budget=20000", "--dump-dom", (tmp_path / "page.html").as_uri(),
        ],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    said = re.search(r'data-said="([^"]*)"', done.stdout)
    assert said, "the browser never showed a picture"
    words = html.unescape(said[1]).split()
    assert words[0] != "error", said[1]
    assert [int(words[0]), int(words[1])] == [film.WIDTH, film.HEIGHT]
    assert float(words[2]) == pytest.approx(total_s, abs=0.05)
    assert min(int(v) for v in words[3:]) > film.WHITE - 30
