"""The farthest distance a drill is finished from, against the drill's own odds (`odds.py`)."""

from dataclasses import replace

import pytest

from puttvision.drill import catalogue
from puttvision.drill.chances import Player
from puttvision.drill.odds import odds
from puttvision.drill.rules import Distance
from puttvision.drill.stroke import Stroke
from puttvision.drill.target import Aim
from puttvision.drill.target_distance import farthest

AIM = Aim(chance=1 / 3, minutes=10, seconds_per_putt=20)


def from_(rules, feet):
    (stage,) = rules.stages
    moved = replace(stage, usual=stage.usual._replace(distance=Distance(feet, "ft")))
    return replace(rules, stages=(moved,))


@pytest.mark.parametrize("name", ["break-pairs", "three-lives", "grips-and-balls"])
@pytest.mark.parametrize("spread_deg", [0.5, 0.9])
def test_the_farthest_half_foot_that_leaves_the_chance(name, spread_deg):
    rules, player = catalogue.load(name), Player(stroke=Stroke(spread_deg, 0.08))
    found = farthest(rules, player, AIM)

    def chance(feet):
        return odds(from_(rules, feet), player, seconds_per_putt=20).chance_within(AIM.limit)

    assert found.what == "distance"
    assert found.value % 0.5 == 0
    assert found.chance == pytest.approx(chance(found.value), abs=1e-9)
    assert found.harder == pytest.approx((found.value + 0.5, chance(found.value + 0.5)), abs=1e-9)
    assert found.harder[1] < 1 / 3 <= found.chance


NO_DISTANCE = ("ball-gate-points", "nine-six-three", "race-to-ten", "five-minutes", "head-gate-streak")
"""The last: 50 in a row do not fit into 30 putts from anywhere."""


@pytest.mark.parametrize("name", NO_DISTANCE)
def test_a_drill_that_has_no_such_distance(name):
    assert farthest(catalogue.load(name), Player(stroke=Stroke(0.8, 0.08)), AIM) is None


def test_a_better_player_stands_farther_off():
    rules = catalogue.load("break-pairs")
    near, far = (farthest(rules, Player(stroke=Stroke(deg, 0.08)), AIM).value for deg in (1.2, 0.4))
    assert near < far
