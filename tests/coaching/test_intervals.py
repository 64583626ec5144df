"""Intervals against published worked examples and against scipy's own."""

import numpy as np
import pytest
from scipy import stats

from puttvision.coaching.intervals import bias, rate, spread, spread_factors


@pytest.mark.parametrize(
    ("made", "tried", "low", "high"),
    [
        # Newcombe 1998, Stat. Med. 17, 857-872, Wilson's method without continuity correction.
        pytest.param(81, 263, 0.2553, 0.3662, id="81 of 263"),
        pytest.param(15, 148, 0.0624, 0.1605, id="15 of 148"),
        pytest.param(0, 20, 0.0, 0.1611, id="0 of 20"),
        pytest.param(1, 29, 0.0061, 0.1718, id="1 of 29"),
    ],
)
def test_make_rate_as_newcombe(made, tried, low, high):
    found = rate(made, tried)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5.1e-5)
    assert found.n == tried


@pytest.mark.parametrize(
    ("n", "low", "high"),
    [(5, 0.5991, 2.8736), (10, 0.6878, 1.8256), (20, 0.7605, 1.4606), (100, 0.8780, 1.1617)],
)
def test_spread_factors_as_published(n, low, high):
    # NIST/SEMATECH e-Handbook 1.3.5.8, as worked in the Boost.Math chi-squared example.
    assert spread_factors(n) == pytest.approx((low, high), abs=1e-4)


def test_spread_of_the_gear_diameters():
    # Same source: s = 0.0062789 of 100 gears, 0.00551 to 0.00729 at 95 %.
    values = np.linspace(-1, 1, 100)
    found = spread(values * 0.0062789 / np.std(values, ddof=1))
    assert (found.low, found.high) == pytest.approx((0.00551, 0.00729), abs=5e-6)


def test_bias_as_scipy_ttest():
    values = np.random.default_rng(5).normal(0.4, 0.9, 37)
    expected = stats.ttest_1samp(values, 0).confidence_interval(0.95)
    found = bias(values)
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), rel=1e-9)


def test_too_few_to_say():
    assert not rate(0, 0)
    assert not bias([0.3])
    assert spread([0.3]).needed == 2


def test_wrong_counts():
    with pytest.raises(ValueError, match="3 of 2"):
        rate(3, 2)
