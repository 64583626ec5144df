"""The three drills whose rules are fixed, against an independent machine and against hand-worked sheets."""

import random

import pytest
from plain_machine import plain_score

from puttvision.drill.catalogue import load
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.putts import Putt

KEYS = ("state", "counted", "set_aside", "points", "restarts", "streak", "best_streak", "stage")
LINE_KEYS = ("putt", "stage", "grip", "made", "points", "restarted")


def card_of(drill, putts, options=None):
    """The scorecard's JSON, and the fixed keys of it alone."""
    out = score(with_options(load(drill), options or Options()), putts).to_json()
    fixed = {key: out[key] for key in KEYS}
    fixed["lines"] = [{key: line[key] for key in LINE_KEYS} for line in out["lines"]]
    return fixed


def random_putts(chance):
    """Any length, any make rate (often high, so that drills end), unseen putts among them."""
    make = chance.choice((0.2, 0.5, 0.8, 0.95, 1.0))
    unseen = chance.choice((0.0, 0.05, 0.3))
    numbers = sorted(chance.sample(range(1, 200), chance.randrange(0, 60)))
    return [
        (
            number,
            "unseen" if chance.random() < unseen else "holed" if chance.random() < make else "missed",
            chance.choice(("clear", "touched", "outside", "none")),
        )
        for number in numbers
    ]


@pytest.mark.parametrize("n_sequences", [1_000, pytest.param(10_000, marks=pytest.mark.slow)])
@pytest.mark.parametrize("drill", ["head-gate-streak", "ball-gate-points", "nine-six-three"])
def test_engine_agrees_with_an_independent_machine(drill, n_sequences):
    # plain_machine.py is written from the format's words and imports nothing of the engine.
    chance = random.Random(20)
    states = set()
    for _ in range(n_sequences):
        putts = random_putts(chance)
        target = chance.choice((1, 2, 3, 7, 18, 20, 50, 100))
        n_putts = chance.choice((1, 2, 10, 20, 30, 40, 100))
        strict = chance.random() < 0.5
        options = {
            "head-gate-streak": Options(target=target),
            "ball-gate-points": Options(putts=n_putts, strict=strict),
            "nine-six-three": Options(),
        }[drill]
        expected = plain_score(drill, putts, target, n_putts, strict)
        got = card_of(drill, [Putt(number=n, outcome=o, gate_result=g) for n, o, g in putts], options)
        assert got == expected, (drill, options, putts)
        states.add((got["state"], got["restarts"] > 0, bool(got["set_aside"])))
    assert len(states) >= 4, "the sequences reach too little of the drill to show anything"


@pytest.mark.parametrize("option", ["target", "putts"])
def test_options_as_they_come(option):
    rules = load("head-gate-streak" if option == "target" else "ball-gate-points")
    assert (rules.stages[0].make or rules.stages[0].putts) == (50 if option == "target" else 20)


# --- hand-worked score sheets: each line was worked out on paper from the rules ----------------


@pytest.mark.parametrize(
    ("putts", "state", "restarts", "stage", "lines"),
    [
        pytest.param("", "running", 0, (1, 0, 0), "", id="not begun"),
        pytest.param("X", "running", 0, (1, 0, 0), "1", id="a miss in stage 1 is no restart"),
        pytest.param("M X M M", "running", 0, (2, 0, 0), "1111", id="two made in a row"),
        pytest.param("M M M X M M", "running", 0, (3, 0, 0), "112222", id="three of four"),
        pytest.param("M M M M M", "running", 0, (3, 0, 0), "11222", id="left as soon as three are made"),
        pytest.param("M M M X X M", "running", 1, (1, 1, 1), "112221", id="second miss at 6 ft"),
        pytest.param("M M X X", "running", 1, (1, 0, 0), "1122", id="two misses at once"),
        pytest.param("M M M M M M M M X", "running", 1, (1, 0, 0), "112223333", id="miss at 3 ft"),
        pytest.param("M M M M M M M M M", "finished", 0, (3, 4, 4), "112223333", id="nine in a row"),
        pytest.param(
            "M M M M M M M M M X X", "finished", 0, (3, 4, 4), "112223333", id="later putts do not count"
        ),
        pytest.param("M M X M U M M M M", "running", 0, (3, 2, 2), "11222233", id="unseen: the drill waits"),
    ],
)
def test_nine_six_three_by_hand(putts_of, putts, state, restarts, stage, lines):
    card = card_of("nine-six-three", putts_of(putts))
    assert card["state"] == state
    assert card["restarts"] == restarts
    assert (card["stage"]["number"], card["stage"]["made"], card["stage"]["tried"]) == stage
    assert "".join(str(line["stage"]) for line in card["lines"]) == lines


def test_nine_six_three_counts_the_example_of_the_format(putts_of):
    """Nine counted, one set aside, one restart, stage 2 with one made of one tried."""
    card = card_of("nine-six-three", putts_of("M M M U M M X M M M"))
    assert card["counted"] == 9
    assert card["set_aside"] == [4]
    assert card["restarts"] == 1
    assert card["stage"] == {"number": 2, "of": 3, "made": 1, "tried": 1}
    assert card["lines"][0] == {
        "putt": 1, "stage": 1, "grip": "both hands", "made": True, "points": None, "restarted": False
    }  # fmt: skip
    # the row of made putts runs through the stages: 5 before the miss, 3 after it
    assert (card["streak"], card["best_streak"]) == (3, 5)


def test_streak_grips_go_by_the_streak(putts_of):
    made = card_of("head-gate-streak", putts_of("M " * 40), Options(target=50))
    grips = [line["grip"] for line in made["lines"]]
    assert grips == (["both hands"] * 6 + ["trail hand alone"] * 12) * 2 + ["both hands"] * 4
    after_miss = card_of("head-gate-streak", putts_of("M M M M M M M X M"), Options(target=50))
    assert [line["grip"] for line in after_miss["lines"]][-3:] == [
        "trail hand alone", "trail hand alone", "both hands"
    ]  # fmt: skip


def test_streak_by_hand(putts_of):
    card = card_of("head-gate-streak", putts_of("X M M X X M U M M M"), Options(target=3))
    assert card["state"] == "finished"
    assert card["counted"] == 8  # the last putt came after the end
    assert card["restarts"] == 1  # only the fourth putt ended a streak
    assert [line["putt"] for line in card["lines"] if line["restarted"]] == [4]
    assert card["set_aside"] == [7]
    assert (card["streak"], card["best_streak"]) == (3, 3)
    assert card["stage"] == {"number": 1, "of": 1, "made": 3, "tried": 3}


@pytest.mark.parametrize(
    ("strict", "points", "total"),
    [
        pytest.param(False, [1, 1, 1, 1, 0.5, 0.5, 0, 0], 5, id="as it comes"),
        pytest.param(True, [1, 1, 0, 0, 0.5, 0.5, 0, 0], 3, id="strict"),
    ],
)
def test_gate_points_by_hand(putts_of, strict, points, total):
    putts = putts_of("Mc Mt Mo M- Xc Xt Xo X- Uc")
    card = card_of("ball-gate-points", putts, Options(putts=10, strict=strict))
    assert [line["points"] for line in card["lines"]] == points
    assert card["points"] == total
    assert card["state"] == "running"
    assert card["stage"] == {"number": 1, "of": 1, "made": 4, "tried": 8}


def test_a_drill_that_is_over_looks_at_no_putt_more(putts_of):
    card = card_of("ball-gate-points", putts_of("Mc Xo U Mc"), Options(putts=2))
    assert card["state"] == "finished"
    assert card["set_aside"] == []
    assert card["counted"] == 2
