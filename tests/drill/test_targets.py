"""Targets proposed for a player: the hardest that leaves the chance asked for, by the odds themselves."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from puttvision.drill.catalogue import load
from puttvision.drill.chances import Player, every
from puttvision.drill.odds import odds
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.search import easiest_enough, hardest
from puttvision.drill.stroke import Stroke, make_chance
from puttvision.drill.target import Aim, propose, title, to_json
from puttvision.errors import DrillError

THIRD = Aim(chance=1 / 3)


def the(answer, what):
    (found,) = [one for one in answer.proposals if one.what == what]
    return found


def test_a_streak_for_twenty_minutes():
    # 60 putts at 20 s; of Feller's kind: p^n (1 + (N - n) q) is exact for N <= 2 n
    answer = propose(load("head-gate-streak"), every(0.98), THIRD)
    assert (answer.aim.minutes, answer.aim.seconds_per_putt, answer.aim.limit) == (20, 20, 60)
    assert len(answer.taken) == 2
    found = the(answer, "target")
    n = round(found.value)

    def chance(n):
        return 0.98**n * (1 + (60 - n) * 0.02)

    assert found.chance == pytest.approx(chance(n), rel=1e-9)
    assert chance(n) >= 1 / 3 > chance(n + 1)
    assert found.harder == (n + 1, pytest.approx(chance(n + 1)))
    assert f"target of {n} in a row" in found.says
    assert "within 20 minutes (60 putts)" in found.says
    # the drill as it is: 50 in a row, by putt 50 + i with p^50 (1 + i q)
    as_it_is = the(answer, "within")
    assert as_it_is.value == 50
    assert as_it_is.chance == pytest.approx(0.98**50)


@pytest.mark.parametrize(("seconds", "minutes", "limit"), [(12, 20, 100), (30, 10, 20)])
def test_the_players_own_time(seconds, minutes, limit):
    aim = replace(THIRD, minutes=minutes, seconds_per_putt=seconds)
    answer = propose(load("head-gate-streak"), every(0.9), aim)
    assert answer.aim.limit == limit
    assert answer.taken == ()
    found = the(answer, "target")
    for n, more in ((found.value, True), (found.value + 1, False)):
        rules = with_options(load("head-gate-streak"), Options(target=round(n)))
        assert (odds(rules, every(0.9)).chance_within(limit) >= 1 / 3) is more


def test_points_of_a_set_number_of_putts():
    # without the gate: binomial
    answer = propose(load("ball-gate-points"), every(0.4), THIRD)
    found = the(answer, "points")
    law = stats.binom(20, 0.4)
    assert law.sf(found.value - 1) >= 1 / 3 > law.sf(found.value)
    assert found.chance == pytest.approx(law.sf(found.value - 1))
    assert answer.aim.limit is None
    in_40 = the(propose(load("ball-gate-points"), every(0.4), replace(THIRD, n_putts=40)), "points")
    assert stats.binom(40, 0.4).sf(in_40.value - 1) >= 1 / 3 > stats.binom(40, 0.4).sf(in_40.value)


@pytest.mark.parametrize("points", [1, 8, 30])
def test_putts_for_a_number_of_points(points):
    # the fewest putts n with P(binomial(n, 0.4) >= points) >= 1/3
    found = the(propose(load("ball-gate-points"), every(0.4), replace(THIRD, points=points)), "putts")
    n = round(found.value)
    assert stats.binom(n, 0.4).sf(points - 1) >= 1 / 3 > stats.binom(n - 1, 0.4).sf(points - 1)


def test_a_gate_as_wide_as_the_player_needs():
    # P(half of 20 putts' points) for the width proposed and one millimetre less; the law of the points from
    # the geometry: through the gate with 2 Phi(a / s) - 1, and holed as the stroke holes
    player = Player(stroke=Stroke(1.2, 0.08))
    answer = propose(load("ball-gate-points"), player, replace(THIRD, points=10))
    found = the(answer, "gate_mm")
    gate = load("ball-gate-points").gate
    make = make_chance(player.stroke, load("ball-gate-points").stages[0].usual.distance.metres)

    def chance(width_mm):
        half_rad = math.atan((width_mm / 2000 - 0.021336) / gate.ahead_m)
        through = math.erf(math.degrees(half_rad) / 1.2 / math.sqrt(2))
        # every ball that drops starts within the gate where the gate is wider than the hole's angle, else not
        hole_rad = math.asin((4.25 - 1.68) / 2 * 0.0254 / 3.048)
        pace = make / math.erf(math.degrees(hole_rad) / 1.2 / math.sqrt(2))
        both = math.erf(math.degrees(min(half_rad, hole_rad)) / 1.2 / math.sqrt(2)) * pace
        law = stats.multinomial(20, [make, through - both, 1 - make - through + both])
        return sum(
            law.pmf([ones, halves, 20 - ones - halves])
            for ones in range(21)
            for halves in range(21 - ones)
            if ones + halves / 2 >= 10
        )

    assert found.chance == pytest.approx(chance(found.value), rel=1e-3)
    assert chance(found.value) >= 1 / 3 > chance(found.value - 1)


def test_gates_that_narrow_keep_their_steps():
    player = Player(stroke=Stroke(1.0, 0.08))
    found = the(propose(load("narrowing-gate"), player, replace(THIRD, n_putts=100)), "gate_mm")
    assert "then" in found.says
    assert found.chance >= 1 / 3 > found.harder[1]


def test_a_drill_without_options_gets_its_time():
    answer = propose(load("nine-six-three"), every(0.8), replace(THIRD, minutes=20, seconds_per_putt=25))
    (found,) = answer.proposals
    exact = odds(load("nine-six-three"), every(0.8))
    assert found.what == "within"
    assert exact.chance_within(round(found.value)) >= 1 / 3 > exact.chance_within(round(found.value) - 1)


def test_a_certain_player_gets_as_many_as_there_is_time_for():
    found = the(propose(load("head-gate-streak"), every(1.0), replace(THIRD, n_putts=60)), "target")
    assert (found.value, found.chance) == (60, pytest.approx(1))
    assert found.harder == (61, pytest.approx(0))


@pytest.mark.parametrize(
    ("name", "player", "aim", "says"),
    [
        ("race-to-ten", every(0.5), THIRD, "two players"),
        ("head-gate-streak", every(0.0), THIRD, "even a target of 1"),
        ("grips-and-balls", every(0.7), THIRD, "nothing that can be set"),
        ("one-miss-and-out", every(0.2), THIRD, "not as often as asked for"),
        ("ball-gate-points", every(0.01), Aim(chance=0.5, points=30, n_putts=40), "ask for less"),
        ("head-gate-streak", every(0.9), Aim(chance=0.5, minutes=0.1, seconds_per_putt=20), "no time"),
        ("nine-six-three", Player(), THIRD, "--make P"),
    ],
)
def test_what_cannot_be_proposed_is_said(name, player, aim, says):
    with pytest.raises(DrillError, match=says):
        propose(load(name), player, aim)


@pytest.mark.parametrize("chance", [0.0, 1.0, -1.0, 2.0, math.nan])
def test_a_chance_that_asks_nothing(chance):
    with pytest.raises(DrillError, match="between 0 and 1"):
        Aim(chance=chance)


def test_a_gate_that_helps_no_more_is_a_note():
    player = Player(stroke=Stroke(5.0, 0.08))
    answer = propose(load("ball-gate-points"), player, replace(THIRD, points=15))
    assert [one.what for one in answer.proposals] == ["putts"]
    assert any("300 mm" in text for text in answer.taken)


def test_title_and_json():
    answer = propose(load("head-gate-streak"), every(0.98), THIRD)
    assert title(answer) == "head-gate-streak, a chance of 33.3 % or better within 20 minutes (60 putts)"
    out = to_json(answer)
    assert (out["drill"], out["within_putts"], out["within_minutes"]) == ("head-gate-streak", 60, 20)
    assert [one["what"] for one in out["proposals"]] == ["target", "within"]


# --- the search ----------------------------------------------------------------------------------


@given(st.lists(st.floats(0, 1), min_size=1, max_size=80), st.floats(0.01, 0.99))
def test_search_finds_the_edge(chances, asked):
    falling, rising = sorted(chances, reverse=True), sorted(chances)
    n, chance = hardest(lambda k: falling[k - 1], asked, len(falling))
    wanted = [k for k, c in enumerate(falling, 1) if c >= asked]
    assert n == (max(wanted) if wanted else None)
    assert chance == falling[(n or 1) - 1]
    n, chance = easiest_enough(lambda k: rising[k - 5], asked, 5, 4 + len(rising))
    wanted = [k for k, c in enumerate(rising, 5) if c >= asked]
    assert n == (min(wanted) if wanted else None)
    assert chance == (rising[n - 5] if n else rising[-1])
