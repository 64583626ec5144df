"""What goes wrong on purpose in films: wind, slow motion, upright phones, towels, strays, wet grass."""

import dataclasses
import itertools
import json

import av
import cv2
import numpy as np
import pytest
from tiny_scene import NO_BALL, TINY

from sample_media.film import play, render, sensor, truth
from sample_media.film.make import film
from sample_media.film.optics import distort, undistort, view_at, view_of
from sample_media.film.scene import Hover, Stray, Sway, Towel


def lumas(scene, frames=None):
    reel = itertools.islice(render.render(play.script(scene)), frames)
    return [frame.yuv[: scene.camera.height].astype(float) for frame in reel]


def test_only_what_changed_is_developed_and_it_comes_out_the_same():
    script = play.script(dataclasses.replace(TINY, duration_s=0.4))
    stage = render.Stage(script, view_of(TINY.camera))
    size = (TINY.camera.width, TINY.camera.height)
    light = dataclasses.replace(TINY.light, sharpen=0.3)
    quick = sensor.Developer(light, sensor.Grain(light, 1, *size), *size)
    for t in render.frame_times(script):
        picture = stage.frame(t)
        anew = sensor.Developer(light, sensor.Grain(light, 1, *size), *size)
        np.testing.assert_array_equal(
            quick.frame(picture, 1.0, stage.changed), anew.frame(picture, 1.0, None)
        )
        whole = render.Stage(script, view_of(TINY.camera)).frame(t) if t == pytest.approx(0.2) else picture
        np.testing.assert_array_equal(picture, whole)


def test_wind_moves_the_picture_as_the_truth_says():
    camera = dataclasses.replace(TINY.camera, sway=Sway(pan_deg=0.4, tilt_deg=0.2, period_s=0.8))
    windy = dataclasses.replace(NO_BALL, camera=camera)
    pictures, times = lumas(windy), render.frame_times(play.script(windy))
    sheet = np.array([0.75, 0.35, 0.0])
    # Reference: OpenCV's phase correlation of the pictures around the sheet.
    box = np.s_[60:140, 240:400]
    ways = []
    for t, picture in zip(times[1:], pictures[1:], strict=True):
        expected = view_at(camera, t).project(sheet) - view_of(camera).project(sheet)
        moved, _ = cv2.phaseCorrelate(pictures[0][box], picture[box])
        assert moved == pytest.approx(tuple(expected), abs=0.25)
        ways.append(np.abs(expected).max())
    assert max(ways) > 2
    told = truth.truth(play.script(windy), len(times))["cameras"]
    assert [round(c["from_s"], 2) for c in told] == [0.0, 0.25]


def test_a_lens_that_distorts_may_not_sway():
    camera = dataclasses.replace(TINY.camera, sway=Sway(pan_deg=0.1), distortion=(0.1, 0.0, 0.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="without distortion"):
        lumas(dataclasses.replace(NO_BALL, camera=camera), 1)


def test_a_strong_lens_can_be_undone():
    lens = np.array([-0.18, 0.03, 0.0004, -0.0003, 0.0])
    x, y = np.meshgrid(np.linspace(-1.35, 1.35, 9), np.linspace(-0.75, 0.75, 7))
    np.testing.assert_allclose(undistort(*distort(x, y, lens), lens), (x, y), atol=1e-8)


def test_a_slow_motion_file_plays_slower_than_it_was_filmed(tmp_path):
    camera = dataclasses.replace(TINY.camera, fps=120.0, file_fps=30.0)
    path = film(dataclasses.replace(TINY, camera=camera, duration_s=0.2, preset="ultrafast"), tmp_path)
    with av.open(str(path)) as clip:
        times = [float(frame.pts * frame.time_base) for frame in clip.decode(video=0)]

    assert len(times) == 24
    np.testing.assert_allclose(np.diff(times), 1 / 30, atol=1e-4)
    assert json.loads((tmp_path / "tiny.truth.json").read_text())["clip"]["duration_s"] == pytest.approx(0.2)


def test_a_phone_held_upright_writes_a_turn_that_stands_the_picture_up(tmp_path):
    camera = dataclasses.replace(TINY.camera, roll_deg=90.0, turn_deg=90)
    path = film(dataclasses.replace(TINY, camera=camera, duration_s=0.1, preset="ultrafast"), tmp_path)
    with av.open(str(path)) as clip:
        frame = next(clip.decode(video=0))
    # PyAV tells the turn of a display matrix counter-clockwise.
    assert frame.rotation % 360 == 270
    upright = np.rot90(frame.to_ndarray(format="gray"), k=-1)
    hedge, green = upright[:20].mean(), upright[-150:].mean()
    assert upright.shape == (480, 270)
    assert hedge != pytest.approx(green, abs=10)
    view = view_of(camera)
    low, high = view.project((0.5, 0.0, 0.0)), view.project((0.5, 0.0, 0.2))
    assert high[0] < low[0] - 20  # what is up in the world lies left in the sensor's picture


def test_a_towel_lies_there_until_it_is_drawn_away():
    towel = Towel(at=(0.75, 0.35), size_m=(0.4, 0.3), colour=(0.7, 0.1, 0.1), away_s=0.1, away_m=(3.0, 3.0))
    scene = dataclasses.replace(NO_BALL, towels=(towel,), duration_s=1.2)
    bare, covered = lumas(NO_BALL, 1)[0], lumas(scene)
    u, v = np.rint(view_of(TINY.camera).project((0.75, 0.35, 0.0))).astype(int)
    box = np.s_[v - 8 : v + 9, u - 8 : u + 9]

    assert bare[box].std() > 30  # the sheet
    assert covered[0][box].std() < 10
    assert covered[-1][box].std() == pytest.approx(bare[box].std(), rel=0.05)


def test_a_hand_above_the_ball_takes_its_sun():
    ball = dataclasses.replace(TINY.putts[0], impact_s=5.0)
    at = (-0.0, -0.0, 0.0213)
    sun = np.array(
        [0.5 * np.cos(np.radians(55.0)), -0.866 * np.cos(np.radians(55.0)), np.sin(np.radians(55.0))]
    )
    x, y, z = np.array(at) + 0.38 * sun + (0.0, 0.0, -0.05)
    hover = Hover(way=((0.0, x, y, z), (9.0, x, y, z)), shoulder=(-0.5, -1.1, 1.0))
    lit = lumas(dataclasses.replace(TINY, putts=(ball,)), 1)[0]
    shaded = lumas(dataclasses.replace(TINY, putts=(ball,), hovers=(hover,)), 1)[0]
    u, v = np.rint(view_of(TINY.camera).project(at)).astype(int)
    box = np.s_[v - 3 : v + 4, u - 3 : u + 4]

    assert shaded[box].mean() < 0.75 * lit[box].mean()


def test_a_stray_ball_rolls_and_is_no_putt():
    stray = Stray(at_s=0.1, start=(0.9, 0.2), velocity=(-1.0, 0.0))
    script = play.script(dataclasses.replace(NO_BALL, strays=(stray,)))
    (ball,) = script.balls

    assert not ball.visible(0.05)
    assert ball.place(0.4)[0] < 0.7
    assert truth.truth(script, 15)["putts"] == []


def test_wet_grass_glitters_and_a_bold_line_is_dark():
    wet = dataclasses.replace(NO_BALL, green=dataclasses.replace(NO_BALL.green, wet=1.0))
    assert lumas(wet, 1)[0].mean() > lumas(NO_BALL, 1)[0].mean() + 0.5

    lined = dataclasses.replace(TINY, ball_line_m=0.012)
    assert np.abs(lumas(lined, 1)[0] - lumas(TINY, 1)[0]).max() > 30
