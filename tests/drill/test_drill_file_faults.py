"""A coach's mistakes in a drill file: each gets one line that names the file, the key and the mend."""

import pytest

from puttvision.drill.load import parse_rules
from puttvision.errors import DrillError

HEAD = 'name = "mine"\n'
STAGE = "[[stage]]\ndistance_ft = 6\n"
GOAL = 'make = 3\nmisses_allowed = 0\non_fault = "count back"\n'
POINTS = '[[points]]\nwhen = "holed"\ngive = 1\n'

MISTAKES = {
    # what went wrong: (text of the file, words the message must have)
    "a quote left open": ('name = "mine\n' + STAGE + GOAL, ["line 1", "quotes"]),
    "no name": (STAGE + GOAL, ["name", "a text in quotes", "missing"]),
    "a name with blanks": ('name = "My drill"\n' + STAGE + GOAL, ["name", "hyphens", "My drill"]),
    "no stage": (HEAD, ["[[stage]]", "missing"]),
    "a misspelt key of a stage": (
        HEAD + STAGE.replace("distance_ft", "distence_ft") + GOAL,
        ["stage 1", '"distence_ft"', 'nearest: "distance_ft"'],
    ),
    "a misspelt key of the head": (
        HEAD + 'tittle = "T"\n' + STAGE + GOAL,
        ['"tittle"', 'nearest: "title"'],
    ),
    "a key in the wrong table": (
        HEAD + STAGE + GOAL + "beat_min = 20\n",
        ["stage 1", '"beat_min"', "[clock]"],
    ),
    "a word where a number is due": (
        HEAD + STAGE + GOAL.replace("3", '"three"'),
        ["stage 1, make", "whole number", '"three"'],
    ),
    "a number below what can be": (
        HEAD + STAGE.replace("6", "-6") + GOAL,
        ["distance_ft", "feet", "-6"],
    ),
    "feet and metres at once": (
        HEAD + STAGE + "distance_m = 2\n" + GOAL,
        ["distance_ft", "distance_m", "both"],
    ),
    "two goals": (HEAD + STAGE + GOAL + "putts = 10\n", ["one goal", "make", "putts"]),
    "no goal": (HEAD + STAGE, ["stage 1", "make, putts or points_to", "limit_min"]),
    "make without misses_allowed": (
        HEAD + STAGE + "make = 3\n",
        ["misses_allowed", '"any"', "missing"],
    ),
    "too many misses do nothing": (
        HEAD + STAGE + "make = 3\nmisses_allowed = 1\n",
        ["on_fault", '"start again"', "missing"],
    ),
    "an unknown consequence": (
        HEAD + STAGE + GOAL.replace("count back", "go back"),
        ["on_fault", '"go back"', 'nearest: "stage back"'],
    ),
    "an unknown word in a condition": (
        HEAD + STAGE + GOAL + 'made_when = "through the gates"\n',
        ["made_when", '"through the gates"', 'nearest: "through the gate"'],
    ),
    "a window the wrong way round": (
        HEAD + STAGE + GOAL + "made_when = { run_out_cm = [45, 0] }\n",
        ["run_out_cm", "[from, to]", "cm", "[45, 0]"],
    ),
    "turns that do not match": (
        HEAD + STAGE + GOAL + '[[stage.turns]]\nof = "grip"\neach = ["a", "b"]\nputts = [6, 12, 3]\n',
        ["turns 1, putts", "one for each", "[6, 12, 3]"],
    ),
    "an unknown thing that alternates": (
        HEAD + STAGE + GOAL + '[[stage.turns]]\nof = "grips"\neach = ["a", "b"]\n',
        ["turns 1, of", '"grips"', 'nearest: "grip"'],
    ),
    "may_change of a goal it has not": (
        HEAD + STAGE + GOAL + 'may_change = "putts"\n',
        ["may_change", '"make"', '"putts"'],
    ),
    "more needed than putted": (
        HEAD + STAGE + 'putts = 5\nmade_needed = 6\non_fault = "end"\n',
        ["made_needed", "5 putts", "6"],
    ),
    "points without give": (
        HEAD + POINTS.replace("give = 1\n", "") + STAGE + "putts = 5\n",
        ["points 1, give", "missing"],
    ),
    "points with three decimals": (
        HEAD + POINTS.replace("= 1", "= 0.333") + STAGE + "putts = 5\n",
        ["points 1, give", "two decimals", "0.333"],
    ),
    "single brackets for points": (
        HEAD + POINTS.replace("[[points]]", "[points]") + STAGE + "putts = 5\n",
        ["points", "[[points]]", "two brackets"],
    ),
    "points to reach but none given": (HEAD + STAGE + "points_to = 5\n", ["points_to", "[[points]]"]),
    "a gate asked for but not set": (
        HEAD + STAGE + GOAL + 'made_when = "through the gate"\n',
        ["gate", "[gate]", '"ball"'],
    ),
    "a clock that says nothing": (
        HEAD + "[clock]\n" + STAGE + GOAL,
        ["clock, beat_min", "limit_min", "missing"],
    ),
    "a series that cannot be won": (
        HEAD + '[series]\nrounds = 3\nresult = "rounds won"\nwin = 4\n' + STAGE + GOAL,
        ["series, win", "from 1 to 3", "4"],
    ),
    "a condition that asks nothing": (HEAD + STAGE + GOAL + "made_when = []\n", ["made_when", '"holed"']),
    "true in quotes": (HEAD + STAGE + 'putts = 9\nplay_out = "true"\n', ["play_out", "without quotes"]),
    "holes to win over two stages": (
        HEAD + '[two_players]\ncompare = "each hole"\n' + STAGE + "putts = 9\n" + STAGE + "putts = 9\n",
        ["two_players, compare", "one stage"],
    ),
}


def test_there_are_at_least_twenty_different_mistakes():
    assert len(MISTAKES) >= 20
    messages = set()
    for text, _ in MISTAKES.values():
        with pytest.raises(DrillError) as caught:
            parse_rules(text, "mine.toml")
        messages.add(str(caught.value))
    assert len(messages) == len(MISTAKES)


@pytest.mark.parametrize("mistake", MISTAKES)
def test_message_names_key_and_mend(mistake):
    text, words = MISTAKES[mistake]
    with pytest.raises(DrillError) as caught:
        parse_rules(text, "mine.toml")
    message = str(caught.value)
    assert message.startswith("mine.toml")
    assert "\n" not in message
    assert [word for word in words if word not in message] == [], message


def test_the_parts_the_mistakes_are_made_of_are_good():
    assert parse_rules(HEAD + POINTS + STAGE + GOAL, "mine.toml").name == "mine"


@pytest.mark.parametrize(
    "junk", ["= 3", "[[stage]", "name = 1", "\x00", "stage = 3\nname='a'", "[stage]\nname='a'"]
)
def test_junk_is_refused_in_one_line(junk):
    with pytest.raises(DrillError, match=r"^mine\.toml"):
        parse_rules(junk, "mine.toml")
