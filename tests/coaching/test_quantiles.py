"""Quantiles without scipy against scipy's own."""

import math

import pytest
from scipy import special

from puttvision.coaching import quantiles

FREEDOMS = (1, 2, 3, 7, 19, 30.5, 120, 999, 20_000)


@pytest.mark.parametrize("freedom", FREEDOMS)
@pytest.mark.parametrize("share", [0.025, 0.5, 0.9, 0.975])
def test_chi_square(freedom, share):
    assert quantiles.chi_square(share, freedom) == pytest.approx(
        special.chdtri(freedom, 1 - share), rel=1e-10
    )


@pytest.mark.parametrize("freedom", FREEDOMS)
@pytest.mark.parametrize("share", [0.6, 0.9, 0.975, 0.999])
def test_student(freedom, share):
    assert quantiles.student(share, freedom) == pytest.approx(special.stdtrit(freedom, share), rel=1e-9)


@pytest.mark.parametrize("upper", FREEDOMS)
@pytest.mark.parametrize("lower", FREEDOMS)
@pytest.mark.parametrize("share", [0.025, 0.975])
def test_fisher(upper, lower, share):
    assert quantiles.fisher(share, upper, lower) == pytest.approx(
        special.fdtri(upper, lower, share), rel=1e-8
    )


def test_shares_at_their_ends():
    assert quantiles.gamma_share(2.0, 0.0) == 0.0
    assert (quantiles.beta_share(0.0, 2, 3), quantiles.beta_share(1.0, 2, 3)) == (0.0, 1.0)
    assert quantiles.beta_share(0.3, 2, 3) == pytest.approx(special.betainc(2, 3, 0.3), rel=1e-13)
    assert quantiles.gamma_share(0.5, 2) == pytest.approx(math.erf(math.sqrt(2)), rel=1e-13)
