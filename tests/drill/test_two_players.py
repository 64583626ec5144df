"""Two players: hole by hole and over a whole drill, against matches worked out by hand."""

from dataclasses import replace

import pytest

from puttvision.drill.catalogue import load
from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score

PLAYERS = ("Ines", "Oluf")


def match(played, name="hole-by-hole", **options):
    return score(with_options(load(name), Options(players=PLAYERS, **options)), played)


@pytest.mark.parametrize(
    ("putts", "state", "lead", "winner"),
    [
        pytest.param("M X", "running", 1, None, id="made beats missed"),
        pytest.param("M M X X X M", "finished", -1, 1, id="last hole decides"),
        pytest.param("M X M X", "finished", 2, 0, id="two up with one to play"),
        pytest.param("M M X X M M", "running", 0, None, id="level after the last: it goes on"),
        pytest.param("M M X X M M X X X M", "finished", -1, 1, id="decided at the second extra hole"),
    ],
)
def test_hole_by_hole(putts_of, putts, state, lead, winner):
    card = match(putts_of(putts), putts=3)
    assert (card.state, card.position.lead, card.position.winner) == (state, lead, winner)


def test_both_play_the_same_putt(putts_of):
    card = match(putts_of("M M X X M X"))
    assert [str(line.step.setting.distance) for line in card.lines] == [
        "5 ft", "5 ft", "8 ft", "8 ft", "6 ft", "6 ft"
    ]  # fmt: skip
    assert [card.player(line) for line in card.lines] == ["Ines", "Oluf"] * 3
    assert card.what_next == "Ines to putt: 10 ft, hole 4 of 9, Ines 1 up; both hands"


def test_a_halved_match(putts_of):
    text = 'name = "m"\n[two_players]\ncompare = "each hole"\n[[stage]]\nputts = 2\n'
    card = score(parse_rules(text), putts_of("M X X M"))
    assert (card.state, card.position.winner) == ("finished", None)
    assert card.what_next == "halved after 4 putts"


def test_a_putt_out_of_turn_is_set_aside(putts_of):
    first, again, second = putts_of("M M X")
    putts = [replace(first, player="Ines"), replace(again, player="Ines"), replace(second, player="Oluf")]
    card = match(putts)
    assert card.set_aside == ((2, "out of turn: it is Oluf to putt"),)
    assert card.position.lead == 1


def test_an_unseen_putt_waits_for_the_same_player(putts_of):
    card = match(putts_of("M U X"))
    assert (card.position.to_play, card.position.lead) == (0, 1)


@pytest.mark.parametrize(
    ("putts", "winner"),
    [
        pytest.param("M M M X", 0, id="the first gets there, the other has had the last putt"),
        pytest.param("M M M M", None, id="the last putt draws level"),
        pytest.param("X M X M", 1, id="the second gets there"),
    ],
)
def test_race(putts_of, putts, winner):
    card = match(putts_of(putts), name="race-to-ten", target=2)
    assert card.state == "finished"
    assert card.position.winner == winner
    players = card.to_json()["players"]
    assert [player["won"] for player in players] == [winner == 0, winner == 1]


def test_race_waits_for_the_last_putt(putts_of):
    card = match(putts_of("M M M"), name="race-to-ten", target=2)
    assert (card.state, card.position.to_play) == ("running", 1)


def test_whole_drill_of_fixed_length_compares_points(putts_of):
    text = (
        'name = "m"\n[two_players]\nnames = ["Ines", "Oluf"]\ncompare = "whole drill"\n'
        '[[points]]\nwhen = "holed"\ngive = 1\n[[stage]]\nputts = 2\n'
    )
    card = score(parse_rules(text), putts_of("M X X X"))
    assert (card.state, card.position.winner) == ("finished", 0)
    assert card.what_next == "Ines won, 1 to 0"
    assert card.points is None
    assert [player["points"] for player in card.to_json()["players"]] == [1, 0]
