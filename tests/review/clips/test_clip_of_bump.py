"""A tripod bumped before or during a putt: what is drawn lies on the ball's way all the same."""

import clip_setting
import little_clip
import numpy as np
import pytest
from little_green import BALL_RADIUS_M

from puttvision.clip.source import open_clip
from puttvision.putt.measure import measure_clip
from puttvision.review.clips.make import Studio, write_putt

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def lumas():
    return list(little_clip.pictures())


@pytest.mark.parametrize("bump_s", [0.3, 1.15], ids=["before the stroke", "while it rolls"])
def test_the_way_is_drawn_where_the_ball_rolls(lumas, bump_s, tmp_path):
    clip_path = little_clip.pack(tmp_path / "c.mp4", little_clip.bumped(lumas, bump_s))
    measured = measure_clip(clip_path)
    assert measured.scene.moved
    with open_clip(clip_path) as clip:
        studio = Studio(clip, measured.sheet, measured.scene, None)
        write_putt(studio, studio.filmed[0], tmp_path / "putt.mp4")
    frames = list(clip_setting.decoded(tmp_path / "putt.mp4"))
    before = frames[0][1].astype(float)
    after = frames[-1][1].astype(float)
    # the film is held to where the camera was when the ball was struck
    bump = bump_s < little_clip.STRUCK_S
    misses = []
    for time_s in np.arange(0.95, 1.7, 0.03):
        x_px, y_px = little_clip.seen_px(time_s, 0.0, bump=bump)
        x, rows = round(x_px), np.arange(round(y_px) - 5, round(y_px) + 6)
        drawn = np.clip(np.abs(after[rows, x] - before[rows, x]) - 20, 0, None)
        assert drawn.max() > 5, f"nothing is drawn where the ball was at {time_s:.2f} s"
        misses.append(float((rows * drawn).sum() / drawn.sum()) - y_px)
    assert abs(np.median(misses)) < 1.0
    assert np.abs(misses).max() < 2.0
    # and so is the ball itself, before and after
    for time_s in (0.8, 1.5):
        k = round(time_s * little_clip.RATE_HZ)  # the clip begins with the film
        assert frames[k][0] == pytest.approx(time_s, abs=1e-3)
        x, y = np.round(little_clip.seen_px(time_s, BALL_RADIUS_M, bump=bump)).astype(int)
        luma = frames[k][1]
        assert luma[y - 4 : y + 5, x - 4 : x + 5].mean() > luma[y - 22 : y - 14, x - 4 : x + 5].mean() + 40
