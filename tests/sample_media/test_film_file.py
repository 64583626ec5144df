"""A filmed scene as a file: the command, the frames' times, the truth beside it."""

import dataclasses
import json
from fractions import Fraction

import av
import numpy as np
import pytest
from tiny_scene import TINY

from sample_media.film import play, render
from sample_media.film.make import film, main
from sample_media.film.scene import BallGate, Golfer, HeadGate, Putt, Walker


def decoded(path):
    with av.open(str(path)) as clip:
        return [(float(f.pts * f.time_base), f.to_ndarray(format="yuv420p")) for f in clip.decode(video=0)]


@pytest.mark.parametrize("variable", [False, True], ids=["steady", "variable rate"])
@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_a_file_keeps_every_frame_and_its_time(tmp_path, variable, codec):
    if codec not in av.codecs_available:
        pytest.skip(f"this build of PyAV cannot write {codec}")
    scene = dataclasses.replace(
        TINY, codec=codec, preset="ultrafast", camera=dataclasses.replace(TINY.camera, variable_rate=variable)
    )
    path = film(scene, tmp_path)
    told = json.loads((tmp_path / "tiny.truth.json").read_text())
    frames = decoded(path)
    times = told["pts_s"] if variable else [i / scene.camera.fps for i in range(told["clip"]["frames"])]

    assert len(frames) == told["clip"]["frames"]
    # Time stamps count in 1/90000 s or finer (the container may choose a finer base).
    np.testing.assert_allclose([t for t, _ in frames], times, atol=float(Fraction(1, 90000)))


def test_the_file_shows_what_was_filmed(tmp_path):
    frames = decoded(film(dataclasses.replace(TINY, crf=12.0), tmp_path))
    raw = list(render.render(play.script(TINY)))
    for (_, seen), frame in zip(frames, raw, strict=True):
        assert np.abs(seen.astype(float) - frame.yuv).mean() < 2


def test_player_putter_gates_and_passer_by_are_in_the_picture():
    scene = dataclasses.replace(
        TINY,
        camera=dataclasses.replace(
            TINY.camera, width=256, height=144, focal_px=200.0, centre_px=(127.5, 71.5)
        ),
        golfer=Golfer(),
        gate=BallGate(),
        head_gate=HeadGate(),
        walkers=(Walker(way=((0.0, 1.2, 0.5), (1.0, 0.9, 0.5)), trousers=(0.6, 0.6, 0.6)),),
        other_balls=((-0.35, -0.1),),
        duration_s=0.2,
    )
    bare = dataclasses.replace(scene, golfer=None, gate=None, head_gate=None, walkers=(), other_balls=())
    crowded_frame = next(render.render(play.script(scene))).yuv[:144].astype(int)
    bare_frame = next(render.render(play.script(bare))).yuv[:144].astype(int)
    stage = render.Stage(play.script(scene), render.views_of(scene.camera)[0][1])

    def changed(world):
        u, v = np.rint(stage.view.project(world)).astype(int)
        assert 1 <= u < 255
        assert 1 <= v < 143
        return np.abs(crowded_frame - bare_frame)[v - 1 : v + 2, u - 1 : u + 2].max() > 12

    pose = play.script(scene).swing.pose(0.0)
    assert changed((-0.35, -0.1, 0.02))  # the ball that lies about
    assert changed((0.09, 0.46, 0.20))  # a shin
    assert changed((pose[0], pose[1], 0.02))  # putter head
    assert changed((1.2, 0.5, 0.25))  # the passer-by
    assert all(changed((p.x, p.y, 0.02)) for p in play.script(scene).posts if p.name == "right")


def test_raking_without_balls_or_time_is_refused():
    raked = Putt(impact_s=5.0, bring="rake")
    with pytest.raises(ValueError, match="no ball is left"):
        play.script(dataclasses.replace(TINY, putts=(raked,)))
    hurried = (Putt(impact_s=1.5), Putt(impact_s=3.5, bring="rake"))
    with pytest.raises(ValueError, match="no time to rake"):
        play.script(dataclasses.replace(TINY, golfer=Golfer(), putts=hurried, other_balls=((-0.4, 0.0),)))


def test_the_command_names_its_clips(capsys):
    assert main(["--list"]) == 0
    assert "quillow_head_gate: " in capsys.readouterr().out
    with pytest.raises(SystemExit) as stop:
        main(["no_such_clip"])
    assert stop.value.code == 2
    assert "no clip called no_such_clip" in capsys.readouterr().err
