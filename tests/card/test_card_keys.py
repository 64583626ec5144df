"""Keys to putts: what each key means, what is asked, what is refused, undo. No terminal, no files."""

import random

import pytest
from card_keys import BETWEEN_S, NOON, play, presses, rules
from hypothesis import given
from hypothesis import strategies as st

from puttvision.card import keys
from puttvision.card.card import new_card, press, refuse, replay, scorecard, sheet
from puttvision.card.hand import asked, begin
from puttvision.card.keys import Press
from puttvision.card.view import look
from puttvision.drill.catalogue import load, names
from puttvision.drill.load import parse_rules
from puttvision.drill.scorecard import score
from puttvision.errors import CardError
from puttvision.putts import from_json, to_json

BY_EYE = [name for name in names() if name != "start-line-points"]


def putts(card):
    return [(p.outcome, p.gate_result, p.miss_side, p.miss_length) for p in sheet(card).putts]


def test_made_and_missed_are_putts():
    card = play(rules("nine-six-three"), "m x m m")
    assert putts(card) == [(outcome, "none", None, None) for outcome in ("holed", "missed", "holed", "holed")]
    assert [p.number for p in sheet(card).putts] == [1, 2, 3, 4]


def test_where_a_miss_went_is_noted_on_it_and_may_be_changed():
    card = play(rules("nine-six-three"), "x l s m x r p l")
    assert putts(card) == [
        ("missed", "none", "left", "short"),
        ("holed", "none", None, None),
        ("missed", "none", "left", "long"),
    ]


@pytest.mark.parametrize("order", ["g m", "m g"], ids=["gate first", "hole first"])
def test_gate_and_hole_in_either_order_are_one_putt(order):
    card = play(rules("ball-gate-points"), f"{order} x o t x")
    assert putts(card)[0] == ("holed", "clear", None, None)
    assert putts(card)[1] == ("missed", "outside", None, None)
    assert putts(card)[2] == ("missed", "touched", None, None)
    assert scorecard(card).points == 150  # 1 + 0 + 0.5, by the drill's rules


def test_strict_points_hang_on_the_gate():
    assert scorecard(play(rules("ball-gate-points"), "m o")).points == 100
    assert scorecard(play(rules("ball-gate-points", strict=True), "m o")).points == 0


@pytest.mark.parametrize(
    ("drill", "before", "key", "why"),
    [
        pytest.param(
            "ball-gate-points", "m", "made", "first: the gate", id="next putt before the gate is told"
        ),
        pytest.param("ball-gate-points", "g", "outside", "first: made or missed", id="gate twice"),
        pytest.param("nine-six-three", "m", "through", "no ball gate", id="no gate in this drill"),
        pytest.param("nine-six-three", "m", "left", "that one was made", id="side of a made putt"),
        pytest.param("nine-six-three", "", "left", "first: made or missed", id="side of no putt"),
        pytest.param("nine-six-three", "x", "1", "says nothing", id="zone where none is asked"),
        pytest.param("nine-six-three", "", "undo", "nothing to undo", id="undo at the beginning"),
        pytest.param("nine-six-three", "m m m m m m m m m", "made", "the drill is over", id="after the end"),
        pytest.param("lag-zone", "x", "9", "says nothing", id="no such zone"),
        pytest.param("slope-pairs", "x", "made", "first: short or past", id="length is asked"),
    ],
)
def test_keys_that_say_nothing_are_refused(drill, before, key, why):
    card = play(rules(drill), before)
    assert why in refuse(card, key, card.at_s + 1)


def test_what_points_hang_on_is_asked_before_the_putt_counts():
    card = play(rules("slope-pairs"), "x")
    assert asked(card.rules, card.hand) == "length"
    assert sheet(card).putts == ()
    card = play(rules("slope-pairs"), "m x s x p")
    assert [p.miss_length for p in sheet(card).putts] == [None, "short", "long"]
    assert scorecard(card).points == 50  # 1 - 0.5 + 0


def test_zones_along_the_line():
    # pace-ladder-down: 3 holed, 2 for 0-45 cm past, 1 for 45-90 cm, -1 short, else nothing
    card = play(rules("pace-ladder-down"), "m x 1 x 2 x 3 x s")
    assert [line.step.points for line in scorecard(card).lines] == [300, 200, 100, 0, -100]
    one, two, three = (p.run_out_m for p in sheet(card).putts[1:4])
    assert (one.value, two.value) == (0.225, 0.675)
    assert three.value > 0.9
    for figure, low, high in ((one, 0.0, 0.45), (two, 0.45, 0.90)):
        # a ball that may lie anywhere from low to high: 95 % of the places lie within 0.475 of the width
        assert figure.u95 == pytest.approx(0.475 * (high - low), abs=1e-4)
        assert low < figure.value - figure.u95
        assert figure.value + figure.u95 < high
    assert scorecard(card).look_at == ()


def test_zones_round_the_hole():
    # lag-zone: 3 holed, 2 within 45 cm, 1 within 90 cm
    card = play(rules("lag-zone"), "m x 1 x 2 s l x 3")
    assert [line.step.points for line in scorecard(card).lines] == [300, 200, 100, 0]
    assert scorecard(card).look_at == ()
    assert "by eye" in sheet(card).warnings[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param("start_line_deg = 1", "start line", id="start line"),
        pytest.param("leave_cm = 45", "distance_ft", id="distance left, from nowhere in particular"),
    ],
)
def test_what_no_eye_can_tell_is_refused_at_once(text, words):
    drill = parse_rules(f'name = "a"\n[[stage]]\nputts = 5\nmade_when = {{ {text} }}\n')
    with pytest.raises(CardError, match=words):
        begin(drill)


@pytest.mark.parametrize("name", BY_EYE)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_drill_can_be_played_with_the_keys_on_the_page(name, seed):
    """Whatever the page offers is let through, and no putt is set aside for want of something."""
    chance = random.Random(seed)
    card = press(new_card(load(name)), Press(keys.OPENED, NOON))
    offered = set()
    for number in range(400):
        at_s = NOON + 15 * number
        view = look(card, scorecard(card), at_s)
        letters = [letter for letter, _ in view.legend if letter not in ("space", "?", "q")]
        for letter in letters:
            assert refuse(card, keys.LETTERS[letter], at_s) == "", (letter, view)
        offered |= set(letters)
        good = [letter for letter in letters if letter in "mg"]
        letter = chance.choice(good or letters) if chance.random() < 0.6 else chance.choice(letters)
        card = press(card, Press(keys.LETTERS[letter], at_s))
        if card.over and chance.random() < 0.5:
            break
    assert {"m", "x", "u"} <= offered
    scored = scorecard(card)
    assert scored.set_aside == ()
    written = from_json(to_json(sheet(card)))
    assert written == sheet(card)
    assert score(card.rules, written.putts).to_json() == scored.to_json()


KEYS = st.lists(st.sampled_from([*keys.PUTT_KEYS, "undo", "clock"]), max_size=60)
DRILLS = st.sampled_from(
    ["ball-gate-points", "nine-six-three", "lag-zone", "pace-ladder-down", "one-ball-out"]
)


def pressed(drill, names_of_keys):
    """A card after those of the keys that are let through, and the presses that were."""
    card, taken = new_card(load(drill)), [Press(keys.OPENED, NOON)]
    card = press(card, taken[0])
    for number, key in enumerate(names_of_keys, start=1):
        one = Press(key, NOON + 20 * number)
        if not refuse(card, *one):
            card = press(card, one)
            taken.append(one)
    return card, taken


@given(drill=DRILLS, typed=KEYS)
def test_replaying_the_keys_gives_the_card(drill, typed):
    card, taken = pressed(drill, typed)
    assert replay(load(drill), taken) == card


@given(drill=DRILLS, typed=KEYS, n_back=st.integers(1, 60))
def test_undo_takes_back_key_by_key_to_the_very_beginning(drill, typed, n_back):
    typed = [key for key in typed if key != "undo"]
    card, taken = pressed(drill, typed)
    told = [one for one in taken if one.key in keys.PUTT_KEYS]
    n_back = min(n_back, len(told))
    undone = card
    for number in range(n_back):
        assert refuse(undone, "undo", card.at_s + number) == ""
        undone = press(undone, Press("undo", card.at_s + number))
    kept, _ = pressed(drill, [one.key for one in told[: len(told) - n_back]])
    assert putts(undone) == putts(kept)
    assert undone.hand.entry[:-1] == kept.hand.entry[:-1]
    assert undone.hand.position == kept.hand.position


def test_two_players_take_turns_and_are_named():
    card = play(rules("race-to-ten", players=("Ines", "Oluf")), "m x m")
    assert [p.player for p in sheet(card).putts] == ["Ines", "Oluf", "Ines"]
    assert [t.points for t in scorecard(card).totals] == [200, 0]


# --- the clock -------------------------------------------------------------------------------


def starts(card):
    return [p.start_s.value for p in sheet(card).putts]


def test_the_clock_starts_with_the_first_putt():
    card = play(rules("nine-six-three"), "m x m")
    assert starts(card) == [0.0, BETWEEN_S, 2 * BETWEEN_S]
    assert scorecard(card).time_s == 2 * BETWEEN_S
    # as its key is pressed, the first stroke is taken to be three seconds old
    assert play(rules("nine-six-three"), "m").clock_s(NOON) == pytest.approx(3.0)


def test_the_clock_may_be_started_with_the_first_stroke():
    card = play(rules("nine-six-three"), "_ m x")
    assert starts(card) == [0.0, 2 * BETWEEN_S - 3.0]
    assert card.clock_s(NOON + 2 * BETWEEN_S) == pytest.approx(2 * BETWEEN_S)
    taken_back = play(rules("nine-six-three"), "_ _ m x")
    assert starts(taken_back) == [0.0, BETWEEN_S]


def test_pauses_are_left_out():
    card = play(rules("nine-six-three"), "m _ +600 _ m")
    assert starts(card) == [0.0, 2 * BETWEEN_S]
    assert play(rules("nine-six-three"), "m _").clock_s(NOON + 5000) == pytest.approx(BETWEEN_S + 3.0)


def test_a_putt_ends_a_pause():
    card = play(rules("nine-six-three"), "m _ +600 m m")
    assert starts(card) == [0.0, BETWEEN_S - 0.0, 2 * BETWEEN_S]


@pytest.mark.parametrize("key", [keys.CLOSED, keys.SLEPT], ids=["closed", "lid shut"])
def test_the_clock_waits_while_the_card_is_closed(key):
    card = play(rules("nine-six-three"), "m")
    card = press(card, Press(key, NOON + 10))
    card = press(card, Press(keys.OPENED, NOON + 5000))
    assert card.clock_s(NOON + 6000) == pytest.approx(13.0)
    card = press(card, Press("made", NOON + 6000))
    card = press(card, Press("made", NOON + 6020))
    assert starts(card) == [0.0, 10.0, 30.0]


def test_after_a_crash_the_clock_stands_from_the_last_key():
    card = press(play(rules("nine-six-three"), "m m"), Press(keys.OPENED, NOON + 5000))
    assert not card.clock.runs
    assert card.clock_s(NOON + 6000) == pytest.approx(BETWEEN_S + 3.0)


def test_a_putt_put_right_keeps_its_time():
    card = play(rules("nine-six-three"), "m m +-16 u +-16 x")
    assert [p.outcome for p in sheet(card).putts] == ["holed", "missed"]
    assert starts(card) == [0.0, BETWEEN_S]


def test_several_putts_put_right_keep_their_times():
    card = play(rules("nine-six-three"), "m m x +-18 u +-18 u +-18 x +-18 m +30 m")
    assert [p.outcome for p in sheet(card).putts] == ["holed", "missed", "holed", "holed"]
    assert starts(card)[:3] == [0.0, BETWEEN_S, 2 * BETWEEN_S]
    assert starts(card)[3] > 3 * BETWEEN_S


def test_a_putt_played_long_after_an_undo_has_its_own_time():
    card = play(rules("nine-six-three"), "m m u +100 x")
    assert starts(card) == [0.0, 3 * BETWEEN_S + 100]


def test_a_false_start_does_not_start_the_clock():
    card = play(rules("nine-six-three"), "m u")
    assert card.clock_s(NOON + 500) == 0.0
    assert starts(play(rules("nine-six-three"), "m u +100 m m")) == [0.0, BETWEEN_S]


def five_minutes(n_putts, between_s=20.0):
    return play(rules("five-minutes"), "m " * n_putts, between_s=between_s)


def test_time_is_up_at_the_limit_and_score_says_so_too():
    card = five_minutes(15)
    at_s = NOON + 297.0  # the clock shows 300 s: the first stroke was 3 s before its key
    assert not card.limit_passed(at_s + 2.9)  # a ball struck in time may still roll
    assert card.limit_passed(at_s + 3.1)
    card = press(card, Press(keys.TIME_UP, at_s + 3.1))
    scored = score(card.rules, from_json(to_json(sheet(card))).putts)
    assert (scored.state, scored.time_is_up, scored.counted) == ("finished", True, 15)
    assert scored.points == 1500
    assert refuse(card, "made", at_s + 20) == "time is up"


def test_the_last_putt_before_the_limit_can_be_put_right_after_it():
    card = press(five_minutes(15), Press(keys.TIME_UP, NOON + 301))
    for key in ("undo", "missed"):
        assert refuse(card, key, NOON + 400) == ""
        card = press(card, Press(key, NOON + 400))
    assert scorecard(card).points == 1400
    assert scorecard(card).time_is_up


def test_instants_never_run_backwards():
    card = play(rules("nine-six-three"), "m m")
    assert card.clock_s(NOON - 1000) == card.clock_s(card.at_s)


def test_presses_read_as_typed():
    assert presses("m _ u") == [
        Press("made", NOON), Press("clock", NOON + 20), Press("undo", NOON + 40),
    ]  # fmt: skip
