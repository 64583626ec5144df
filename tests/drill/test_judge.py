"""Each word of a drill file against putts that are plainly one thing or the other."""

import pytest

from puttvision.drill.judge import word_holds
from puttvision.drill.rules import WORDS
from puttvision.putts import Figure, Putt

HOLED = Putt(
    number=1, outcome="holed", gate_result="clear", hole_offset_mm=Figure(10.0), run_out_m=Figure(0.3)
)
SHORT_LEFT = Putt(
    number=1, outcome="missed", gate_result="touched", hole_offset_mm=Figure(-80.0), run_out_m=Figure(-0.2)
)
PAST_RIGHT = Putt(
    number=1, outcome="missed", gate_result="outside", hole_offset_mm=Figure(60.0), run_out_m=Figure(0.4),
    lipped=True,
)  # fmt: skip
BY_HAND = Putt(number=1, outcome="missed", miss_side="right", miss_length="long")
BARE = Putt(number=1, outcome="missed")

EXPECTED = {
    # word: holed, short left through the gate with a touch, past right outside it, by hand, nothing known
    "any putt": (True, True, True, True, True),
    "holed": (True, False, False, False, False),
    "missed": (False, True, True, True, True),
    "lipped": (False, False, True, False, False),
    "through the gate": (True, True, False, False, False),
    "clear through the gate": (True, False, False, False, False),
    "touched the gate": (False, True, False, False, False),
    "outside the gate": (False, False, True, False, False),
    "short": (False, True, False, False, None),
    "past": (False, False, True, True, None),
    "left": (False, True, False, False, None),
    "right": (False, False, True, True, None),
}


def test_every_word_has_its_row():
    assert set(EXPECTED) == set(WORDS)


@pytest.mark.parametrize("word", WORDS)
def test_word(word):
    putts = (HOLED, SHORT_LEFT, PAST_RIGHT, BY_HAND, BARE)
    assert tuple(word_holds(word, putt) for putt in putts) == EXPECTED[word]
