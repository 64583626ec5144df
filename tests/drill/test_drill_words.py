"""What the engine says, and the set-up drawing."""

import xml.etree.ElementTree as ET

import pytest

from puttvision.drill.catalogue import load, names
from puttvision.drill.describe import describe
from puttvision.drill.drawing import as_svg, as_text, spots
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score


@pytest.mark.parametrize(
    ("name", "options", "putts", "happened", "comes"),
    [
        pytest.param(
            "nine-six-three", Options(), "M M M", "holed: 1 of 3",
            "stage 2 of 3: 6 ft, one of four played, make two more, one miss left; both hands",
            id="as the brief of the engine words it",
        ),
        pytest.param(
            "nine-six-three", Options(), "M M X X", "missed: back to the beginning",
            "stage 1 of 3: 9 ft, none yet, make two in a row; both hands", id="sent back",
        ),
        pytest.param(
            "head-gate-streak", Options(target=12), "M " * 11, "holed: 11 of 12",
            "3 ft, eleven in a row, make one more in a row; trail hand alone", id="eleven of twelve",
        ),
        pytest.param(
            "head-gate-streak", Options(target=12), "M X", "missed: back to none",
            "3 ft, none yet, make twelve in a row; both hands", id="back to none",
        ),
        pytest.param(
            "ball-gate-points", Options(), "Mc Xt", "missed, +0.5 points: 1.5 in all",
            "10 ft, two of 20 played, 18 putts to go, 1.5 points so far; both hands, gate 65 mm wide",
            id="points",
        ),
        pytest.param(
            "nine-six-three", Options(), "M " * 9, "holed: drill finished", "finished after 9 putts", id="end"
        ),
        pytest.param(
            "three-lives", Options(), "M X",
            "missed: back to none; forfeit: ten putts with the trail hand alone",
            "4 ft, none yet, make 15 in a row, attempt 2 of 3; both hands", id="forfeit and lives",
        ),
        pytest.param(
            "one-ball-out", Options(), "M X", "not in yet",
            "25 ft, one of 9 played, 8 balls to go, 1 point so far, one taken with this ball: play it from "
            "where it lies; both hands", id="the same ball again",
        ),
    ],
)  # fmt: skip
def test_words(putts_of, name, options, putts, happened, comes):
    card = score(with_options(load(name), options), putts_of(putts))
    assert card.what_happened == happened
    assert card.what_next == comes


def test_lines_say_what_happened(putts_of):
    out = score(load("nine-six-three"), putts_of("M X")).to_json()
    assert [line["what_happened"] for line in out["lines"]] == ["holed: 1 of 2", "missed: back to none"]


def test_rules_in_words_follow_the_options():
    rules = with_options(load("head-gate-streak"), Options(target=7))
    assert describe(rules)[0] == "3 ft, make seven in a row."
    assert "Grip by turns: both hands for 6, trail hand alone for 12" in describe(rules)[1]


@pytest.mark.parametrize("name", names())
def test_drawing_fits_and_is_a_page(name):
    rules = load(name)
    text = as_text(rules)
    assert text
    assert all(len(line) <= 78 for line in text.splitlines())
    root = ET.fromstring(as_svg(rules))
    circles = root.findall("{http://www.w3.org/2000/svg}circle")
    assert len(circles) == len(spots(rules)) + 1
    for circle in circles:
        assert 0 < float(circle.get("cx")) < 640
        assert 0 < float(circle.get("cy")) < 640


def test_drawing_is_to_scale():
    root = ET.fromstring(as_svg(load("nine-six-three")))
    y = [float(circle.get("cy")) for circle in root.findall("{http://www.w3.org/2000/svg}circle")]
    hole = y[-1]
    near, middle, far = (value - hole for value in y[:3])
    assert middle / near == pytest.approx(2, abs=0.01)
    assert far / near == pytest.approx(3, abs=0.01)


def test_a_left_to_right_putt_is_played_from_nine_oclock():
    # 6 o'clock is the lowest place: seen from 9 o'clock towards the hole, downhill is to the right.
    left_to_right = next(spot for spot in spots(load("break-pairs")) if "left to right" in spot.place)
    assert left_to_right.clock_deg == 270
