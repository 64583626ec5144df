"""What is seen in a filmed picture is where the truth says it is."""

import dataclasses
import itertools

import cv2
import numpy as np
import pytest
from tiny_scene import NO_BALL, TINY

from sample_media.film import play, render, shot, truth
from sample_media.film.optics import view_of, views_of
from sample_media.film.scene import Bump, Light


def luma(frame):
    height = frame.yuv.shape[0] * 2 // 3
    return frame.yuv[:height].astype(float)


def film(scene, frames=None):
    return list(itertools.islice(render.render(play.script(scene)), frames))


@pytest.fixture(scope="module")
def tiny():
    return film(TINY)


@pytest.fixture(scope="module")
def empty():
    return luma(film(NO_BALL, 1)[0])


def test_the_same_scene_films_the_same_twice(tiny):
    noisy = dataclasses.replace(TINY, light=Light(), duration_s=0.1)
    first, second = film(noisy), film(noisy)

    assert len(first) == 3
    for a, b in zip(first, second, strict=True):
        np.testing.assert_array_equal(a.yuv, b.yuv)
    assert (first[0].yuv != tiny[0].yuv).any()  # noise is there at all


def test_the_ball_is_where_the_truth_says(tiny, empty):
    script = play.script(TINY)
    rows = truth._ball_px(script, script.played[0], render.frame_times(script))["rows"]
    assert len(rows) > 10
    for number, _, u, v, _ in rows:
        # Brighter than the grass. Its foot is in shade: a centroid lies about a pixel too high.
        ball = np.clip(luma(tiny[number]) - empty - 6, 0, 20)
        y, x = np.mgrid[: ball.shape[0], : ball.shape[1]]
        ball *= np.hypot(x - u, y - v) < 25
        seen = (ball * x).sum() / ball.sum(), (ball * y).sum() / ball.sum()
        assert abs(seen[0] - u) < 0.6
        assert -1.4 < seen[1] - v < 0.3


def test_the_ball_covers_the_pixels_that_the_truth_says():
    script = play.script(TINY)
    stage = render.Stage(script, view_of(TINY.camera))
    life = script.balls[0]
    for t in render.frame_times(script):
        (u, v), _ = shot.seen_at(stage.view, TINY.camera, life, t)
        ball = shot.shoot(stage.view, TINY.camera, stage.rays, life, t, stage.to_sun, TINY.hole, TINY.ball)
        y, x = np.mgrid[ball.box[1] : ball.box[3], ball.box[0] : ball.box[2]]
        cover = ball.alpha / ball.alpha.sum()

        # The outline's centre lies off the centre's image by about 0.01 px in perspective.
        assert ((cover * x).sum(), (cover * y).sum()) == pytest.approx((u, v), abs=0.05)


def test_rows_are_read_one_after_another():
    # Seen by a sensor that reads all rows at once the ball lies back by speed x read-out x row / height.
    at_once = dataclasses.replace(TINY, camera=dataclasses.replace(TINY.camera, readout_s=0.0))
    slow, fast = play.script(TINY), play.script(at_once)
    times = render.frame_times(slow)
    a = {r[0]: r for r in truth._ball_px(slow, slow.played[0], times)["rows"]}
    b = {r[0]: r for r in truth._ball_px(fast, fast.played[0], times)["rows"]}
    number = 8
    speed_px_s = (b[number + 1][2] - b[number - 1][2]) * TINY.camera.fps / 2
    delay_s = TINY.camera.readout_s * b[number][3] / TINY.camera.height

    assert a[number][2] - b[number][2] == pytest.approx(speed_px_s * delay_s, rel=0.02)


def test_a_detector_finds_the_sheet_where_the_truth_says(tiny):
    # Reference: OpenCV's marker detector; white grows into black by some tenths of a pixel.
    found, ids, _ = cv2.aruco.ArucoDetector(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    ).detectMarkers(luma(tiny[0]).astype(np.uint8))
    script = play.script(TINY)
    expected = truth.truth(script, len(tiny))["sheets"][0]["corners_px"][0]

    assert ids.ravel().tolist() == [3]
    assert np.abs(found[0][0] - expected).max() < 1.5


def test_a_fast_ball_is_smeared_and_dimmer_at_its_ends(tiny, empty):
    long = dataclasses.replace(TINY, camera=dataclasses.replace(TINY.camera, exposure_s=1 / 60))
    number = 5
    short_px = (luma(tiny[number]) - empty > 8).any(axis=0).sum()
    long_px = (luma(film(long, number + 1)[number]) - empty > 8).any(axis=0).sum()

    assert long_px > short_px + 3


def test_variable_rate_gives_uneven_times_in_order():
    uneven = dataclasses.replace(
        TINY, duration_s=8.0, camera=dataclasses.replace(TINY.camera, variable_rate=True)
    )
    times = np.array(render.frame_times(play.script(uneven)))
    steps = np.diff(times) * TINY.camera.fps

    assert times[0] == 0.0
    assert 0.5 < steps.min() < 0.95
    assert steps.max() > 1.7  # frames were lost


def test_a_cloud_takes_light():
    cloudy = dataclasses.replace(
        NO_BALL, light=dataclasses.replace(NO_BALL.light, clouds=((0.0, 1.0), (0.4, 0.3))), duration_s=0.5
    )
    frames = film(cloudy)

    assert luma(frames[-1]).mean() < 0.75 * luma(frames[0]).mean()


def test_the_ball_is_hidden_below_the_rim(empty):
    script = play.script(TINY)
    played = script.played[0]
    assert played.roll.holed
    late = dataclasses.replace(TINY, duration_s=played.putt.impact_s + float(played.roll.t[-1]) + 0.3)
    last = film(late)[-1]

    # From this low camera the floor of the cup is out of sight: the ball is gone.
    assert np.abs(luma(last) - empty).max() < 12


def test_a_knock_against_the_tripod_moves_the_whole_picture():
    bump = Bump(at_s=0.1, look_shift_m=(0.01, 0.0, 0.0))
    knocked = dataclasses.replace(
        NO_BALL, camera=dataclasses.replace(NO_BALL.camera, bumps=(bump,)), duration_s=0.2
    )
    before, *_, after = film(knocked)
    (_, old), (_, new) = views_of(knocked.camera)
    expected = new.project((0.75, 0.35, 0.0)) - old.project((0.75, 0.35, 0.0))
    # Reference: OpenCV's phase correlation of the two pictures around the sheet.
    box = np.s_[60:140, 240:400]
    moved, _ = cv2.phaseCorrelate(luma(before)[box], luma(after)[box])

    assert moved == pytest.approx(tuple(expected), abs=0.3)
    assert abs(expected[0]) > 2
