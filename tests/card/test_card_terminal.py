"""The card in a real terminal, as it is used on the green: play, slip, lose the line, go on."""

import json
import random
import re
import signal
import subprocess
import sys

import pytest

pexpect = pytest.importorskip("pexpect", reason="a pseudo-terminal takes a POSIX system")
from card_terminal import PROGRAM, Terminal  # noqa: E402

from puttvision.card.log import read  # noqa: E402
from puttvision.putts import load  # noqa: E402


def score(folder, drill, *words):
    """What `puttvision score` makes of a card's putts."""
    command = [sys.executable, "-c", PROGRAM, "score", str(folder / "putts.json"), "--drill", drill, *words]
    out = folder / "again"
    subprocess.run([*command, "--out", str(out)], check=True, capture_output=True, timeout=60)
    return json.loads((out / "scorecard.json").read_text())


def test_played_with_a_slip_killed_gone_on_with_and_finished(tmp_path):
    folder = tmp_path / "card"
    with Terminal("nine-six-three", "--out", folder) as card:
        card.wait_for("Nine, six, three", "of 20:00", "m made")
        card.type("m m x")
        card.wait_for("putt 3 missed")
        card.type("l m m")
        card.wait_for("putt 5 holed", "make one more")
        card.type("m u x")  # a slip of the finger, put right
        card.wait_for("putt 6 missed: back to the beginning")
        card.kill()
    assert len(load(folder / "putts.json").putts) == 6

    with Terminal("--resume", "--out", folder) as card:
        card.wait_for("PAUSED", "6 putts here", "putt 6 missed: back to the beginning")
        card.type("m")
        card.wait_for("putt 7 holed")
        card.kill()
    with Terminal("--resume", "--out", folder) as card:
        card.wait_for("7 putts here")
        card.type("m m m m m m m m")
        card.wait_for("FINISHED", "Finished after 15 putts, 1 restart")
        card.type("q")
        assert card.end() == 0
        card.wait_for("Finished after 15 putts", "written:")

    putts = load(folder / "putts.json").putts
    made = [putt.outcome == "holed" for putt in putts]
    assert made == [True, True, False, True, True, False] + 9 * [True]
    assert putts[2].miss_side == "left"
    shown = json.loads((folder / "scorecard.json").read_text())
    assert (shown["state"], shown["restarts"], shown["counted"]) == ("finished", 1, 15)
    assert score(folder, "nine-six-three") == shown


@pytest.mark.slow
def test_a_second_window_is_told_and_may_take_over(tmp_path):
    folder = tmp_path / "card"
    with Terminal("ball-gate-points", "--putts", 10, "--out", folder) as first:
        first.wait_for("10 putts to go")
        first.type("m g")
        first.wait_for("putt 1 holed")
        with Terminal("--resume", "--out", folder, columns=300) as second:
            assert second.end() == 1
            assert "is open in another window" in second.text
            assert "--take-over" in second.text
        with Terminal("--take-over", "--out", folder) as third:
            assert first.end() == 0
            assert b"closed: another window took the card over" in first.raw
            third.wait_for("point, 1 of 10 played")
            third.type("x g q")
            assert third.end() == 0
    shown = json.loads((folder / "scorecard.json").read_text())
    assert (shown["counted"], shown["points"]) == (2, 1.5)
    assert score(folder, "ball-gate-points", "--putts", "10") == shown


@pytest.mark.slow
def test_a_lost_line_closes_the_card(tmp_path):
    with Terminal("head-gate-streak", "--target", 9, "--out", tmp_path / "card") as card:
        card.type("m m")
        card.wait_for("putt 2 holed: 2 of 9")
        card.child.kill(signal.SIGHUP)
        card.end()
    _, presses = read(tmp_path / "card")
    assert [one.key for one in presses] == ["opened", "made", "made", "closed"]


@pytest.mark.slow
def test_bell_colour_and_letters_can_be_done_without(tmp_path):
    words = ("three-lives", "--out")
    with Terminal(*words, tmp_path / "a") as card:
        card.wait_for("m made")
        card.raw = b""
        card.type("x")
        card.wait_for("putt 1 missed: back to none", "ten putts with the trail hand alone")
        assert b"\a" in card.raw
        assert re.search(rb"\x1b\[(\d+;)*31[;m]", card.raw)  # red
    with Terminal(*words, tmp_path / "b", "--no-sound", NO_COLOR="1", LC_ALL="C") as card:
        card.wait_for("m made")
        card.type("m x")
        card.wait_for("putt 2 missed: back to none")
        assert b"\a" not in card.raw
        assert not re.search(rb"\x1b\[(\d+;)*[349][0-7][;m]", card.raw)
        assert card.raw.isascii()
        assert any(re.search(r"#{4}", row) for row in card.rows)
        card.type("q")
        assert card.end() == 0


@pytest.mark.slow
def test_the_page_follows_the_window_and_the_rules_page_counts_nothing(tmp_path):
    with Terminal("lag-zone", "--out", tmp_path / "card") as card:
        card.wait_for("Long putts to a zone")
        card.resize(120, 40)
        card.wait_for("30 ft, none of 12 played, 12 putts to go, 0 points so far; both hands", down_to=36)
        card.type("?")
        card.wait_for("Tees at 30, 40 and 50 ft", "any key: back")
        card.type("m")
        card.wait_for("none of 12 played")
        card.type("m")
        card.wait_for("putt 1 holed, +3 points")
        card.resize(40, 20)
        card.wait_for("40 ft, one of 12 played")
        card.type("q")
        assert card.end() == 0
    assert len(load(tmp_path / "card" / "putts.json").putts) == 1


def test_without_a_terminal_a_line_says_so(tmp_path):
    command = [sys.executable, "-c", PROGRAM, "card", "lag-zone", "--out", str(tmp_path / "card")]
    ran = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert (ran.returncode, ran.stderr.count("\n")) == (1, 1)
    assert "needs a terminal" in ran.stderr
    assert not (tmp_path / "card").exists()


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_nothing_shown_is_ever_lost(tmp_path, seed):
    """Killed at any instant, over and over: every putt the screen showed is in the file."""
    chance = random.Random(seed)
    folder = tmp_path / "card"
    words = ["plus-minus", "--target", 99, "--out", folder]
    for _ in range(4):
        with Terminal(*words) as card:
            card.wait_for("m made")
            before = len(read(folder)[1])
            for _ in range(chance.randrange(1, 12)):
                card.type(chance.choice(["m", "x"]))
                card.read(chance.random() * 0.03)
            card.kill()
            while card.read():
                pass
            shown = [int(number) for number in re.findall(r"putt (\d+)", card.raw.decode())]
        presses = [one for one in read(folder)[1] if one.key in ("made", "missed")]
        assert len(presses) >= max(shown, default=0)
        assert len(read(folder)[1]) >= before
        words = ["--resume", "--out", folder]
