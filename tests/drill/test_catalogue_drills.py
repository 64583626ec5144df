"""The other drills of the catalogue and what the vocabulary can say, against sheets worked out by hand."""

import re
from dataclasses import replace

import pytest

from puttvision.drill import catalogue
from puttvision.drill.catalogue import load, names
from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.errors import DrillError
from puttvision.putts import Figure, Putt, Rest


def with_figures(putts, **figures):
    """Putts with one figure each: ``run_out_m=[0.2, -0.1]``."""
    out = list(putts)
    for name, values in figures.items():
        out = [replace(putt, **{name: Figure(value)}) for putt, value in zip(out, values, strict=True)]
    return out


def drill(text):
    return parse_rules('name = "mine"\n' + text, "mine.toml")


def test_catalogue_has_the_fixed_three_and_more_that_differ():
    assert names()[:3] == ("head-gate-streak", "ball-gate-points", "nine-six-three")
    assert len(names()) >= 13
    for name in names():
        rules = load(name)
        assert rules.name == name
        assert rules.about
        assert rules.setup
        assert rules.equipment
        assert not re.search(r"[A-Z]\w+'s\b", rules.about + rules.setup)


def test_unknown_drill_gets_the_nearest_name():
    with pytest.raises(DrillError, match='nearest: "nine-six-three"'):
        catalogue.load("nine-six-tree")


@pytest.mark.parametrize(
    ("name", "options", "match"),
    [
        ("nine-six-three", Options(strict=True), r"takes no --strict; options it takes: none"),
        ("head-gate-streak", Options(putts=3), r"takes no --putts; options it takes: --target"),
        ("head-gate-streak", Options(target=0), r"--target: a number from 1 to 100000 was due, got 0"),
        ("hole-by-hole", Options(players=("A", "A")), r"two different names"),
    ],
)
def test_options_a_drill_does_not_take_are_refused(name, options, match):
    with pytest.raises(DrillError, match=match):
        with_options(load(name), options)


def test_pace_ladder_goes_up_and_down(putts_of):
    # holed, 20 cm past: up; 50 cm past and short: down again to 10 ft
    putts = with_figures(putts_of("M X X X"), run_out_m=[0.3, 0.20, 0.50, -0.10])
    card = score(load("pace-ladder-up"), putts)
    assert [line.step.stage for line in card.lines] == [0, 0, 1, 1]
    assert [line.step.made for line in card.lines] == [True, True, False, False]
    assert card.position.stage == 0
    assert card.totals[0].restarts == 1  # back at the very beginning, from the second step


def test_pace_points_by_run_out(putts_of):
    putts = with_figures(putts_of("M X X X X"), run_out_m=[0.8, 0.45, 0.451, 0.95, -0.01])
    card = score(load("pace-ladder-down"), putts)
    assert [line.step.points for line in card.lines] == [300, 200, 100, 0, -100]
    assert [str(line.step.setting.distance) for line in card.lines] == [
        "40 ft", "30 ft", "20 ft", "10 ft", "40 ft"
    ]  # fmt: skip
    assert card.points == 500


def test_a_measure_that_is_lacking_sets_the_putt_aside(putts_of):
    card = score(load("pace-ladder-down"), putts_of("M X X"))
    assert [number for number, _ in card.set_aside] == [2, 3]
    assert card.set_aside[0][1] == "its run-out was not measured"
    by_hand = [Putt(number=1, outcome="missed", miss_length="short")]
    assert score(load("pace-ladder-down"), by_hand).points == -100  # short by hand is enough to be short


def test_a_limit_within_the_uncertainty_is_told(putts_of):
    putts = [replace(putts_of("X")[0], run_out_m=Figure(0.43, 0.06))]
    card = score(load("pace-ladder-down"), putts)
    assert card.lines[0].doubt == "run-out too near the limit to be sure"
    assert card.look_at == (1,)


@pytest.mark.parametrize(
    ("putt", "doubt"),
    [
        pytest.param({"run_out_m": Figure(0.43, 0.06)}, "run-out too near the limit to be sure", id="near"),
        pytest.param({"run_out_m": Figure(0.30, 0.06)}, "", id="well inside"),
        pytest.param(
            {"run_out_m": Figure(0.43, 0.06), "outcome": "holed"}, "", id="holed: pace decides nothing"
        ),
    ],
)
def test_only_a_limit_that_decides_makes_a_doubt(putts_of, putt, doubt):
    card = score(load("pace-ladder-down"), [replace(putts_of("X")[0], **putt)])
    assert card.lines[0].doubt == doubt


def test_putts_from_another_distance_are_told(putts_of):
    putts = with_figures(putts_of("X X X"), hole_distance_m=[3.05, 2.4, 3.4])
    card = score(load("ball-gate-points"), putts)  # 3.05 m
    assert card.elsewhere == ()
    assert score(load("nine-six-three"), putts).to_json()["other_distance"] == []
    assert score(load("head-gate-streak"), putts).to_json()["other_distance"] == [1, 2, 3]  # 0.91 m


def test_lag_zone_by_distance_left(putts_of):
    def left(along_m, right_m):
        rest = Rest(along_m=Figure(9.0 + along_m), right_m=Figure(right_m))
        return replace(putts_of("X")[0], hole_distance_m=Figure(9.0), rest=rest)

    putts = [left(0.3, 0.3), left(-0.4, 0.3), left(0.8, 0.5)]  # 42, 50 and 94 cm from the hole
    putts = [replace(putt, number=number) for number, putt in enumerate(putts, start=1)]
    card = score(load("lag-zone"), [*putts, Putt(number=4, outcome="holed")])
    assert [line.step.points for line in card.lines] == [200, 100, 0, 300]
    assert [line.step.made for line in card.lines] == [True, True, False, True]


def test_start_line_points_take_the_gate_before_the_hole(putts_of):
    putts = with_figures(putts_of("X X X"), start_direction_to_hole_deg=[0.4, -0.9, 1.4])
    assert score(load("start-line-points"), putts).points == 300
    gated = [replace(putt, start_direction_to_gate_deg=Figure(2.0)) for putt in putts]
    assert score(load("start-line-points"), gated).points == 0


def test_narrowing_gate_looks_at_the_gate_only(putts_of):
    card = score(load("narrowing-gate"), putts_of("Mo Xc Xt Xc Xc Xc Xc"))
    assert [line.step.made for line in card.lines] == [False, True, True, True, True, True, True]
    assert card.position.stage == 1
    assert card.lines[-1].step.setting.gate_mm == 70


def test_clock_moves_on_with_made_putts(putts_of):
    card = score(load("clock-round"), putts_of("M M X M"))
    assert [line.step.setting.from_ for line in card.lines] == [
        "12 o'clock", "1:30", "3 o'clock", "12 o'clock"
    ]  # fmt: skip
    assert card.totals[0].restarts == 0


def test_one_ball_to_the_end(putts_of):
    # one putt: +1; two: 0; three: -1; five and still not in: picked up, -1
    card = score(load("one-ball-out"), putts_of("M X M X X M X X X X X M"))
    assert [line.step.points for line in card.lines if line.step.kind != "played on"] == [
        100, 0, -100, -100, 100
    ]  # fmt: skip
    assert card.points == 0
    assert (card.totals[0].made, card.totals[0].tried) == (3, 5)
    assert card.totals[0].streak == 1
    assert card.totals[0].best_streak == 1


def test_must_make_finish_sends_back(putts_of):
    card = score(load("must-make-finish"), putts_of("M M M M M M X X X X X"))
    assert card.position.stage == 0
    assert card.totals[0].restarts == 1
    assert card.lines[-1].step.forfeit == "once round the green with the bag"
    assert "forfeit: once round the green" in card.what_happened
    too_few = score(load("must-make-finish"), putts_of("M M M M M X X X X X"))
    assert too_few.lines[-1].step.fault == "start again"
    assert too_few.totals[0].restarts == 0  # within the first stage


def test_count_one_back(putts_of):
    card = score(load("break-pairs"), putts_of("X M M M X"))
    assert [line.made for line in card.lines] == [0, 1, 2, 3, 2]
    sides = [line.step.setting.side for line in card.lines]
    assert sides == ["left to right", "left to right", "right to left", "left to right", "right to left"]


def test_points_never_fall_below_the_lowest(putts_of):
    card = score(load("plus-minus"), putts_of("X M X X M M"))
    assert [line.step.points for line in card.lines] == [0, 100, -100, 0, 100, 100]
    assert score(load("plus-minus"), putts_of("M M X M M M M M")).state == "finished"


def test_three_lives(putts_of):
    card = score(load("three-lives"), putts_of("M X X M M X M X M M"))
    assert card.state == "failed"
    assert card.counted == 8  # the second miss ended nothing; the fourth took the last life
    assert card.totals[0].restarts == 2
    assert card.what_next.startswith("the drill is over after 8 putts")


def test_one_miss_and_out(putts_of):
    card = score(load("one-miss-and-out"), putts_of("M M M X M"))
    assert card.state == "failed"
    assert card.points == 300
    assert str(card.lines[-1].step.setting.distance) == "6 ft"


def test_best_of_three_rounds(putts_of):
    rules = with_options(load("best-of-three"), Options(putts=3))
    card = score(rules, putts_of("M X X  M M X  X X M  M"))
    assert card.state == "finished"
    assert card.points == 200
    assert sum(line.step.points_change for line in card.lines) == 200
    assert score(rules, putts_of("M X X  M")).points == 100  # the best round so far
    assert score(rules, putts_of("M X X  M M")).points == 200


@pytest.mark.parametrize(
    ("putts", "state", "won"),
    [
        pytest.param("M M M M  M M M M  M M X M M", "finished", 3, id="three won in a row"),
        pytest.param("X X  M X X  X M X", "failed", 0, id="three lost: two cannot be enough"),
        pytest.param("X X  M M M M  X X", "running", 1, id="one to two"),
    ],
)
def test_rounds_to_win(putts_of, putts, state, won):
    card = score(load("rounds-to-win"), putts_of(putts))
    assert card.state == state
    assert card.totals[0].rounds_won == won


def test_all_rounds_together_keep_their_points_through_a_restart(putts_of):
    rules = drill(
        '[series]\nrounds = 2\nresult = "all rounds"\n[[points]]\nwhen = "holed"\ngive = 1\n'
        '[[stage]]\nmake = 2\nmisses_allowed = 0\non_fault = "start again"\n'
    )
    card = score(rules, putts_of("M M  M X M M"))
    assert card.points == 400  # round 1: 2; round 2: the first was lost in the restart, then 2
    assert card.totals[0].restarts == 1


def test_a_hard_limit_ends_it(putts_of):
    putts = with_figures(putts_of("M M X M M"), start_s=[20.0, 100.0, 320.0, 320.1, 330.0])
    card = score(load("five-minutes"), putts)
    assert card.state == "finished"
    assert card.time_is_up
    assert card.counted == 3  # struck at 0, 80 and 300 s; the fourth at 300.1 s is too late
    assert card.points == 200


@pytest.mark.parametrize(("seconds", "beaten"), [(1199.0, True), (1200.0, False)])
def test_the_mark_to_beat(putts_of, seconds, beaten):
    putts = with_figures(putts_of("M " * 9), start_s=[30 + seconds * i / 8 for i in range(9)])
    out = score(load("nine-six-three"), putts).to_json()
    assert out["state"] == "finished"
    assert out["time_s"] == pytest.approx(seconds)
    assert out["clock"]["beaten"] is beaten


def test_random_order_is_fixed_by_its_seed_and_fair():
    def distances(seed, n_putts=18):
        rules = with_options(load("random-distances"), Options(seed=seed, putts=n_putts))
        card = score(rules, [Putt(number=n, outcome="missed") for n in range(1, n_putts + 1)])
        return [line.step.setting.distance.value for line in card.lines]

    assert distances(3) == distances(3)
    assert distances(3) != distances(4)
    assert distances(3, 9) == distances(3, 40)[:9]
    assert sorted(distances(3)[:9]) == sorted(distances(3)[9:]) == [3, 4, 5, 6, 8, 10, 12, 15, 20]
    # as first drawn: a text seed and Random.random are the parts of random that never change
    assert distances(1)[:9] == [4, 3, 8, 5, 6, 20, 10, 15, 12]


def test_faults_that_bite_at_once(putts_of):
    rules = drill(
        "[[stage]]\nputts = 6\n"
        '[[stage.fault]]\nwhen = "short"\nthen = "nothing"\nforfeit = "a press-up"\n'
        '[[stage.fault]]\nwhen = "past"\nthen = "count back"\n'
    )
    putts = with_figures(putts_of("M X M X M"), run_out_m=[0.2, -0.3, 0.2, 0.4, 0.2])
    card = score(rules, putts)
    assert [line.step.forfeit for line in card.lines] == ["", "a press-up", "", "", ""]
    assert [line.tried for line in card.lines] == [1, 2, 3, 0, 1]
    assert card.totals[0].restarts == 1


def test_most_putts(putts_of):
    rules = drill('most_putts = 4\n[[stage]]\nmake = 3\nmisses_allowed = "any"\n')
    assert score(rules, putts_of("M X X M M")).state == "failed"
    assert score(rules, putts_of("M X M M M")).state == "finished"  # made with the last one allowed


def test_points_needed_and_points_reset_by_going_back(putts_of):
    rules = drill(
        '[[points]]\nwhen = "holed"\ngive = 1\n'
        '[[stage]]\nputts = 3\npoints_needed = 2\non_fault = "start again"\n[[stage]]\nputts = 2\n'
    )
    lost = score(rules, putts_of("M X X"))
    assert (lost.points, lost.position.stage, lost.totals[0].restarts) == (0, 0, 0)
    won = score(rules, putts_of("M X X M M X M X"))
    assert (won.points, won.state) == (300, "finished")


def test_turns_that_follow_putts_go_on_through_misses(putts_of):
    rules = drill(
        '[[stage]]\nmake = 3\nmisses_allowed = "any"\n'
        '[[stage.turns]]\nof = "ball"\neach = ["a", "b", "c"]\nputts = [1, 2, 1]\n'
    )
    card = score(rules, putts_of("X X X X X M X M M"))
    assert "".join(line.step.setting.ball for line in card.lines) == "abbcabbca"
    assert card.state == "finished"


def test_a_grip_for_a_whole_stage(putts_of):
    rules = drill('[[stage]]\ngrip = "trail hand alone"\nputts = 2\n')
    assert [line["grip"] for line in score(rules, putts_of("M X")).to_json()["lines"]] == (
        ["trail hand alone"] * 2
    )
