"""Streaks: deals against all layouts counted one by one, and how often the test is wrong."""

import itertools
from collections import Counter

import numpy as np
import pytest

from puttvision.coaching.streaks import Series, _chances, _deal, streaks


def layouts(n_made, n_missed, target, met):
    """Every order of the outcomes that the drill would have let happen, as rows of gaps."""
    for made in set(itertools.permutations([True] * n_made + [False] * n_missed)):
        one = Series(made=made, target=target)
        early = any(all(made[i : i + target]) for i in range(len(made) - target))
        if target is None or (one.met == met and not early):
            yield tuple(one.gaps)


@pytest.mark.parametrize(
    "made",
    [
        pytest.param((1, 1, 0, 1, 0, 1, 1, 1), id="target met"),
        pytest.param((1, 0, 1, 1, 0, 1, 1), id="not met"),
    ],
)
def test_every_allowed_layout_is_as_likely_as_the_others(made):
    one = Series(made=tuple(map(bool, made)), target=3)
    expected = set(layouts(sum(made), len(made) - sum(made), 3, one.met))
    dealt = Counter(map(tuple, _deal(one, _chances([one]), np.random.default_rng(1), 20_000).tolist()))
    assert set(dealt) == expected
    share = 20_000 / len(expected)
    assert all(abs(count - share) < 5 * share**0.5 for count in dealt.values())


def play(rng, target, n, chance):
    """Putts of a streak drill until the target is met or n are played."""
    made, streak = [], 0
    while len(made) < n and streak < target:
        made.append(bool(rng.random() < chance(streak)))
        streak = streak + 1 if made[-1] else 0
    return Series(made=tuple(made), target=target)


def test_a_player_who_does_not_tighten_is_seldom_said_to():
    rng = np.random.default_rng(3)
    wrong = known = 0
    for _ in range(120):
        found = streaks([play(rng, 10, 80, lambda _: 0.85) for _ in range(4)], deals=200)
        if found and found.p_near is not None:
            known += 1
            wrong += found.p_near < 0.05
    assert known > 100
    assert wrong / known < 0.12  # 5 % is due; 0.12 is 3.5 standard deviations above


def test_a_player_who_tightens_up_is_told():
    rng = np.random.default_rng(5)
    found = streaks([play(rng, 10, 80, lambda streak: 0.55 if streak >= 5 else 0.92) for _ in range(8)])
    assert found.verdict == "tightens up"
    assert found.near_the_end.value < found.by_chance


def turned(rng, chance, turn=6):
    """Twenty rounds of 12 in a row whose grip turns after 6, so that its last putts are of one grip alone."""
    out = []
    for _ in range(20):
        one = play(rng, 12, 60, chance)
        grips, streak = [], 0
        for good in one.made:
            grips.append("both hands" if streak < turn else "trail hand alone")
            streak = streak + 1 if good else 0
        out.append(Series(made=one.made, target=12, grips=tuple(grips)))
    return out


def test_a_harder_grip_at_the_end_is_no_tightening():
    rng = np.random.default_rng(8)
    wrong = 0
    for _ in range(60):
        found = streaks(turned(rng, lambda streak: 0.93 if streak < 6 else 0.75), deals=200)
        wrong += found.p_near < 0.05
    assert wrong <= 8  # 3 are due; 8 is 3 standard deviations above


def test_tightening_is_told_though_the_grip_has_turned():
    # The drop begins one putt after the grip turns: told by the putts of that grip before it.
    found = streaks(turned(np.random.default_rng(4), lambda streak: 0.93 if streak < 7 else 0.58))
    assert found.verdict == "tightens up"
    assert found.by_chance > 0.8


def test_a_grip_never_seen_earlier_says_nothing():
    series = turned(np.random.default_rng(4), lambda streak: 0.95 if streak < 7 else 0.6, turn=7)
    assert streaks(series).verdict == "too few putts to say"


def test_few_putts_are_said_to_be_too_few():
    assert not streaks([Series(made=(True, False, True), target=3)])
    found = streaks([Series(made=(True,) * 6 + (False,) + (True,) * 6, target=10)])
    assert found.verdict == "too few putts to say"
