"""`puttvision lens`: a profile from a clip of the board, kept, listed, chosen and used."""

import json
import sys
from dataclasses import replace

import cv2
import little_clip
import numpy as np
import pytest

from puttvision.cli import lens_store
from puttvision.cli.app import main
from puttvision.cli.lens_store import Profile, all_profiles, default_name, known_lens, load, save
from puttvision.clip.facts import ClipFacts
from puttvision.errors import PuttvisionError
from puttvision.green.lens import Lens
from puttvision.green.lens_board import SQUARE_M, board_cells

FACTS = ClipFacts(
    file="a.mp4", width=1280, height=720, stored_width=1280, stored_height=720, codec="h264",
    pixel_format="yuv420p", rotation_deg=0, mirrored=False, pixel_aspect=1.0, n_frames_header=None,
    duration_s=None, nominal_rate_hz=30.0, time_scale=1.0, focal_35mm=26.0, full_range=False,
    phone="Quillow Q7",
)  # fmt: skip
LENS = Lens(
    width=1280, height=720, f_share=940 / 1280, u_f_share=0.001, centre_share=(0.001, -0.002),
    u_centre_share=0.0005, coefficients=(0.01, -0.02, 0.001, 0.002, 0.0, 0.0, 0.0, 0.0), model="radial",
    rms_px=0.15, n_views=30, sees_share=0.9,
)  # fmt: skip
PROFILE = Profile(
    name="q7",
    phone="Quillow Q7",
    focal_35mm=26.0,
    rate_hz=30.0,
    lens=LENS,
    readout_s=0.009,
    u_readout_s=0.0004,
)


@pytest.fixture(autouse=True)
def shelf(monkeypatch, tmp_path):
    """Profiles of a test lie in a folder of its own."""
    monkeypatch.setattr(lens_store, "folder", lambda: tmp_path / "lenses")
    return tmp_path / "lenses"


@pytest.fixture
def run(monkeypatch, capfd):
    def command(*words):
        monkeypatch.setattr(sys, "argv", ["puttvision", *map(str, words)])
        monkeypatch.setenv("NO_COLOR", "1")
        monkeypatch.setenv("COLUMNS", "160")
        capfd.readouterr()
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
        return code, *capfd.readouterr()

    return command


def board_pictures(n=26, size=(1280, 720), f_px=940.0):
    """The board before a pinhole camera, each time held another way (a homography a picture)."""
    rng = np.random.default_rng(7)
    scale = 10
    cells = np.kron(np.where(board_cells(), 25, 225), np.ones((scale, scale))).astype(np.uint8)
    sheet = cv2.copyMakeBorder(cells, 100, 100, 100, 100, cv2.BORDER_CONSTANT, value=225)
    matrix = np.array([[f_px, 0, (size[0] - 1) / 2], [0, f_px, (size[1] - 1) / 2], [0, 0, 1.0]])
    step = SQUARE_M / 9 / scale
    to_m = np.array([[step, 0, -99.5 * step], [0, step, -99.5 * step], [0, 0, 1.0]])
    for _ in range(n):
        turn = (
            cv2.Rodrigues(rng.normal(0, 0.4, 3))[0]
            @ cv2.Rodrigues(np.array([0, 0, rng.uniform(-1.5, 1.5)]))[0]
        )
        aim = (rng.uniform(0.15, 0.85, 2) * size - (size[0] / 2, size[1] / 2)) / f_px
        move = np.array([*aim, 1.0]) * rng.uniform(0.35, 0.6) - turn @ [0.09, 0.108, 0]
        to_px = matrix @ np.column_stack([turn[:, 0], turn[:, 1], move]) @ to_m
        picture = cv2.warpPerspective(sheet, to_px, size, flags=cv2.INTER_AREA, borderValue=110)
        yield cv2.GaussianBlur(picture, (0, 0), 0.8)


@pytest.mark.slow
def test_a_clip_of_the_board_makes_a_profile(run, tmp_path):
    path = little_clip.pack(tmp_path / "board.mp4", board_pictures())
    code, out, err = run("lens", "make", path, "--name", "desk")
    assert (code, err) == (0, "")
    # the pictures' own camera: 940 px of 1280 is 26.44 mm of 36
    assert "frames with the board" in out
    assert "read-out time: not told by this clip" in out
    assert load("desk").lens.f_share * 1280 == pytest.approx(940, rel=0.01)
    assert load("desk").lens.rms_px < 0.5
    assert "on the green: with one sheet, start lines of a 10 ft putt" in out
    code, out, _ = run("lens", "list")
    assert out.startswith("desk: 26.")
    assert run("lens", "show", "desk")[0] == 0
    assert run("lens", "remove", "desk")[1] == "removed: lens profile desk\n"
    assert all_profiles() == []


@pytest.mark.slow
def test_a_clip_is_measured_with_a_profile(run, tmp_path):
    save(replace(PROFILE, phone=None))
    clip = little_clip.pack(tmp_path / "putt.mp4", little_clip.pictures())
    code, out, err = run("measure", clip, "--out", tmp_path / "out", "--lens", "q7", "--json")
    assert code == 0, err
    assert "measured with the lens profile q7" in json.loads(out)["warnings"]
    code, _, err = run("measure", clip, "--out", tmp_path / "no", "--lens", "other")
    assert code == 1
    assert 'no lens profile "other"; there are: q7' in err
    assert not (tmp_path / "no").exists()


def test_a_profile_comes_back_as_it_was_written():
    path = save(PROFILE)
    assert load("q7") == PROFILE
    assert json.loads(path.read_text(encoding="utf-8"))["format"] == "puttvision-lens/1"
    assert all_profiles() == [PROFILE]


def test_the_profile_of_the_clips_own_phone_and_mode_is_chosen():
    save(PROFILE)
    known = known_lens(FACTS, None)
    assert known.name == "q7"
    assert known.prior.f_over_long_side == pytest.approx(940 / 1280)
    assert (known.readout.seconds, known.readout.u_seconds) == (0.009, 0.0004)


@pytest.mark.parametrize(
    "changes",
    [
        {"phone": "Quillow Q8"}, {"phone": None}, {"focal_35mm": 13.0}, {"focal_35mm": None},
        {"width": 1920, "height": 1080}, {"nominal_rate_hz": 60.0},
    ],
)  # fmt: skip
def test_no_profile_is_guessed(changes):
    save(PROFILE)
    assert known_lens(replace(FACTS, **changes), None) is None


def test_of_two_that_fit_none_is_chosen():
    save(PROFILE)
    save(replace(PROFILE, name="again"))
    assert known_lens(FACTS, None) is None
    assert known_lens(FACTS, "again").name == "again"


def test_a_phone_held_upright_keeps_its_lens():
    save(PROFILE)
    known = known_lens(replace(FACTS, width=720, height=1280), None)
    assert known.prior.f_over_long_side == pytest.approx(940 / 1280)
    assert known.prior.centre_share == (0.0, 0.0)
    assert known.prior.more[:2] == (0.0, 0.0)


def test_a_picture_of_another_shape_is_refused():
    save(PROFILE)
    with pytest.raises(PuttvisionError, match="is for a picture of 1280x720, this clip has 1440x1080"):
        known_lens(replace(FACTS, width=1440, height=1080), "q7")
    assert known_lens(replace(FACTS, width=1920, height=1080), "q7").name == "q7"


def test_names():
    assert default_name(FACTS) == "quillow-q7-26mm-1280x720-30"
    assert default_name(replace(FACTS, phone=None, focal_35mm=None)) == "phone-1280x720-30"
    for name in ("", "../q7", "Q7", "a/b"):
        with pytest.raises(PuttvisionError, match="is no name for a lens profile"):
            save(replace(PROFILE, name=name))


@pytest.mark.parametrize(
    "text", ["", "{}", '{"format": "puttvision-lens/1"}', "[1]", '{"lens": {"width": "x"}}']
)
def test_a_broken_profile_is_one_line(run, shelf, text):
    shelf.mkdir()
    (shelf / "q7.json").write_text(text)
    code, out, err = run("lens", "show", "q7")
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1
    assert "make it again with `puttvision lens make`" in err
    assert all_profiles() == []


def test_the_board_to_print(run, tmp_path):
    code, _, _ = run("lens", "board", "--paper", "letter", "--out", tmp_path / "b.pdf")
    assert code == 0
    assert (tmp_path / "b.pdf").read_bytes().startswith(b"%PDF")
    assert run("lens", "board", "--out", tmp_path / "b.png")[0] == 2


def test_a_clip_without_board_or_sheet(run, tmp_path):
    path = little_clip.pack(tmp_path / "grass.mp4", [np.full((360, 640), 90, np.uint8)] * 12)
    code, out, err = run("lens", "make", path)
    assert (code, out) == (1, "")
    assert "neither the lens board nor a sheet seen" in err
    assert len(err.splitlines()) == 1
    assert all_profiles() == []
    assert run("lens", "make", tmp_path / "nothing.mp4")[0] == 1
