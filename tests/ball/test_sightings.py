"""The mean of a resting ball's fits against numpy's median."""

import numpy as np
import pytest

from puttvision.ball.disc import BallFit
from puttvision.ball.shading import Shading
from puttvision.ball.sightings import mean_lie, sighting


def fit(x, y, cov=(0.004, 0.001, 0.006), size=1.0):
    return BallFit(
        clear=True,
        at_px=(x, y), cov_px2=cov, size_ratio=size, seen=0.6, misfit_px=0.1, at_m=(0.0, 2.0),
        shading=Shading((0.0, 0.0, 1.0), (0.1, 0.2, 0.7)),
    )  # fmt: skip


@pytest.mark.parametrize("n", [1, 2, 5, 8])
def test_place_and_size_are_medians(n):
    rng = np.random.default_rng(n)
    places, sizes = rng.normal(100, 1, (n, 2)), rng.normal(1, 0.01, n)
    lie = mean_lie([(0.25 * k, fit(*places[k], size=sizes[k])) for k in range(n)])
    assert lie.at_px == pytest.approx(np.median(places, axis=0))
    assert lie.size_ratio == pytest.approx(np.median(sizes))
    assert (lie.n_fits, lie.first_s, lie.last_s) == (n, 0.0, 0.25 * (n - 1))


def test_one_wild_fit_does_not_move_it():
    fits = [(0.25 * k, fit(100.0, 200.0)) for k in range(6)]
    fits[2] = (0.5, fit(104.0, 190.0))
    assert mean_lie(fits).at_px == pytest.approx((100.0, 200.0))


def test_more_fits_are_surer_down_to_a_floor():
    # the same pixels give the same error however often they are looked at
    one, four, forty = (mean_lie([(0.0, fit(100.0, 200.0))] * n).cov_px2 for n in (1, 4, 40))
    assert four[0] < one[0]
    assert forty[0] >= 0.02**2
    assert forty[0] * forty[2] > forty[1] ** 2


def test_no_fits_no_lie():
    with pytest.raises(ValueError, match="at least one"):
        mean_lie([])


def test_a_sighting_is_a_fit_with_its_time():
    seen = sighting(3.25, fit(10.0, 20.0))
    assert (seen.time_s, seen.at_px, seen.cov_px2) == (3.25, (10.0, 20.0), (0.004, 0.001, 0.006))
