"""`puttvision measure` on what cannot be measured: one clear line, nothing left behind."""

import os
import subprocess
import sys
from fractions import Fraction

import av
import numpy as np
import pytest


def run(*words):
    code = "from puttvision.cli.app import main; main()"
    env = os.environ | {"NO_COLOR": "1", "COLUMNS": "200"}
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, words)], capture_output=True, text=True, env=env, check=False
    )


def film(path, width=640, height=360, rate=30, n_frames=20):
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=rate)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.time_base = Fraction(1, rate)
        rng = np.random.default_rng(1)
        for _ in range(n_frames):
            picture = rng.integers(80, 110, (height, width, 3)).astype(np.uint8)
            for packet in stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")):
                container.mux(packet)
        for packet in stream.encode():
            container.mux(packet)


@pytest.fixture
def bad(tmp_path):
    (tmp_path / "text.mp4").write_text("not a clip")
    (tmp_path / "empty.mp4").write_bytes(b"")
    (tmp_path / "folder.mp4").mkdir()
    film(tmp_path / "bare.mp4")
    film(tmp_path / "slow.mp4", rate=10)
    film(tmp_path / "small.mp4", width=320, height=180)
    return tmp_path


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("nothing.mp4", "no such file"),
        ("text.mp4", "text.mp4"),
        ("empty.mp4", "empty"),
        ("folder.mp4", "folder"),
        ("bare.mp4", "no sheet seen"),
        ("slow.mp4", "frames a second"),
        ("small.mp4", "too small"),
    ],
)
def test_unfit_clips_give_one_line_and_leave_nothing(bad, name, says):
    done = run("measure", bad / name, "--out", bad / "out")
    assert done.returncode == 1
    lines = [line for line in done.stderr.splitlines() if line]
    assert len(lines) == 1, done.stderr
    assert says in lines[0]
    assert "Traceback" not in done.stderr + done.stdout
    assert not (bad / "out").exists()


@pytest.mark.parametrize("words", [("--hole", "12"), ("--gate", "1,2", "3,4", "--no-gate"), ("--wrong",)])
def test_wrong_words_are_exit_code_2(bad, words):
    assert run("measure", bad / "bare.mp4", *words).returncode == 2
