"""What putts are told apart by, worked out by hand from where and how they were played."""

from dataclasses import replace
from datetime import date

import pytest

from puttvision.coaching.attempts import KEYS, Attempt, by, distance_band, streak_target
from puttvision.coaching.words import group_lines
from puttvision.putts import Figure, Putt

DAY = date(2026, 5, 3)


def attempt(**played):
    putt = Putt(number=1, outcome="holed", gate_result="clear", hole_distance_m=Figure(3.05))
    return Attempt(session=1, day=DAY, putt=putt, **played)


@pytest.mark.parametrize(
    ("key", "played", "name"),
    [
        ("drill", {"drill": "race-to-ten"}, "race-to-ten"),
        ("distance", {}, "10 ft"),  # 3.05 m is 10.007 ft
        ("grip", {"grip": "left hand"}, "left hand"),
        ("break", {"side": "right to left"}, "right to left"),
        ("gate", {"gate_mm": 66.0}, "65 mm"),
        ("time", {"at": 0.1}, "first third"),
        ("time", {"at": 0.9}, "last third"),
        ("streak", {"target": 10, "streak": 2}, "first putts of a streak"),
        ("streak", {"target": 10, "streak": 5}, "last putts of a streak"),
    ],
)
def test_a_putt_stands_where_it_was_played(key, played, name):
    assert list(by(key, [attempt(**played)])) == [name]


@pytest.mark.parametrize("key", sorted(set(KEYS) - {"distance", "time"}))
def test_what_is_not_known_of_a_putt_leaves_it_out(key):
    assert by(key, [attempt()]) == {}
    assert group_lines(key, [attempt()]) == [f"by {key}: nothing is known of it"]


def test_the_middle_of_a_session_is_neither_early_nor_late():
    assert by("time", [attempt(at=0.5)]) == {}


def test_distances_and_gates_rise():
    far = [replace(attempt(), putt=replace(attempt().putt, hole_distance_m=Figure(m))) for m in (3.05, 0.91)]
    assert list(by("distance", far)) == ["3 ft", "10 ft"]
    assert list(by("gate", [attempt(gate_mm=100), attempt(gate_mm=65)])) == ["65 mm", "100 mm"]
    assert [distance_band(m) for m in (1.83, 3.66, 5.2)] == [6, 12, 15]


def test_every_group_has_its_figures():
    lines = group_lines("break", [attempt(side="straight"), attempt(side="left to right")] * 3)
    assert lines[0] == "by break:"
    assert [line.split(":")[0].strip() for line in lines[1:]] == ["straight", "left to right"]
    assert all("3 putts, holed 100 % (44 to 100)" in line for line in lines[1:])  # Wilson: 3 of 3 from 0.44


def test_a_streak_is_a_streak_only_where_the_drill_asks_for_one():
    assert streak_target("head-gate-streak", 12, 1) == 12
    assert streak_target("ball-gate-points", None, 1) is None
    assert streak_target("no-such-drill", None, 1) is None
