"""Intervals against published worked examples and against scipy's own."""

import numpy as np
import pytest
from scipy import stats

from puttvision.coaching.intervals import (
    bias,
    difference_of_means,
    difference_of_rates,
    player_spread,
    rate,
    spread,
    trend,
)


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
    values = np.arange(n) / np.std(np.arange(n), ddof=1)
    found = spread(values)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-4)


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


def test_bias_of_sessions_as_statsmodels():
    # statsmodels 0.14: OLS on a constant with cov_type="cluster" (n/(n - 1) for small samples, use_t).
    sm = pytest.importorskip("statsmodels.api")
    rng = np.random.default_rng(11)
    groups = np.repeat(np.arange(12), rng.integers(8, 25, 12))
    values = rng.normal(0, 0.8, len(groups)) + rng.normal(0, 0.5, 12)[groups]
    fit = sm.OLS(values, np.ones(len(values))).fit(
        cov_type="cluster", cov_kwds={"groups": groups}, use_t=True
    )
    found = bias(values.tolist(), groups=groups.tolist())
    assert (found.low, found.high) == pytest.approx(tuple(fit.conf_int()[0]), rel=1e-6)


def test_days_that_differ_are_in_the_interval_of_the_mean():
    rng = np.random.default_rng(12)
    days = np.repeat(np.arange(20), 20)
    held = {True: 0, False: 0}
    for _ in range(300):
        values = (rng.normal(0, 0.8, 400) + rng.normal(0, 0.4, 20)[days]).tolist()
        for told in held:
            found = bias(values, groups=days.tolist() if told else None)
            held[told] += found.low <= 0 <= found.high
    assert 270 < held[True] < 297  # 285 are due, 4 standard deviations either way
    assert held[False] < 220  # what leaving the days out would claim


def test_too_few_to_say():
    assert not rate(0, 0)
    assert not bias([0.3])
    assert spread([0.3]).needed == 2


def test_wrong_counts():
    with pytest.raises(ValueError, match="3 of 2"):
        rate(3, 2)


def test_spread_of_the_player_is_what_noise_leaves():
    """Simulated: own spread 0.6, measured with noise of 0.3; 2,000 figures are good to 2 %."""
    rng = np.random.default_rng(8)
    seen = rng.normal(0, 0.6, 2000) + rng.normal(0, 0.3, 2000)
    found = player_spread(list(seen), [1.959964 * 0.3] * 2000)
    assert found.noise == pytest.approx(0.3)
    assert found.player.value == pytest.approx(0.6, rel=0.05)
    assert found.player.low < 0.6 < found.player.high
    assert found.observed.value > found.player.value


def test_noise_alone_is_no_spread_of_the_player():
    values = np.random.default_rng(2).normal(0, 0.1, 30)
    found = player_spread(list(values), [0.4] * 30)
    assert found.player.low == 0
    assert not found.told


def test_spread_is_taken_about_each_groups_mean():
    found = player_spread([0.0, 1, 2, 10, 11, 12], [0.0] * 6, list("aaabbb"))
    assert found.observed.value == pytest.approx(1)  # 4 degrees of freedom, squares 2 + 2
    assert found.freedom == 4


def test_wilson_as_statsmodels():
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    rng = np.random.default_rng(4)
    for tried in rng.integers(1, 300, 40):
        made = int(rng.integers(0, tried + 1))
        low, high = proportion.proportion_confint(made, int(tried), method="wilson")
        found = rate(made, int(tried))
        assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)


def test_difference_of_rates_as_statsmodels():
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    low, high = proportion.confint_proportions_2indep(56, 70, 48, 80, method="newcomb", compare="diff")
    found = difference_of_rates((56, 70), (48, 80))
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)
    # Newcombe 1998, Stat. Med. 17, 873-890, Table II case (a), method 10 (from memory): 0.0524 to 0.3339
    assert (found.low, found.high) == pytest.approx((0.0524, 0.3339), abs=5.1e-5)


def test_difference_of_means_as_scipy():
    rng = np.random.default_rng(6)
    one, two = rng.normal(0.3, 1, 20), rng.normal(0, 2, 31)
    expected = stats.ttest_ind(one, two, equal_var=False).confidence_interval(0.95)
    found = difference_of_means(list(one), list(two))
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high), rel=1e-9)


def test_trend_as_statsmodels():
    api = pytest.importorskip("statsmodels.api")
    rng = np.random.default_rng(9)
    weeks, weights = np.arange(12.0), rng.integers(5, 40, 12)
    values = 3 - 0.1 * weeks + rng.normal(0, 0.3, 12)
    fit = api.WLS(values, api.add_constant(weeks), weights=weights).fit()
    found = trend(list(weeks), list(values), list(weights))
    assert found.value == pytest.approx(fit.params[1])
    assert (found.low, found.high) == pytest.approx(tuple(fit.conf_int()[1]))


def test_no_trend_of_three_sessions():
    assert not trend([0, 1, 2], [1.0, 2.0, 3.0])


def test_a_steady_player_is_told_a_trend_one_time_in_twenty():
    rng = np.random.default_rng(10)
    told = sum(not trend(list(range(10)), list(rng.normal(0, 1, 10))).holds_zero for _ in range(1000))
    assert 25 < told < 80  # 50 within 4 standard deviations
