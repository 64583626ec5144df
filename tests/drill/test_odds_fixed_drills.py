"""Odds of the three drills with fixed rules, against formulas, scipy and a simulation that shares nothing."""

import json
import math
import os
import subprocess
import sys

import numpy as np
import pytest
from scipy import stats

from puttvision.drill.catalogue import load
from puttvision.drill.chances import Player, every
from puttvision.drill.odds import odds
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options


def odds_of(name, player, **options):
    return odds(with_options(load(name), Options(**options)), player)


# --- streaks -------------------------------------------------------------------------------------


def run_mean(p, n):
    """Mean number of trials until n successes in a row: Feller, vol. 1, ch. XIII (chapter from memory)."""
    return (1 - p**n) / ((1 - p) * p**n)


def run_variance(p, n):
    q = 1 - p
    return 1 / (q * p**n) ** 2 - (2 * n + 1) / (q * p**n) - p / q**2


@pytest.mark.parametrize(
    ("p", "n", "mean", "sd"),
    [
        # the two known small ones (6 and sqrt 22), and values worked out from the two formulas above
        (0.5, 2, 6.000000, 4.690416),
        (0.5, 3, 14.000000, 11.916375),
        (0.5, 5, 62.000000, 58.223707),
        (0.8, 10, 41.566129, 34.212799),
        (0.9, 5, 6.935088, 3.242103),
        (0.9, 10, 18.679720, 11.412809),
        (0.95, 20, 35.790196, 21.098530),
    ],
)
def test_run_of_successes(p, n, mean, sd):
    found = odds_of("head-gate-streak", every(p), target=n)
    assert found.method == "exact"
    assert found.expected_putts == pytest.approx(mean, abs=5e-7)
    assert found.sd_putts == pytest.approx(sd, abs=5e-7)
    assert found.expected_putts == pytest.approx(run_mean(p, n), rel=1e-10)
    assert found.sd_putts == pytest.approx(math.sqrt(run_variance(p, n)), rel=1e-8)


def test_a_streak_of_fifty_at_98_in_100():
    found = odds_of("head-gate-streak", every(0.98))
    assert round(found.expected_putts, 2) == 87.30
    assert found.chance_to_finish == pytest.approx(1)


def run_chances(p, n, last):
    """Chance of a run of n within 0..last trials, by the recursion for the first run (no chain)."""
    first = np.zeros(last + 1)
    within = np.zeros(last + 1)
    for k in range(1, last + 1):
        if k == n:
            first[k] = p**n
        elif k > n:  # no run before, then a failure, then n successes
            first[k] = (1 - within[k - n - 1]) * (1 - p) * p**n
        within[k] = within[k - 1] + first[k]
    return within


@pytest.mark.parametrize(("p", "n"), [(0.98, 50), (0.7, 6), (0.5, 1), (0.999, 100)])
def test_when_a_streak_is_finished(p, n):
    found = odds_of("head-gate-streak", every(p), target=n)
    within = run_chances(p, n, 2000)
    for k in (0, n - 1, n, n + 1, 2 * n, 2 * n + 1, 100, 500, 2000):
        assert found.chance_within(k) == pytest.approx(within[k], abs=1e-9)
    half = int(np.searchsorted(within, 0.5))
    assert found.putts_for(0.5) == half
    assert found.chance_within(half) >= 0.5 > found.chance_within(half - 1)


@pytest.mark.parametrize(("p", "n"), [(0.98, 50), (0.6, 4)])
def test_restarts_of_a_streak_are_geometric(p, n):
    # with one made, the streak is finished with chance p^(n-1), else it begins again, and so on
    found = odds_of("head-gate-streak", every(p), target=n)
    done = p ** (n - 1)
    for k, chance in enumerate(found.restarts):
        assert chance == pytest.approx(done * (1 - done) ** k, rel=1e-9)
    assert found.expected_restarts == pytest.approx(1 / done - 1, rel=1e-9)


def test_certain_and_hopeless_players():
    sure = odds_of("head-gate-streak", every(1.0), target=100)
    assert sure.expected_putts == pytest.approx(100)
    assert sure.is_fixed
    assert sure.chance_within(99) == 0
    assert sure.chance_within(100) == pytest.approx(1)
    never = odds_of("head-gate-streak", every(0.0))
    assert never.expected_putts is None
    assert never.chance_to_finish == 0
    assert never.putts_for(0.5) is None
    assert never.chance_within(1000) == 0
    rare = odds_of("head-gate-streak", every(0.3), target=100)  # a mean of 10^52 and more
    assert rare.expected_putts == pytest.approx(run_mean(0.3, 100), rel=1e-6)
    assert rare.putts_for(0.5) is None or rare.putts_for(0.5) > 10**17


TIMING = """
import json, sys, time
from puttvision.drill.catalogue import load
from puttvision.drill.chances import every
from puttvision.drill.odds import odds
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
took_s = []
for _ in range(3):
    rules = with_options(load("head-gate-streak"), Options(target=100))
    began_s = time.process_time()
    found = odds(rules, every(float(sys.argv[1])))
    found.putts_for(0.5), found.chance_within(100)
    took_s.append(time.process_time() - began_s)
print(json.dumps([min(took_s), found.expected_putts]))
"""


@pytest.mark.parametrize("p", [0.7, 0.9, 0.98, 0.999])
def test_a_streak_of_a_hundred_in_a_second(p):
    # untraced, in process time, as test_drill_speed.py
    env = {key: value for key, value in os.environ.items() if not key.startswith(("COV_", "COVERAGE_"))}
    done = subprocess.run(
        [sys.executable, "-c", TIMING, str(p)], capture_output=True, text=True, check=True, env=env
    )
    took_s, mean = json.loads(done.stdout)
    assert mean == pytest.approx(run_mean(p, 100), rel=1e-7)
    assert took_s < 1.0


# --- nine, six, three ----------------------------------------------------------------------------


def nine_mean(p1, p2, p3):
    """By hand: putts in each stage; stage 2 is passed with p^3 (1 + 3q), stage 3 with p^4, else all again."""
    q2 = 1 - p2
    stage_1 = run_mean(p1, 2) if p1 < 1 else 2
    passed_2 = p2**3 * (1 + 3 * q2)
    # two putts: both missed; three: all made, or one made in between or before; else four
    two, three = q2**2, p2**3 + 2 * p2 * q2**2
    stage_2 = 2 * two + 3 * three + 4 * (1 - two - three)
    stage_3 = 1 + p3 + p3**2 + p3**3
    return (stage_1 + stage_2 + passed_2 * stage_3) / (passed_2 * p3**4)


def nine(p1, p2, p3):
    return Player(make=(("1", p1), ("2", p2), ("3", p3)))


@pytest.mark.parametrize("chances", [(0.5, 0.7, 0.95), (0.8, 0.8, 0.8), (1, 0.5, 0.9), (0.3, 0.4, 0.5)])
def test_nine_six_three_by_hand(chances):
    found = odds_of("nine-six-three", nine(*chances))
    assert found.expected_putts == pytest.approx(nine_mean(*chances), rel=1e-9)


def simulated_nine(p1, p2, p3, n, seed):
    """n drills at once, as plain as can be: counts of made and missed per stage, nothing of the engine."""
    rng = np.random.default_rng(seed)
    stage, made, missed = (np.zeros(n, dtype=np.int64) for _ in range(3))
    putts, restarts = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
    going = np.arange(n)
    chances, needs, allows = np.array([p1, p2, p3]), np.array([2, 3, 4]), np.array([0, 1, 0])
    while len(going):
        s = stage[going]
        holed = rng.random(len(going)) < chances[s]
        putts[going] += 1
        made[going] += holed
        missed[going] += ~holed
        out = missed[going] > allows[s]
        up = ~out & (made[going] >= needs[s])
        restarts[going[out & (s > 0)]] += 1
        stage[going[out]] = 0
        stage[going[up]] += 1
        again = going[out | up]
        made[again] = missed[again] = 0
        going = going[stage[going] < 3]
    return putts, restarts


@pytest.mark.parametrize(
    "n", [20_000, pytest.param(1_000_000, marks=pytest.mark.slow)], ids=["20 thousand", "a million"]
)
@pytest.mark.parametrize("chances", [(0.45, 0.7, 0.95), (0.8, 0.8, 0.8)])
def test_nine_six_three_by_simulation(chances, n):
    found = odds_of("nine-six-three", nine(*chances))
    putts, restarts = simulated_nine(*chances, n, seed=7)

    def agrees(sample, exact):
        return abs(sample.mean() - exact) < 4 * sample.std() / math.sqrt(n)

    assert agrees(putts, found.expected_putts)
    assert agrees(restarts, found.expected_restarts)
    assert putts.std() == pytest.approx(found.sd_putts, rel=20 / math.sqrt(n))
    for k in (9, 15, 30, 60):
        assert agrees(putts <= k, found.chance_within(k))
    for k in range(4):
        assert agrees(restarts == k, found.restarts[k])
    assert found.chance_within(8) == 0


# --- points --------------------------------------------------------------------------------------


@pytest.mark.parametrize("n", [1, 20, 100])
@pytest.mark.parametrize("p", [0.0, 0.35, 1.0])
def test_without_the_gate_points_are_binomial(n, p):
    found = odds_of("ball-gate-points", every(p), putts=n)
    law = stats.binom(n, p)
    assert (found.expected_putts, found.is_fixed) == (pytest.approx(n), True)
    assert found.expected_points == pytest.approx(law.mean())
    assert found.sd_points == pytest.approx(law.std(), abs=1e-6)
    for points, chance in found.points:
        assert chance == pytest.approx(law.pmf(points), abs=1e-10)
    assert sum(chance for _, chance in found.points) == pytest.approx(1)
    for at_least in (0, 1, n // 2, n):
        assert found.chance_of_points(at_least) == pytest.approx(law.sf(at_least - 1), abs=1e-9)
    assert found.chance_within(n) == pytest.approx(1)
    assert found.chance_within(n - 1) == 0


@pytest.mark.parametrize("strict", [False, True])
@pytest.mark.parametrize(("p", "gate", "gate_if_holed"), [(0.4, 0.7, None), (0.3, 0.5, 0.9), (0.9, 0.2, 0.3)])
def test_points_with_the_gate_are_multinomial(p, gate, gate_if_holed, strict):
    player = Player(make=(("", p),), gate=gate, gate_if_holed=gate_if_holed)
    found = odds_of("ball-gate-points", player, putts=12, strict=strict)
    if_holed = gate if gate_if_holed is None else gate_if_holed
    one = p * if_holed if strict else p
    half = (1 - p) * gate
    assert found.expected_points == pytest.approx(12 * (one + half / 2))
    assert found.sd_points == pytest.approx(math.sqrt(12 * (one + half / 4 - (one + half / 2) ** 2)))
    law = stats.multinomial(12, [one, half, 1 - one - half])
    expected = {}
    for ones in range(13):
        for halves in range(13 - ones):
            total = ones + halves / 2
            expected[total] = expected.get(total, 0) + law.pmf([ones, halves, 12 - ones - halves])
    for total, chance in found.points:
        assert chance == pytest.approx(expected[total], abs=1e-10)
    third = found.points_reached(1 / 3)
    assert found.chance_of_points(third) >= 1 / 3 > found.chance_of_points(third + 0.5)
