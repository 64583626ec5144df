"""Odds of the other drills: formulas where there are some, and the exact way against the simulated one."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from puttvision.drill import odds as odds_module
from puttvision.drill.catalogue import load, names
from puttvision.drill.chances import Player, every
from puttvision.drill.load import parse_rules
from puttvision.drill.odds import odds
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.simulate import simulate
from puttvision.drill.stroke import Stroke, make_chance
from puttvision.errors import DrillError

STROKE = Player(stroke=Stroke(0.9, 0.07))
EXACT = [name for name in names() if not load(name).measures]
ENDING = [name for name in EXACT if name != "five-minutes"]
"""Those that end without a clock."""
MEASURED = [name for name in names() if load(name).measures]


def near(sample, exact, n):
    """Within 4 standard errors, of the exact chance where it is one; four goes more for a rare one."""
    if sample.dtype == bool:
        return abs(sample.mean() - exact) <= 4 * math.sqrt(max(exact * (1 - exact), 0) / n) + 4 / n
    return abs(sample.mean() - exact) <= 4 * sample.std() / math.sqrt(n) + 1e-9


@pytest.mark.parametrize("name", ENDING)
@pytest.mark.parametrize("p", [0.75, 0.9])
def test_exact_and_simulated_agree(name, p):
    rules = load(name)
    if name == "head-gate-streak":
        rules = with_options(rules, Options(target=12))
    player = Player(make=(("", p),), gate=0.8)
    found = odds(rules, player)
    assert found.method == "exact"
    n = 1500
    sample = simulate(rules, player, seed=11, runs=n)
    assert (sample.end >= 0).all()
    assert near(sample.n_putts, found.expected_putts, n)
    if found.expected_restarts is not None:
        assert near(sample.restarts, found.expected_restarts, n)
        assert near(sample.restarts == 0, found.restarts[0], n)
    if found.wins:
        for end, chance in enumerate(found.wins):
            assert near(sample.end == end, chance, n)
        assert sum(found.wins) == pytest.approx(1)
    else:
        assert near(sample.end == 0, found.chance_to_finish, n)
        if rules.gives_points:
            assert near(sample.points[:, 0] / 100, found.expected_points, n)
    for k in (5, 12, 20, 40):
        over = (sample.n_putts <= k) & ((sample.end == 0) | bool(found.wins))
        assert near(over, found.chance_within(k), n)


@pytest.mark.parametrize("p", [0.5, 0.75, 0.9])
def test_a_number_of_made_putts_is_binomial(p):
    # grips-and-balls: 18 of 24 or it has failed; it always takes 24 putts
    found = odds(load("grips-and-balls"), every(p))
    assert found.chance_to_finish == pytest.approx(stats.binom(24, p).sf(17), rel=1e-9)
    assert found.expected_putts == pytest.approx(24)


def test_the_best_of_three_rounds():
    # greatest of three binomials
    law = stats.binom(10, 0.7)
    found = odds(load("best-of-three"), every(0.7))
    for points, chance in found.points:
        assert chance == pytest.approx(law.cdf(points) ** 3 - law.cdf(points - 1) ** 3, abs=1e-10)


def test_three_rounds_won_of_five():
    # a round: 4 made before the second miss, so at least 4 of 5; three rounds won before three are lost
    p = 0.7
    won = stats.binom(5, p).sf(3)
    found = odds(load("rounds-to-win"), every(p))
    assert found.chance_to_finish == pytest.approx(stats.binom(5, won).sf(2), rel=1e-9)


def test_three_goes_at_fifteen_in_a_row():
    # An attempt ends with the miss after one or more made (a miss before the first is no restart): it begins
    # for good with the first one made, and is finished with p^14.
    p = 0.9
    found = odds(load("three-lives"), every(p))
    assert found.chance_to_finish == pytest.approx(1 - (1 - p**14) ** 3, rel=1e-9)


def test_one_up_one_down_is_a_walk_with_a_floor():
    # mean steps from k to k + 1: h(k) = (1 + q h(k - 1)) / p, at the floor h(0) = 1 / p
    p, q = 0.6, 0.4
    h = [1 / p]
    for _ in range(4):
        h.append((1 + q * h[-1]) / p)
    found = odds(load("plus-minus"), every(p))
    assert found.expected_putts == pytest.approx(sum(h), rel=1e-9)
    assert found.expected_points == pytest.approx(5)
    assert found.points == ((5.0, pytest.approx(1)),)


def test_eight_up_each_miss_one_back():
    # break-pairs: as above, with eight
    p, q = 0.7, 0.3
    h = [1 / p]
    for _ in range(7):
        h.append((1 + q * h[-1]) / p)
    assert odds(load("break-pairs"), every(p)).expected_putts == pytest.approx(sum(h), rel=1e-9)


def test_chances_by_distance():
    # one-miss-and-out: 3 to 10 ft; points are how far you got, the sum of products of chances
    chances = [0.99, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4]
    player = Player(make=tuple((f"{feet} ft", p) for feet, p in zip(range(3, 11), chances, strict=True)))
    found = odds(load("one-miss-and-out"), player)
    far = np.cumprod(chances)
    assert found.expected_points == pytest.approx(far.sum(), rel=1e-12)
    assert found.chance_to_finish == pytest.approx(far[-1], rel=1e-12)
    for points, chance in found.points:
        at_least = 1 if points == 0 else far[int(points) - 1]
        assert found.chance_of_points(points) == pytest.approx(at_least, rel=1e-12)
        assert chance == pytest.approx(at_least - (far[int(points)] if points < 8 else 0), rel=1e-9)


# --- two players ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("first", "second"), [(0.5, 0.5), (0.8, 0.6)])
def test_a_race_of_two(first, second):
    # The tenth one made needs N putts, negative binomial; turn and turn about, whoever began gives the last
    # putt: fewer wins, the same is halved.
    rules = load("race-to-ten")
    names_ = rules.two_players.names
    found = odds(rules, Player(make=((names_[0], first), (names_[1], second))))
    k = np.arange(10, 2000)
    one, two = (stats.nbinom(10, p, loc=10) for p in (first, second))
    halved = (one.pmf(k) * two.pmf(k)).sum()
    wins = (one.pmf(k) * two.sf(k)).sum()
    assert found.wins == pytest.approx((wins, 1 - wins - halved, halved), rel=1e-9)


def test_nine_holes_of_two():
    # made beats missed; up by more than there are left ends it; level after nine, it goes on until one wins
    p, q = 0.6, 0.5
    rules = load("hole-by-hole")
    names_ = rules.two_players.names
    found = odds(rules, Player(make=((names_[0], p), (names_[1], q))))
    up, down = p * (1 - q), q * (1 - p)
    lead = {0: 1.0}
    won, putts = 0.0, 0.0
    for hole in range(9):
        after = {}
        putts += 2 * sum(lead.values())
        for at, weight in lead.items():
            for to, chance in ((at + 1, up), (at - 1, down), (at, 1 - up - down)):
                if abs(to) > 8 - hole:
                    won += weight * chance * (to > 0)
                else:
                    after[to] = after.get(to, 0.0) + weight * chance
        lead = after
    assert set(lead) == {0}
    won += lead[0] * up / (up + down)
    putts += 2 * lead[0] / (up + down)
    assert found.wins == pytest.approx((won, 1 - won, 0), abs=1e-9)
    assert found.expected_putts == pytest.approx(putts, rel=1e-9)


# --- the clock -----------------------------------------------------------------------------------


def test_a_time_limit_counts_with_the_seconds_of_a_putt():
    # five-minutes: putts at 0, 20, ... 300 s are 16; points are made putts
    found = odds(load("five-minutes"), every(0.7), seconds_per_putt=20)
    law = stats.binom(16, 0.7)
    assert found.expected_putts == pytest.approx(16)
    assert found.expected_points == pytest.approx(law.mean())
    for points, chance in found.points:
        assert chance == pytest.approx(law.pmf(points), abs=1e-10)
    assert found.chance_to_finish == pytest.approx(1)
    assert odds(load("five-minutes"), every(0.7), seconds_per_putt=30).expected_putts == pytest.approx(11)


def test_without_the_seconds_the_time_limit_is_left_out_and_said():
    found = odds(load("five-minutes"), every(0.7))
    assert found.expected_putts is None
    assert any("--seconds-per-putt" in note for note in found.notes)


def test_minutes_become_whole_putts():
    found = odds(load("nine-six-three"), every(0.8), seconds_per_putt=25)
    assert found.putts_in(20) == 48
    assert found.putts_in(0.4) == 0
    with pytest.raises(ValueError, match="seconds per putt"):
        odds(load("nine-six-three"), every(0.8)).putts_in(20)


# --- simulation ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", MEASURED)
def test_measured_drills_are_simulated_with_their_standard_error(name):
    good = Player(stroke=Stroke(0.4, 0.03))
    found = odds(load(name), good, runs=200)
    assert found.method == "simulation"
    assert found.n_runs == 200
    assert any(note.startswith("simulated, not exact") and "seed 1" in note for note in found.notes)
    known = "expected_points" if load(name).gives_points else "expected_putts"
    assert found.u[known] > 0
    assert found.u_chance(0.5) == pytest.approx(0.5 / math.sqrt(200))
    again = odds(load(name), good, runs=200)
    assert (again.expected_putts, again.expected_points) == (found.expected_putts, found.expected_points)
    other = odds(load(name), good, runs=200, seed=2)
    assert (other.expected_putts, other.expected_points) != (found.expected_putts, found.expected_points)


ZONE = """
name = "zone"
title = "zone"
about = "Points for a ball that would stop in a zone."
setup = "any"

[[points]]
when = WHEN
give = 1

[[stage]]
distance_ft = 10
putts = 20
"""


def test_simulated_points_agree_with_the_normal_law():
    # a start line within half a degree: 2 Phi(0.5 / 0.9) - 1 of the putts, 20 putts, binomial
    within = parse_rules(ZONE.replace("WHEN", "{ start_line_deg = 0.5 }"), "zone.toml")
    found = odds(within, STROKE, runs=2000)
    share = math.erf(0.5 / 0.9 / math.sqrt(2))
    law = stats.binom(20, share)
    assert abs(found.expected_points - law.mean()) < 4 * found.u["expected_points"]
    assert found.u["expected_points"] == pytest.approx(law.std() / math.sqrt(2000), rel=0.1)
    for points in (5, 8, 10):
        exact = law.sf(points - 1)
        assert abs(found.chance_of_points(points) - exact) < 4 * math.sqrt(exact * (1 - exact) / 2000)


@pytest.mark.parametrize("feet", [3, 10, 25])
def test_rolled_balls_drop_as_often_as_the_model_says(feet):
    # the ball's roll is drawn, the model's chance is a formula: the two ways must meet
    text = ZONE.replace("WHEN", '{ is = "holed", start_line_deg = 45 }').replace("= 10", f"= {feet}")
    found = odds(parse_rules(text, "zone.toml"), STROKE, runs=1000)
    law = stats.binom(20, make_chance(STROKE.stroke, feet * 0.3048))
    assert found.method == "simulation"
    assert abs(found.expected_points - law.mean()) < 4 * law.std() / math.sqrt(1000)


def test_a_given_chance_goes_before_the_strokes():
    text = ZONE.replace("WHEN", '{ is = "holed", start_line_deg = 45 }')
    found = odds(parse_rules(text, "zone.toml"), replace(STROKE, make=(("", 0.9),)), runs=500)
    assert abs(found.expected_points - 18) < 4 * math.sqrt(20 * 0.09 / 500)


def test_too_many_states_are_simulated_and_said(monkeypatch):
    def few(*_):
        raise odds_module.TooManyStates("too many")

    exact = odds(load("nine-six-three"), every(0.8))
    monkeypatch.setattr(odds_module, "explore", few)
    found = odds(load("nine-six-three"), every(0.8))
    assert found.method == "simulation"
    assert any("too many states" in note for note in found.notes)
    assert abs(found.expected_putts - exact.expected_putts) < 4 * found.u["expected_putts"]
    for k in (10, 20, 40):
        chance = exact.chance_within(k)
        assert abs(found.chance_within(k) - chance) < 4 * math.sqrt(chance * (1 - chance) / found.n_runs)


def test_a_ball_that_is_played_out_lies_where_it_stopped():
    # one-ball-out with a stroke: the second putt is a short one, holed far oftener than the first
    rules = load("one-ball-out")
    found = odds(rules, STROKE, runs=400)
    assert found.method == "simulation"
    first = simulate(rules, replace(STROKE, make=(("", 0.0),)), runs=400)
    per_hole = first.n_putts.mean() / 9
    assert 2.0 <= per_hole < 2.6  # never holed from the tee by order, then nearly always
    assert found.expected_putts < first.n_putts.mean()


# --- what is lacking -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "player", "says"),
    [
        ("nine-six-three", Player(make=(("1", 0.5),)), r"stage 2 \(6 ft\).*--make 2=P"),
        ("head-gate-streak", Player(), r"the putts \(3 ft\).*--make P"),
        ("narrowing-gate", every(0.8), "through the gate.*--gate P"),
    ],
)
def test_a_chance_that_is_lacking_is_named(name, player, says):
    with pytest.raises(DrillError, match=says):
        odds(load(name), player)


def test_strict_points_need_the_gate():
    rules = with_options(load("ball-gate-points"), Options(strict=True))
    with pytest.raises(DrillError, match="--gate P"):
        odds(rules, every(0.4))
    assert odds(rules, replace(every(0.4), gate=0.5)).expected_points == pytest.approx(
        20 * (0.4 * 0.5 + 0.6 * 0.5 / 2)
    )
