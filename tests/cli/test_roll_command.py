"""`puttvision roll` as a coach runs it before a drill: words, roll.json, and what cannot be read."""

import json
import sys

import little_clip
import pytest

from puttvision.cli.app import main
from puttvision.cli.roll import in_words
from puttvision.putt.green_reading import GreenReading
from puttvision.putts import Figure


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


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return little_clip.pack(tmp_path_factory.mktemp("clip") / "rolled.mp4", list(little_clip.pictures()))


def test_one_ball_gives_the_speed_of_its_green(run, clip, tmp_path):
    code, out, err = run("roll", clip, "--out", tmp_path / "new", "--json")
    assert (code, err) == (0, "")
    data = json.loads(out)
    assert data == json.loads((tmp_path / "new" / "roll.json").read_text(encoding="utf-8"))
    assert (data["format"], data["clip"], data["past_m"]) == ("puttvision-roll/1", "rolled.mp4", 0.3)
    assert data["rolls"] == {"towards": 1, "back": 0, "other": 0, "left_out": 0}
    # the little clip's own kinematics: 0.58 m/s2 on the level is v0^2 / 2a = 9.47 ft
    true_ft = 1.83**2 / (2 * little_clip.BRAKE_M_S2) / 0.3048
    assert abs(data["plays_ft"]["value"] - true_ft) < 1.5 * data["plays_ft"]["u95"]
    assert data["two_way_ft"] is None


def test_words_for_the_coach(run, clip, tmp_path):
    code, out, _ = run("roll", clip, "--out", tmp_path, "--past", "45")
    assert code == 0
    for words in ("45 cm past it", "ft towards the hole", "roll three back", "roll at least 3", "roll.json"):
        assert words in out


def reading(**changes):
    values = {
        "n_towards": 3, "n_back": 3, "n_other": 0, "n_left_out": 1, "distance_m": Figure(3.048, 0.01),
        "plays_ft": Figure(9.9, 0.3), "stimp_ft": Figure(9.4, 0.2), "fall_along_pct": Figure(-0.5, 0.1),
        "fall_right_pct": Figure(-1.3, 0.2), "past_m": 0.3, "break_cm": Figure(-11.0, 1.5),
        "aim_cm": Figure(11.2, 1.6), "straight": False, "round_m": Figure(0.5, 0.2), "two_way_ft": 9.41,
    }  # fmt: skip
    return GreenReading(**values | changes)


def test_a_line_that_breaks_says_where_to_aim_and_where_it_is_straight():
    words = in_words(reading())
    assert words[0] == (
        "not straight enough for a gate drill: aim 11 cm right of the hole's middle, "
        "or go 0.5 m round the hole to the right"
    )
    assert "10.0 ft (3.05 m) off, 30 cm past it: 11.0 ± 1.5 cm to the left" in words[1]
    assert "plays 9.9 ± 0.3 ft towards the hole" in words[2]
    assert "9.4 ± 0.2 ft laid level" in words[2]
    assert words[3] == "fall: 0.5 ± 0.1 % uphill, 1.3 ± 0.2 % to the left"
    assert "9.4 ft" in words[4]
    assert words[5] == "balls: 3 towards the hole, 3 back; 1 left out that ran unlike the others"


def test_straight_or_too_close_to_call():
    assert in_words(reading(straight=True))[0] == "straight enough for a gate drill"
    assert "too close to call" in in_words(reading(straight=None))[0]


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("nothing.mp4",), 1, "no such file"),
        (("nothing.mp4", "--past", "0"), 2, "--past"),
        (("nothing.mp4", "--hole", "1"), 2, "two numbers"),
        ((), 2, "puttvision roll [OPTIONS]"),
    ],
)
def test_what_cannot_be_read(run, tmp_path, monkeypatch, words, code, says):
    monkeypatch.chdir(tmp_path)
    got, out, err = run("roll", *words)
    assert (got, out) == (code, "")
    assert says in err
    assert list(tmp_path.iterdir()) == []


def test_a_clip_in_which_no_ball_rolls(run, tmp_path):
    first = next(little_clip.pictures())
    path = little_clip.pack(tmp_path / "waiting.mp4", [first] * 12)
    code, _, err = run("roll", path, "--out", tmp_path / "out")
    assert code == 1
    assert err.startswith("puttvision: no ball was seen to roll freely towards the hole")
    assert len(err.splitlines()) == 1
    assert not (tmp_path / "out").exists()
