"""Odds where a clock ends the drill, where balls roll through a gate, and where a table would be too long."""

import math

import numpy as np
import pytest
from scipy import stats

from puttvision.drill import odds as odds_module
from puttvision.drill import point_totals
from puttvision.drill.catalogue import load
from puttvision.drill.chances import Player, every
from puttvision.drill.load import parse_rules
from puttvision.drill.odds import odds
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.stroke import Stroke, gate_chance, make_and_gate_chance, make_chance

STREAK = """
name = "quick-three"

[clock]
limit_min = 5
at_limit = "AT_LIMIT"

[[stage]]
distance_ft = 5
make = 3
misses_allowed = 0
on_fault = "count back"
"""

THROUGH = """
name = "through"

[gate]
kind = "ball"
ahead_ft = 1.5
width_mm = 60

[[points]]
when = { is = "through the gate", start_line_deg = 45 }
give = 1

[[stage]]
distance_ft = 10
putts = 20
"""


@pytest.fixture
def simulated(monkeypatch):
    """`odds`, made to believe that no drill is small enough for a chain."""

    def too_many(*_):
        raise odds_module.TooManyStates("too many")

    def reckon(*words, **options):
        with monkeypatch.context() as patch:
            patch.setattr(odds_module, "explore", too_many)
            return odds(*words, **options)

    return reckon


def first_run(p, n, last):
    """Chance of n in a row within ``last`` trials; by counting where the run so far stands."""
    at = np.zeros(n + 1)
    at[0] = 1.0
    for _ in range(last):
        after = np.zeros(n + 1)
        after[1:] = p * at[:-1]
        after[0] = (1 - p) * at[:-1].sum()
        after[n] += at[n]
        at = after
    return at[n]


# --- the clock -----------------------------------------------------------------------------------


@pytest.mark.parametrize("seconds", [10, 20, 60])
def test_a_limit_that_ends_the_drill_without(seconds):
    # putts at 0, s, 2 s ... up to 300 s
    n_putts = 300 // seconds + 1
    rules = parse_rules(STREAK.replace("AT_LIMIT", "failed"), "quick.toml")
    found = odds(rules, every(0.5), seconds_per_putt=seconds)
    assert found.horizon == n_putts
    assert found.chance_to_finish == pytest.approx(first_run(0.5, 3, n_putts))
    for k in (2, 3, 5, n_putts, n_putts + 50):
        assert found.chance_within(k) == pytest.approx(first_run(0.5, 3, min(k, n_putts)))
    assert found.putts_for(0.9999) is None
    mean = sum(1 - first_run(0.5, 3, k) for k in range(n_putts))
    assert found.expected_putts == pytest.approx(mean)


def test_a_limit_at_which_the_drill_is_finished():
    rules = parse_rules(STREAK.replace("AT_LIMIT", "finished"), "quick.toml")
    found = odds(rules, every(0.5), seconds_per_putt=20)
    assert found.chance_to_finish == pytest.approx(1)
    assert found.chance_within(15) == pytest.approx(first_run(0.5, 3, 15))
    assert found.chance_within(16) == pytest.approx(1)
    assert found.putts_for(0.9999) == 16


@pytest.mark.parametrize("at_limit", ["failed", "finished"])
def test_the_clock_in_a_simulation(simulated, at_limit):
    rules = parse_rules(STREAK.replace("AT_LIMIT", at_limit), "quick.toml")
    exact = odds(rules, every(0.5), seconds_per_putt=20)
    found = simulated(rules, every(0.5), seconds_per_putt=20, runs=3000)
    assert found.method == "simulation"
    assert abs(found.expected_putts - exact.expected_putts) < 4 * found.u["expected_putts"]
    for k in (3, 8, 15, 16, 40):
        chance = exact.chance_within(k)
        error = math.sqrt(max(chance * (1 - chance), 0) / 3000)
        assert abs(found.chance_within(k) - chance) < 4 * error + 1e-9


def test_points_up_to_the_limit_in_a_simulation(simulated):
    found = simulated(load("five-minutes"), every(0.7), seconds_per_putt=20, runs=2000)
    law = stats.binom(16, 0.7)
    assert found.expected_putts == 16
    assert abs(found.expected_points - law.mean()) < 4 * law.std() / math.sqrt(2000)
    assert found.sd_points == pytest.approx(law.std(), rel=0.1)


# --- two players ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["race-to-ten", "hole-by-hole"])
def test_two_players_simulated(simulated, name):
    rules = with_options(load(name), Options(players=("Ines", "Oluf")))
    player = Player(make=(("Ines", 0.7), ("Oluf", 0.55)))
    exact, found = odds(rules, player), simulated(rules, player, runs=500)
    for chance, seen in zip(exact.wins, found.wins, strict=True):
        assert abs(seen - chance) < 4 * math.sqrt(max(chance * (1 - chance), 0) / 500) + 1e-9


# --- balls that roll through a gate --------------------------------------------------------------


def test_rolled_balls_pass_the_gate_as_the_geometry_says():
    stroke = Stroke(1.0, 0.08)
    found = odds(parse_rules(THROUGH, "through.toml"), Player(stroke=stroke), runs=600)
    law = stats.binom(20, gate_chance(stroke, 1.5 * 0.3048, 60))
    assert found.method == "simulation"
    assert abs(found.expected_points - law.mean()) < 4 * law.std() / math.sqrt(600)


def test_a_given_chance_of_the_gate_goes_first():
    player = Player(make=(("", 0.4),), gate=0.3, gate_if_holed=0.9)
    found = odds(parse_rules(THROUGH, "through.toml"), player, runs=600)
    law = stats.binom(20, 0.4 * 0.9 + 0.6 * 0.3)
    assert abs(found.expected_points - law.mean()) < 4 * law.std() / math.sqrt(600)


@pytest.mark.parametrize("strict", [False, True])
def test_a_stroke_holes_and_passes_together(strict):
    # exact: a ball both holed and through needs the smaller of the two angles
    stroke = Stroke(1.0, 0.08)
    rules = with_options(load("ball-gate-points"), Options(strict=strict))
    ahead_m, metres = 1.5 * 0.3048, 10 * 0.3048
    found = odds(rules, Player(stroke=stroke))
    make, through = make_chance(stroke, metres), gate_chance(stroke, ahead_m, 65)
    both = make_and_gate_chance(stroke, metres, ahead_m, 65)
    one = both if strict else make
    assert found.expected_points == pytest.approx(20 * (one + (through - both) / 2), rel=1e-9)


# --- totals --------------------------------------------------------------------------------------


def test_without_a_table_the_spread_is_known_all_the_same(monkeypatch):
    player = Player(make=(("", 0.4),), gate=0.7)
    with_table = odds(load("ball-gate-points"), player)
    monkeypatch.setattr(point_totals, "MOST_WORK", 10)
    found = odds(load("ball-gate-points"), player)
    assert found.points == ()
    assert found.chance_of_points(5) is None
    assert found.points_reached(0.5) is None
    assert found.expected_points == pytest.approx(with_table.expected_points)
    assert found.sd_points == pytest.approx(with_table.sd_points)


def test_losses_and_parts_of_points():
    # a quarter for a made one, a loss of 1 for a missed one: 10 putts, k made give k / 4 - (10 - k)
    text = """
name = "quarters"
[[points]]
when = "holed"
give = 0.25
[[points]]
when = "missed"
give = -1
[[stage]]
distance_ft = 6
putts = 10
"""
    found = odds(parse_rules(text, "quarters.toml"), every(0.6))
    law = stats.binom(10, 0.6)
    assert dict(found.points) == {k / 4 - (10 - k): pytest.approx(law.pmf(k)) for k in range(11)}
    assert found.expected_points == pytest.approx(1.25 * 6 - 10)
