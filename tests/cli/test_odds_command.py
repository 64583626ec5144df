"""`puttvision odds` and `puttvision target`, as a coach runs them."""

import json
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from PIL import Image
from scipy import stats

from puttvision.cli.app import main

CONTRACT_KEYS = {"expected_putts", "chance_within", "putts_for_half"}
COACHS_DRILL = """
name = "three-at-five"
title = "Three at five"
about = "Three in a row from 5 ft."
setup = "A tee at 5 ft."

[[stage]]
distance_ft = 5
make = 3
misses_allowed = 0
on_fault = "count back"
may_change = "make"
"""


@pytest.fixture
def run(monkeypatch, capfd):
    """Run a command in this process; (exit code, standard output, standard error)."""

    def command(*words):
        monkeypatch.setattr(sys, "argv", ["puttvision", *map(str, words)])
        monkeypatch.setenv("NO_COLOR", "1")
        monkeypatch.setenv("COLUMNS", "200")
        capfd.readouterr()
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
        out, err = capfd.readouterr()
        assert "Traceback" not in err
        return code, out, err

    return command


@pytest.fixture
def told(run):
    """The JSON of a command that succeeds."""

    def command(*words):
        code, out, err = run(*words, "--json")
        assert (code, err) == (0, "")
        return json.loads(out)

    return command


# --- odds: what the format fixes -----------------------------------------------------------------


def test_a_streak_in_json(told):
    out = told("odds", "--drill", "head-gate-streak", "--make", "0.98")
    assert set(out) >= CONTRACT_KEYS
    assert "expected_points" not in out
    assert round(out["expected_putts"], 2) == 87.30  # Feller's formula at n = 50
    within = {int(n): chance for n, chance in out["chance_within"].items()}
    assert list(within) == sorted(within)
    assert within[50] == pytest.approx(0.98**50)
    assert all(0 <= chance <= 1 for chance in within.values())
    assert out["putts_for_half"] == 69
    assert out["method"] == "exact"


def test_stages_have_chances_of_their_own(told):
    out = told("odds", "--drill", "nine-six-three", "--make", "1=0.5", "--make", "2=0.7", "--make", "3=0.95")
    by_feet = told(
        "odds", "--drill", "nine-six-three", "--make", "9ft=0.5", "--make", "6 ft=0.7", "--make", "0.95"
    )
    assert (
        out["expected_putts"] == by_feet["expected_putts"] == pytest.approx(22.1711026388)
    )  # by hand, as in test_odds_fixed_drills.py
    assert set(out) >= CONTRACT_KEYS


@pytest.mark.parametrize("option", [("--make", "80%"), ("--make", "4/5"), ("--make", "0.8")])
def test_ways_to_write_a_chance(told, option):
    out = told("odds", "--drill", "nine-six-three", *option)
    assert (
        out["expected_putts"] == told("odds", "--drill", "nine-six-three", "--make", ".8")["expected_putts"]
    )


def test_points_in_json(told):
    words = ("odds", "--drill", "ball-gate-points", "--make", "0.4", "--gate", "0.7")
    out = told(*words)
    assert out["expected_putts"] == 20
    assert out["putts_for_half"] == 20
    assert out["expected_points"] == pytest.approx(20 * (0.4 + 0.6 * 0.7 / 2))
    assert {int(n): c for n, c in out["chance_within"].items()}[20] == 1
    strict = told(
        "odds", "--drill", "ball-gate-points", "--make", "0.4", "--gate", "0.7", "--strict", "--putts", "40"
    )
    assert strict["expected_putts"] == 40
    assert strict["expected_points"] == pytest.approx(40 * (0.4 * 0.7 + 0.6 * 0.7 / 2))


def test_asked_numbers_are_told(told):
    out = told("odds", "--drill", "head-gate-streak", "--target", "10", "--make", ".9", "--within", "33",
               "--minutes", "10", "--seconds-per-putt", "15")  # fmt: skip
    assert "33" in out["chance_within"]
    assert out["within_minutes"]["putts"] == 40
    assert out["within_minutes"]["chance"] > out["chance_within"]["33"]
    assert out["expected_minutes"] == pytest.approx(out["expected_putts"] / 4)
    assert sum(out["chance_of_restarts"].values()) < 1


def test_two_players_by_name(told):
    out = told(
        "odds", "--drill", "race-to-ten", "--players", "Ines,Oluf", "--make", "Ines=0.8", "--make", "Oluf=0.6"
    )
    assert set(out["chance_to_win"]) == {"Ines", "Oluf", "halved"}
    k = np.arange(10, 1000)
    ines = (stats.nbinom(10, 0.8, loc=10).pmf(k) * stats.nbinom(10, 0.6, loc=10).sf(k)).sum()
    assert out["chance_to_win"]["Ines"] == pytest.approx(ines, rel=1e-8)


def test_a_coachs_own_file(told, tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(COACHS_DRILL)
    assert told("odds", "--drill", path, "--make", "0.5")["expected_putts"] == pytest.approx(14)
    assert told("odds", "--drill", path, "--make", "0.5", "--target", "2")["expected_putts"] == pytest.approx(
        6
    )


def test_from_the_stroke(told):
    out = told("odds", "--drill", "head-gate-streak", "--start-spread", "1.02", "--pace-spread", "0.08")
    p = out["make_by_feet"]["3"]
    assert p == pytest.approx(0.954, abs=0.002)  # Gelman 2019: the fitted tour player at 3 ft
    assert out["expected_putts"] == pytest.approx((1 - p**50) / ((1 - p) * p**50), rel=1e-8)
    alone = told("odds", "--start-spread", "1.02", "--pace-spread", "0.08")
    assert alone["make_by_feet"] == out["make_by_feet"]
    biased = told("odds", "--start-spread", "1.02", "--pace-spread", "0.08", "--start-bias", "-0.8")
    assert biased["make_by_feet"]["10"] < alone["make_by_feet"]["10"]


@pytest.mark.slow
def test_a_simulation_says_so_and_repeats_with_its_seed(told):
    words = ("odds", "--drill", "lag-zone", "--start-spread", "1", "--pace-spread", "0.08")
    out, again = told(*words, "--seed", "3"), told(*words, "--seed", "3")
    assert out["method"] == "simulation"
    assert out["runs"] >= 200
    assert out["standard_error"]["expected_points"] > 0
    assert again == out
    assert told(*words)["expected_points"] != out["expected_points"]


# --- odds: in words ------------------------------------------------------------------------------


def test_a_plain_sentence_and_bars(run):
    code, out, err = run("odds", "--drill", "head-gate-streak", "--make", "0.98", "--within", "100",
                         "--minutes", "20", "--seconds-per-putt", "20")  # fmt: skip
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == (
        "At 98 % from 3 ft, a streak of 50 takes about 87.3 putts on average, 29 minutes at 20 s a putt; "
        "half of all goes are finished within 69."
    )
    assert "Within 20 minutes (60 putts) you finish about 44 times in 100." in lines
    assert "Within 100 putts you finish about 73 times in 100." in lines
    assert any(re.match(r"\s+100\s+\S+ 72.8 %", line) for line in lines)
    assert "(exact: worked out from every state of the drill)" in lines
    assert "\x1b" not in out


def test_a_simulation_in_words(run):
    code, out, _ = run("odds", "--drill", "start-line-points", "--make", "0.3")
    assert code == 0
    assert "standard error" in out
    assert "simulated, not exact" in out
    assert "tour player" in out  # what was taken for granted


def test_a_gate_that_does_not_count_is_said(run):
    _, out, _ = run("odds", "--drill", "head-gate-streak", "--make", "0.9", "--gate", "0.5")
    assert "--gate changes nothing" in out


def test_out_of_reach_is_said(run):
    _, out, _ = run("odds", "--drill", "head-gate-streak", "--make", "0.5")
    assert "out of reach" in out
    _, out, _ = run("odds", "--drill", "head-gate-streak", "--make", "0")
    assert "does not come to an end" in out


# --- the picture ---------------------------------------------------------------------------------


def test_a_picture_as_svg(run, tmp_path):
    path = tmp_path / "odds.svg"
    words = ("odds", "--drill", "head-gate-streak", "--make", "0.98", "--within", "100", "--plot")
    code, out, _ = run(*words, path)
    assert code == 0
    assert str(path) in out
    text = " ".join(ET.parse(path).getroot().itertext())
    for says in (
        "87.3 putts",
        "half within 69 putts",
        "100 putts: 72.8 %",
        "chance of having finished",
        "putts",
    ):
        assert says in text
    other = tmp_path / "again.svg"
    run(*words, other)
    assert other.read_bytes() == path.read_bytes()  # the same odds, the same file


def test_a_picture_is_readable_without_colour(run, tmp_path):
    path = tmp_path / "odds.png"
    code, _, _ = run("odds", "--drill", "ball-gate-points", "--make", "0.4", "--gate", "0.7", "--plot", path)
    assert code == 0
    picture = Image.open(path)
    assert picture.width >= 1000
    grey = np.asarray(picture.convert("L"), dtype=float)
    shares = [(grey < 60).mean(), ((grey > 180) & (grey < 225)).mean(), (grey > 240).mean()]
    assert shares[0] > 0.005  # ink
    assert shares[1] > 0.05  # bars, lighter than ink and darker than paper
    assert shares[2] > 0.5  # paper


@pytest.mark.parametrize("name", ["pace-ladder-up", "race-to-ten", "one-miss-and-out", "five-minutes"])
def test_pictures_of_other_kinds(run, tmp_path, name):
    path = tmp_path / "odds.svg"
    code, _, err = run("odds", "--drill", name, "--make", "0.8", "--seconds-per-putt", "20", "--plot", path)
    assert (code, err) == (0, "")
    assert ET.parse(path).getroot().tag.endswith("svg")


def test_a_picture_never_overwrites(run, tmp_path):
    path = tmp_path / "odds.svg"
    path.write_text("mine")
    code, out, err = run("odds", "--drill", "nine-six-three", "--make", "0.8", "--plot", path)
    assert (code, out) == (1, "")
    assert "nothing was overwritten" in err
    assert path.read_text() == "mine"


# --- wrong words ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--drill", "nine-six-tree", "--make", "0.5"), 'nearest: "nine-six-three"'),
        (("--drill", "head-gate-streak"), "--make P"),
        (("--drill", "nine-six-three", "--make", "4=0.5"), "no stage, distance or player 4"),
        (("--drill", "nine-six-three", "--make", "1=0.5", "--make", "1=0.6"), "two chances"),
        (("--drill", "nine-six-three", "--make", "1=0.5"), "--make 2=P"),
        (("--drill", "nine-six-three", "--make", "0.5", "--target", "4"), "takes no --target"),
        (("--drill", "head-gate-streak", "--make", "0.5", "--target", "0"), "--target"),
        (("--drill", "head-gate-streak", "--make", "0.5", "--strict"), "takes no --strict"),
        (("--drill", "ball-gate-points", "--make", "0.5", "--gate", "1.5"), "from 0 to 1"),
        (("--drill", "ball-gate-points", "--make", "0.5", "--strict"), "--gate P"),
        (("--drill", "race-to-ten", "--make", "0.5", "--players", "Ines"), "two names"),
        (("--drill", "nothing.toml", "--make", "0.5"), "nothing.toml"),
        (("--drill", "head-gate-streak", "--make", "0.5", "--plot", "x.pdf"), "FILE.svg or FILE.png"),
    ],
)
def test_what_cannot_be_reckoned_is_one_line(run, words, says):
    code, out, err = run("odds", *words)
    assert (code, out) == (1, "")
    assert len(err.splitlines()) == 1, err
    assert err.startswith("puttvision: ")
    assert says in err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "--drill"),
        (("--drill", "head-gate-streak", "--make", "1.2"), "a chance such as"),
        (("--drill", "head-gate-streak", "--make", "often"), "a chance such as"),
        (("--drill", "head-gate-streak", "--make", "nan"), "a chance such as"),
        (("--drill", "head-gate-streak", "--make", "1/0"), "a chance such as"),
        (("--drill", "head-gate-streak", "--make", "0.9", "--minutes", "20"), "--seconds-per-putt"),
        (("--drill", "head-gate-streak", "--make", "0.9", "--within", "0"), "--within"),
        (("--drill", "head-gate-streak", "--make", "0.9", "--seconds-per-putt", "nan"), "--seconds-per-putt"),
        (("--drill", "ball-gate-points", "--make", "0.5", "--gate-holed", "0.5"), "--gate P"),
        (("--drill", "head-gate-streak", "--pace-spread", "0.1"), "--start-spread"),
        (("--drill", "head-gate-streak", "--start-spread", "0"), "start-line spread"),
        (("--drill", "head-gate-streak", "--start-spread", "1", "--pace-spread", "8"), "share"),
        (("--drill", "lag-zone", "--start-spread", "1", "--seed", "-1"), "--seed"),
        (("--wrong",), "--wrong"),
    ],
)
def test_wrong_words_are_exit_code_2(run, words, says):
    code, out, err = run("odds", *words)
    assert (code, out) == (2, "")
    assert says in err


# --- target --------------------------------------------------------------------------------------


def test_target_in_words(run):
    code, out, err = run("target", "head-gate-streak", "--make", "0.98")
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert lines[0] == "head-gate-streak, a chance of 33.3 % or better within 20 minutes (60 putts):"
    assert lines[1].strip().startswith("Set a target of 57 in a row: reached within 20 minutes (60 putts)")
    assert any("--seconds-per-putt" in line for line in lines)


def test_target_agrees_with_odds(told):
    out = told("target", "head-gate-streak", "--make", "0.9", "--chance", "50%", "--within", "80")
    streak = out["proposals"][0]
    assert streak["what"] == "target"
    for more, n in ((True, streak["value"]), (False, streak["value"] + 1)):
        odds = told(
            "odds", "--drill", "head-gate-streak", "--make", "0.9", "--target", round(n), "--within", "80"
        )
        assert (odds["chance_within"]["80"] >= 0.5) is more
    assert out["chance"] == 0.5


def test_target_of_points_and_gates(told):
    out = told(
        "target", "ball-gate-points", "--start-spread", "1.2", "--pace-spread", "0.08", "--points", "10"
    )
    assert [one["what"] for one in out["proposals"]] == ["putts", "gate_mm"]
    width = out["proposals"][1]["value"]
    assert 43 < width < 300
    assert out["proposals"][1]["chance"] >= 1 / 3 > out["proposals"][1]["harder"]["chance"]


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("nine-six-tree",), 1, "nearest"),
        (("head-gate-streak",), 1, "--make P"),
        (("head-gate-streak", "--make", "0.9", "--chance", "0"), 1, "between 0 and 1"),
        (("head-gate-streak", "--make", "0"), 1, "even a target of 1"),
        (("race-to-ten", "--make", "0.5"), 1, "two players"),
        (("head-gate-streak", "--make", "0.9", "--chance", "2"), 2, "--chance"),
        (("head-gate-streak", "--make", "0.9", "--minutes", "inf"), 2, "--minutes"),
        ((), 2, "drill"),
    ],
)
def test_target_says_what_is_wrong(run, words, code, says):
    got, out, err = run("target", *words)
    assert (got, out) == (code, "")
    assert says in err
    if code == 1:
        assert len(err.splitlines()) == 1


# --- as the console script -----------------------------------------------------------------------


def test_a_plain_terminal_gets_plain_bars():
    code = "from puttvision.cli.app import main; main()"
    words = ["odds", "--drill", "nine-six-three", "--make", "0.8"]
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert b"####" in done.stdout


def test_help_loads_nothing_heavy():
    code = (
        "import sys; from puttvision.cli.app import app; "
        "heavy = [m for m in ('scipy', 'matplotlib', 'cv2') if m in sys.modules]; print(heavy)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
