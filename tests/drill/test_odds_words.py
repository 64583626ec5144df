"""What the odds say in words, and which chance a putt gets."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from puttvision.drill.catalogue import load
from puttvision.drill.chances import EVERY, Player, every, given_chance, putt_chances, with_keys
from puttvision.drill.odds import odds
from puttvision.drill.odds_words import number, player_words, putts_to_tell, sentences, share, times
from puttvision.drill.options import with_options
from puttvision.drill.play import setting, start
from puttvision.drill.rules import Options
from puttvision.drill.stroke import Stroke
from puttvision.errors import DrillError


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "practically never"),
        (0.0004, "practically never"),
        (0.001, "about 1 time in 1000"),
        (0.0333, "about 1 time in 30"),
        (0.1, "about 1 time in 10"),
        (0.41, "about 4 times in 10"),
        (0.436, "about 44 times in 100"),
        (0.95, "about 95 times in 100"),
        (0.993, "about 993 times in 1000"),
        (0.9996, "practically always"),
        (1.0, "practically always"),
        (math.nan, "with a chance that is not known"),
    ],
)
def test_chances_as_a_person_says_them(chance, words):
    assert times(chance) == words


@given(st.floats(0.0005, 0.9995))
def test_a_chance_in_words_is_near_the_chance(chance):
    told = times(chance)
    if "practically" in told:
        return
    _, k, _, _, n = told.split()
    assert int(k) / int(n) == pytest.approx(chance, abs=0.021, rel=0.3)
    if chance < 0.045:
        assert 1 / int(n) == pytest.approx(chance, rel=0.06)


@pytest.mark.parametrize(
    ("value", "text"),
    [(87.2986, "87.3"), (167.4, "167"), (3.14159, "3.14"), (190886.2, "190886"), (1.86e8, "1.9 x 10^8")],
)
def test_numbers_as_a_person_writes_them(value, text):
    assert number(value) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.98, "98 %"), (0.9999, "99.99 %"), (1.0, "100 %"), (1 / 3, "33.3 %"), (0.0, "0 %")]
)
def test_shares(value, text):
    assert share(value) == text


def test_the_player_in_words():
    nine = load("nine-six-three")
    player = Player(make=with_keys(nine, [("1", 0.5), ("6ft", 0.7), (EVERY, 0.95)]))
    assert player_words(nine, player) == "At 50 % from 9 ft, 70 % from 6 ft and 95 % otherwise"
    gate = Player(make=((EVERY, 0.4),), gate=0.7)
    assert player_words(load("ball-gate-points"), gate) == "At 40 % from 10 ft, 70 % through the gate"
    film = Player(stroke=Stroke(1.2, 0.08, -0.5))
    assert player_words(nine, film) == (
        "With a start line that scatters 1.2 degrees about one 0.5 degrees left and a pace that scatters 8 %"
    )


def test_putts_to_tell_reach_nearly_everyone_and_what_was_asked():
    found = odds(load("nine-six-three"), every(0.8))
    told = putts_to_tell(found, (17,))
    assert 17 in told
    assert told == sorted(set(told))
    assert found.chance_within(told[-1]) >= 0.99
    assert len(told) < 30


def test_restarts_and_finish_in_words():
    lives = sentences(odds(load("three-lives"), every(0.9)))
    assert "It is finished about 54 times in 100; else it ends without." in lives
    streak = sentences(odds(with_options(load("head-gate-streak"), Options(target=10)), every(0.9)), (30,))
    assert any(line.startswith("Within 30 putts you finish") for line in streak)
    assert any(line.startswith("It begins again 1.58 times on average") for line in streak)  # 0.9^-9 - 1


# --- which chance a putt gets --------------------------------------------------------------------


def test_the_narrowest_chance_goes_first():
    rules = load("nine-six-three")
    how = setting(rules, start(rules))
    make = with_keys(rules, [(EVERY, 0.1), ("1", 0.2), ("9 ft", 0.3)])
    assert given_chance(rules, Player(make=make), 0, how, 0) == 0.3
    assert given_chance(rules, Player(make=make[:2]), 0, how, 0) == 0.2
    assert given_chance(rules, Player(make=make[:1]), 0, how, 0) == 0.1
    assert given_chance(rules, Player(), 0, how, 0) is None


def test_stages_can_be_named_by_their_titles():
    rules = load("must-make-finish")
    make = with_keys(rules, [("earn it", 0.7), ("the one that counts", 0.5)])
    found = odds(rules, Player(make=make))
    assert found.expected_putts == odds(rules, Player(make=(("1", 0.7), ("2", 0.5)))).expected_putts


@pytest.mark.parametrize("key", ["9ft", "9 ft", "9.0ft"])
def test_distances_are_written_as_the_drill_writes_them(key):
    assert with_keys(load("nine-six-three"), [(key, 0.5)]) == (("9 ft", 0.5),)


def test_a_key_that_fits_nothing_is_named():
    with pytest.raises(DrillError, match=r"player 7ft; nearest.*it has: 1, 2, 3, 9 ft, 6 ft, 3 ft"):
        with_keys(load("nine-six-three"), [("7ft", 0.5)])


@given(
    st.floats(0, 1), st.one_of(st.none(), st.floats(0, 1)), st.one_of(st.none(), st.floats(0, 1)),
    st.one_of(st.none(), st.builds(Stroke, st.floats(0.1, 5), st.floats(0.01, 0.3))), st.booleans(),
)  # fmt: skip
def test_the_four_things_a_putt_can_do_sum_to_one(p, gate, if_holed, stroke, is_given):
    rules = load("ball-gate-points")
    if stroke is None and not is_given:
        return
    player = Player(
        make=((EVERY, p),) if is_given else (),
        gate=gate,
        gate_if_holed=if_holed if gate is not None else None,
        stroke=stroke,
    )
    found = putt_chances(rules, player, 0, setting(rules, start(rules)))
    assert sum(found) == pytest.approx(1)
    assert min(found) >= -1e-12
    if is_given:
        assert found.holed == pytest.approx(p)


@pytest.mark.parametrize("chance", [-0.1, 1.1, math.nan])
def test_a_chance_that_cannot_be(chance):
    with pytest.raises(DrillError, match="from 0 to 1"):
        every(chance)
