"""Figures in print: no minus before nothing, shares that add up."""

import numpy as np
import pytest

from puttvision.coaching.intervals import Estimate
from puttvision.coaching.shown import clear_of, number, percent, signed, whole, with_interval


@pytest.mark.parametrize(
    ("value", "digits", "plain", "with_sign"),
    [
        (-0.04, 1, "0.0", "0.0"),
        (0.04, 1, "0.0", "0.0"),
        (-0.0, 2, "0.00", "0.00"),
        (-0.4, 0, "0", "0"),
        (-0.06, 1, "-0.1", "-0.1"),
        (0.4, 1, "0.4", "+0.4"),
        (10.0, 0, "10", "+10"),
        (-100.2, 0, "-100", "-100"),
    ],
)
def test_what_rounds_to_nothing_has_no_sign(value, digits, plain, with_sign):
    assert number(value, digits) == plain
    assert signed(value, digits) == with_sign


def test_intervals_in_words():
    assert with_interval(Estimate(value=0.2, low=-0.02, high=0.4, n=9), 1, sign=True) == "+0.2 (0.0 to +0.4)"
    assert percent(Estimate(value=0.5, low=0.3, high=0.7, n=9)) == "50 % (30 to 70)"


def test_what_is_claimed_is_what_is_printed():
    assert not clear_of(0.0, Estimate(value=-0.1, low=-0.2, high=-0.004, n=9), 2)  # printed -0.20 to 0.00
    assert clear_of(0.0, Estimate(value=-0.1, low=-0.2, high=-0.006, n=9), 2)
    assert clear_of(1.0, Estimate(value=1.4, low=1.1, high=1.9, n=9), 2)
    assert not clear_of(1.0, Estimate(value=1.4, low=0.8, high=1.9, n=9), 2)


def test_whole_shares_add_up_and_are_never_one_off():
    rng = np.random.default_rng(3)
    for _ in range(300):
        parts = 100 * (rng.dirichlet([1, 1, 1, 1]) * 1.2 - 0.05)
        shares = whole(parts.tolist())
        assert sum(shares) == 100
        assert np.abs(np.array(shares) - parts).max() < 1
