"""Quantiles of Student's t, chi-square and F, from the incomplete beta and gamma functions.

A command that answers at once cannot load scipy for three numbers; the tests hold these against scipy's,
to ten digits. Continued fractions and series as in Abramowitz and Stegun, 6.5.29, 6.5.31 and 26.5.8
(from memory), evaluated by the modified Lentz rule; the quantile by halving.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache

_TINY, _EXACT, _MOST = 1e-300, 1e-15, 100_000


@cache
def student(share: float, freedom: float) -> float:
    """t below which ``share`` of Student's distribution lies, 0.5 <= share < 1."""

    def below(t: float) -> float:
        return 1 - beta_share(freedom / (freedom + t * t), freedom / 2, 0.5) / 2

    return _solve(below, share)


@cache
def chi_square(share: float, freedom: float) -> float:
    """Chi-square below which ``share`` of the distribution lies."""
    return _solve(lambda x: gamma_share(freedom / 2, x / 2), share)


@cache
def fisher(share: float, upper: float, lower: float) -> float:
    """F below which ``share`` lies; ``upper``, ``lower``: degrees of freedom of its two variances."""

    def below(f: float) -> float:
        return beta_share(upper * f / (upper * f + lower), upper / 2, lower / 2)

    return _solve(below, share)


def gamma_share(a: float, x: float) -> float:
    """The regularised lower incomplete gamma function P(a, x)."""
    if x <= 0:
        return 0.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1:
        term = total = 1 / a
        n = a
        while term > total * _EXACT:
            n += 1
            term *= x / n
            total += term
        return front * total

    def terms() -> Iterator[tuple[float, float]]:
        yield 1.0, x + 1 - a
        for k in range(1, _MOST):
            yield k * (a - k), x + 2 * k + 1 - a

    return 1 - front * _fraction(terms())


def beta_share(x: float, a: float, b: float) -> float:
    """The regularised incomplete beta function I_x(a, b)."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_share(1 - x, b, a)
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )

    def terms() -> Iterator[tuple[float, float]]:
        yield 1.0, 1.0
        yield -(a + b) * x / (a + 1), 1.0
        for m in range(1, _MOST):
            yield m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)), 1.0
            yield -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)), 1.0

    return front / a * _fraction(terms())


def _fraction(terms: Iterator[tuple[float, float]]) -> float:
    """The continued fraction n1/(d1 + n2/(d2 + ...)) of (n, d) pairs."""
    value, over, under = _TINY, _TINY, 0.0
    for numerator, denominator in terms:
        under = 1 / (denominator + numerator * under or _TINY)
        over = denominator + numerator / over or _TINY
        value *= over * under
        if abs(over * under - 1) < _EXACT:
            return value
    raise ArithmeticError("the continued fraction did not settle")


def _solve(share_below: Callable[[float], float], share: float) -> float:
    """Where a rising function from 0 on reaches a share."""
    low, high = 0.0, 1.0
    while share_below(high) < share:
        low, high = high, 2 * high
    while high - low > 1e-14 * high:
        middle = (low + high) / 2
        if not low < middle < high:
            break
        low, high = (middle, high) if share_below(middle) < share else (low, middle)
    return (low + high) / 2
