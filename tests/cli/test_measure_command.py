"""`puttvision measure` as a coach runs it: one good clip, and everything that cannot be measured.

The commands run in this process, with the file descriptors of standard output and error caught, so that what
FFmpeg itself would print counts too; one runs as the console script does.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import av
import little_clip
import numpy as np
import pytest

from puttvision.cli.app import main
from puttvision.putts import from_json, load

ESCAPE = "\x1b"


@pytest.fixture
def run(monkeypatch, capfd):
    """Run a command; gives (exit code, standard output, standard error). A traceback is a failed test."""

    def command(*words, **environment):
        monkeypatch.setattr(sys, "argv", ["puttvision", *map(str, words)])
        for key, value in (
            {"NO_COLOR": "1", "COLUMNS": "160", "TERM": "xterm-256color"} | environment
        ).items():
            if value is None:
                monkeypatch.delenv(key, raising=False)
            else:
                monkeypatch.setenv(key, value)
        capfd.readouterr()
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
        out, err = capfd.readouterr()
        return code, out, err

    return command


@pytest.fixture(scope="module")
def pictures():
    return list(little_clip.pictures())


@pytest.fixture(scope="module")
def first_picture(pictures):
    return pictures[0]


@pytest.fixture(scope="module")
def clip(pictures, tmp_path_factory):
    return little_clip.pack(tmp_path_factory.mktemp("clip") / "practice.mp4", pictures)


def noise(n, width=640, height=360):
    """Pictures with nothing in them to measure."""
    rng = np.random.default_rng(1)
    for _ in range(n):
        yield rng.integers(80, 110, (height, width)).astype(np.uint8)


def sound_only(path):
    with av.open(str(path), "w") as out:
        stream = out.add_stream("aac", rate=44100)
        frame = av.AudioFrame.from_ndarray(np.zeros((2, 4410), np.float32), format="fltp", layout="stereo")
        frame.sample_rate = 44100
        for packet in stream.encode(frame):
            out.mux(packet)
        for packet in stream.encode():
            out.mux(packet)


# --- a clip that can be measured -----------------------------------------------------------------


def test_a_clip_gives_a_table_and_putts_json(run, clip, tmp_path):
    code, out, err = run("measure", clip, "--out", tmp_path / "new" / "folder")
    assert code == 0, err
    assert err == ""
    assert ESCAPE not in out
    assert not list((tmp_path / "new" / "folder").glob(".*"))  # no temporary file
    assert str(tmp_path / "new" / "folder" / "putts.json") in out
    (row,) = [line for line in out.splitlines() if re.match(r"\s*1\s", line)]
    assert "start line °" in out
    assert "pace m/s" in out
    assert "all from 5.3 ft" in out
    for word in ("right", "clear", "holed"):
        assert word in row
    assert "ball gate" in out
    assert "Stimpmeter" in out


def test_figures_are_those_of_the_filmed_putt(run, clip, tmp_path):
    # the truth is the little clip's own kinematics; each figure within 1.5 of its 95 % interval
    code, out, _ = run("measure", clip, "--out", tmp_path, "--json")
    assert code == 0
    assert json.loads(out) == json.loads((tmp_path / "putts.json").read_text(encoding="utf-8"))
    sheet = load(tmp_path / "putts.json")
    assert from_json(json.loads(out)) == sheet
    assert sheet.clip is not None
    assert (sheet.clip.file, sheet.clip.frames, sheet.clip.width, sheet.clip.height) == (
        "practice.mp4", 69, 1280, 720,
    )  # fmt: skip
    assert sheet.clip.duration_s == pytest.approx(2.3, abs=0.02)
    assert sheet.green is not None
    assert sheet.green.sheets == (0, 3)
    true_px = little_clip.VIEW.project([*little_clip.HOLE_M, 0.0])
    assert sheet.green.hole_px == pytest.approx(true_px, abs=0.6)
    (putt,) = sheet.putts
    times = np.arange(0, 0.3, 1e-5)
    ways = np.array([little_clip.travelled_m(little_clip.STRUCK_S + t) for t in times])
    length_m = float(np.hypot(*(little_clip.HOLE_M - little_clip.LIE_M)))
    offset_mm = 1000 * length_m * np.sin(np.radians(little_clip.RIGHT_DEG))
    for figure, true in (
        (putt.hole_distance_m, length_m),
        (putt.start_direction_to_hole_deg, little_clip.RIGHT_DEG),
        (putt.launch_speed_m_s, 0.2 / np.interp(0.2, ways, times)),
        (putt.hole_offset_mm, offset_mm),
        (putt.gate_offset_mm, 450 * np.sin(np.radians(little_clip.RIGHT_DEG))),
    ):
        assert figure.value is not None
        assert abs(figure.value - true) < 1.5 * figure.u95
    assert putt.start_s.value == pytest.approx(little_clip.STRUCK_S, abs=0.015)
    assert (putt.outcome, putt.lipped, putt.gate_result) == ("holed", False, "clear")
    assert sheet.gate is not None
    assert sheet.gate.distance_m.value == pytest.approx(0.45, abs=0.01)
    assert sheet.gate.width_mm.value == pytest.approx(84 - 4.6, abs=6)


def test_without_a_gate_if_the_user_says_so(run, clip, tmp_path):
    # an older result is replaced whole, and into a pipe go no colours though NO_COLOR is not set
    (tmp_path / "putts.json").write_text("old")
    (tmp_path / "notes.txt").write_text("mine")
    code, out, err = run("measure", clip, "--out", tmp_path, "--no-gate", NO_COLOR=None)
    assert code == 0
    assert ESCAPE not in out + err
    assert "ball gate" not in out
    assert (tmp_path / "notes.txt").read_text() == "mine"
    assert not list(tmp_path.glob(".*"))  # no temporary file
    sheet = load(tmp_path / "putts.json")
    assert sheet.gate is None
    assert sheet.putts[0].gate_result == "none"


def test_hole_and_gate_pointed_at_by_the_user(run, clip, tmp_path):
    hole = little_clip.VIEW.project([*little_clip.HOLE_M, 0.0])
    feet = [little_clip.VIEW.project([*tee, 0.0]) for tee in little_clip.TEES_M]
    words = [f"{u:.0f},{v:.0f}" for u, v in (hole, *feet)]
    code, _, err = run("measure", clip, "--out", tmp_path, "--hole", words[0], "--gate", *words[1:])
    assert code == 0, err
    sheet = load(tmp_path / "putts.json")
    assert sheet.putts[0].outcome == "holed"
    assert sheet.gate is not None
    assert sheet.gate.distance_m.value == pytest.approx(0.45, abs=0.02)


def test_a_clip_in_which_nobody_putts_says_so(run, first_picture, tmp_path):
    path = little_clip.pack(tmp_path / "waiting.mp4", [first_picture] * 20)
    code, out, _ = run("measure", path, "--out", tmp_path / "out")
    assert code == 0
    assert "no putt seen" in out
    assert load(tmp_path / "out" / "putts.json").putts == ()


def test_a_file_that_breaks_off_is_measured_as_far_as_it_is_whole(run, clip, tmp_path):
    # a copy that stopped after three quarters of the file
    data = clip.read_bytes()
    cut = tmp_path / "cut.mp4"
    cut.write_bytes(data[: len(data) * 3 // 4])
    code, out, err = run("measure", cut, "--out", tmp_path / "out")
    assert code == 0, err
    assert "whole up to" in out
    sheet = load(tmp_path / "out" / "putts.json")
    assert sheet.clip is not None
    assert sheet.clip.frames < 68
    assert any("whole up to" in text for text in sheet.warnings)


# --- what cannot be measured ---------------------------------------------------------------------


def make_text(folder):
    (folder / "text.mp4").write_text("not a clip at all, but a letter\n" * 50)


def make_page(folder):
    (folder / "page.mp4").write_bytes(b"%PDF-1.4\n" + bytes(range(256)) * 40)


BAD = {
    # name: (how to make it, words of the message)
    "nothing.mp4": (lambda _: None, ("no such file",)),
    "folder.mp4": (lambda folder: (folder / "folder.mp4").mkdir(), ("folder", "name the video file")),
    "text.mp4": (make_text, ("no video that can be read",)),
    "page.mp4": (make_page, ("no video that can be read",)),
    "empty.mp4": (lambda folder: (folder / "empty.mp4").write_bytes(b""), ("empty", "copy it")),
    "sound.mp4": (lambda folder: sound_only(folder / "sound.mp4"), ("no video stream", "only sound")),
    "still.mp4": (
        lambda folder: little_clip.pack(folder / "still.mp4", noise(1)),
        ("fewer than two pictures",),
    ),
    "slow.mp4": (
        lambda folder: little_clip.pack(folder / "slow.mp4", noise(12), rate_hz=10),
        ("10.0 frames a second", "at least 24"),
    ),
    "small.mp4": (
        lambda folder: little_clip.pack(folder / "small.mp4", noise(12, 320, 180)),
        ("320x180", "too small", "640x360"),
    ),
    "bare.mp4": (
        lambda folder: little_clip.pack(folder / "bare.mp4", noise(20)),
        ("no sheet seen in any of", "puttvision sheet"),
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_unfit_clips_give_one_line_and_leave_nothing(run, tmp_path, name):
    make, says = BAD[name]
    make(tmp_path)
    before = sorted(tmp_path.iterdir())
    code, out, err = run("measure", tmp_path / name, "--out", tmp_path / "out")
    assert code == 1
    assert out == ""
    lines = err.splitlines()
    assert len(lines) == 1, err
    assert lines[0].startswith("puttvision: ")
    for word in (name if "sheet" not in says[0] else "frames", *says):
        assert word in lines[0]
    assert sorted(tmp_path.iterdir()) == before  # no folder, no temporary file


def test_what_is_wrong_stays_wrong_with_json(run, tmp_path):
    code, out, err = run("measure", tmp_path / "nothing.mp4", "--json")
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1


def test_a_place_that_cannot_be_written_is_one_line(run, clip, tmp_path):
    (tmp_path / "out").write_text("a file, no folder")
    code, _, err = run("measure", clip, "--out", tmp_path / "out")
    assert code == 1
    assert len(err.splitlines()) == 1
    assert "cannot write" in err
    assert (tmp_path / "out").read_text() == "a file, no folder"


@pytest.mark.parametrize("at", ["9000,40", "-3,200"])
def test_a_hole_that_is_not_in_the_picture_is_one_line(run, clip, tmp_path, at):
    code, _, err = run("measure", clip, "--out", tmp_path / "out", "--hole", at)
    assert code == 1
    assert len(err.splitlines()) == 1
    assert "outside the picture of 1280 x 720" in err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("feet", "says"),
    [
        (("-5,3", "400,300"), "--gate -5,3 is outside the picture of 1280 x 720"),
        (("10,10", "12,12"), "lie behind the ball; point at the feet"),
        (("400,300", "401,300"), "mm apart on the green; point at the feet"),
        (("400,300", "400,300"), "0 mm apart on the green"),
        (("300,400", "900,300"), "m apart on the green"),
    ],
)
def test_a_gate_that_can_be_none_is_one_line(run, clip, tmp_path, feet, says):
    code, out, err = run("measure", clip, "--out", tmp_path / "out", "--gate", *feet)
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1
    assert says in err
    assert not (tmp_path / "out").exists()


def test_a_place_that_cannot_be_written_is_told_before_the_clip_is_measured(run, clip, tmp_path, monkeypatch):
    measured = []
    monkeypatch.setattr("puttvision.putt.measure.measure_clip", lambda *_: measured.append(1))
    (tmp_path / "out").write_text("a file, no folder")
    code, _, err = run("measure", clip, "--out", tmp_path / "out" / "deeper")
    assert code == 1
    assert "cannot write" in err
    assert measured == []


# --- wrong usage ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--hole", "12"), "1312,655"),
        (("--hole", "a,b"), "two numbers"),
        (("--hole", "1,2,3"), "two numbers"),
        (("--hole", "nan,3"), "two numbers"),
        (("--gate", "inf,1", "2,3"), "two numbers"),
        (("--gate", "1,2", "3"), "two numbers"),
        (("--gate", "1,2", "3,4", "--no-gate"), "exclude each other"),
        (("--sheet", "3:1,2 3,4 5,6"), "four corners"),
        (("--sheet", "12:1,2 3,4 5,6 7,8"), "sheet's number"),
        (("--capture-rate", "0"), "frames a second"),
        (("--capture-rate", "fast"), "capture-rate"),
        (("--wrong",), "--wrong"),
    ],
)
def test_wrong_words_are_exit_code_2(run, tmp_path, words, says):
    code, out, err = run("measure", tmp_path / "any.mp4", "--out", tmp_path / "out", *words)
    assert code == 2
    assert out == ""
    assert says in err
    assert "Traceback" not in err
    assert not (tmp_path / "out").exists()


def test_no_clip_named_is_exit_code_2(run):
    code, _, err = run("measure")
    assert code == 2
    assert "clip" in err.lower()


def test_help_says_what_every_option_is(run):
    code, out, _ = run("measure", "--help")
    assert code == 0
    for option in ("--out", "--hole", "--gate", "--no-gate", "--sheet", "--capture-rate", "--json"):
        assert option in out


# --- as the console script -----------------------------------------------------------------------


def test_the_console_script_itself(tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", "from puttvision.cli.app import main; main()", "measure", "nothing.mp4"],
        capture_output=True, text=True, check=False, cwd=tmp_path, env=os.environ | {"NO_COLOR": "1"},
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert list(Path(tmp_path).iterdir()) == []
