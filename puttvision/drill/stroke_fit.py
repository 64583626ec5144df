"""Fitting the stroke models to a table of putts holed by distance, by maximum likelihood.

Angles come out in degrees; standard errors from the curvature of the likelihood at its top.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import log_expit, ndtr, xlog1py, xlogy

from puttvision.drill.make_tables import Row
from puttvision.drill.stroke import AIM_PAST_M, HOLE_GAP_M, PACE_WINDOW_M, Stroke
from puttvision.physics import FOOT_M

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A fitted model: ``values`` and standard errors ``u`` in the order that the fit names."""

    values: tuple[float, ...]
    u: tuple[float, ...]
    minus_log_likelihood: float
    """Without constants that depend on the data alone."""


def fit_logistic(rows: Sequence[Row]) -> Fit:
    """Intercept and slope per foot of a logistic curve; the plain alternative to the stroke models."""
    x, n, y = _columns(rows)

    def cost(values: Array) -> float:
        eta = values[0] + values[1] * x
        return float(-(y * log_expit(eta) + (n - y) * log_expit(-eta)).sum())

    return _fit(cost, np.array([2.0, -0.25]))


def fit_direction(rows: Sequence[Row]) -> Fit:
    """Start-line spread in degrees where every miss is one of direction; binomial likelihood.

    Misses of pace are counted as direction too, so it comes out too wide for a simulation of strokes.
    """
    x, n, y = _columns(rows)

    def cost(values: Array) -> float:
        p = _on_line(x, values[0])
        return float(-(xlogy(y, p) + xlog1py(n - y, -p)).sum())

    return _fit(cost, np.array([1.5]))


def fit_direction_and_pace(rows: Sequence[Row], *, plain: bool = False) -> Fit:
    """Start-line spread in degrees, pace spread (share) and the model's own scatter.

    The share holed is normal about the model's chance p with variance p (1 - p) / n + scatter^2, as
    in Gelman 2019: with a million putts a plain binomial likelihood (``plain``, no scatter) makes
    the shortest putts, where the model is not that good, decide everything.
    """
    x, n, y = _columns(rows)

    def binomial(values: Array) -> float:
        p = np.clip(_on_line(x, values[0]) * _paced(x, values[1]), 1e-15, 1 - 1e-15)
        return float(-(xlogy(y, p) + xlog1py(n - y, -p)).sum())

    def with_scatter(values: Array) -> float:
        p = np.clip(_on_line(x, values[0]) * _paced(x, values[1]), 1e-12, 1 - 1e-12)
        variance = p * (1 - p) / n + values[2] ** 2
        return float((0.5 * np.log(variance) + 0.5 * (y / n - p) ** 2 / variance).sum())

    if plain:
        starts = [np.array(start) for start in ((1.0, 0.08), (0.75, 0.14))]
        return min((_fit(binomial, start) for start in starts), key=lambda fit: fit.minus_log_likelihood)
    return _fit(with_scatter, np.array([1.0, 0.08, 0.003]))


def stroke_of(fit: Fit) -> Stroke:
    """The stroke of `fit_direction` (one value) or `fit_direction_and_pace`."""
    return Stroke(fit.values[0], fit.values[1] if len(fit.values) > 1 else None)


def _columns(rows: Sequence[Row]) -> tuple[Array, Array, Array]:
    """Distances in feet, tries, holed; each shape (n_rows,)."""
    if not rows:
        raise ValueError("a table with at least one row was due")
    table = np.asarray(rows, dtype=float)
    if not ((table[:, 0] > 0) & (table[:, 1] > 0) & (table[:, 2] >= 0) & (table[:, 2] <= table[:, 1])).all():
        raise ValueError("each row is a distance above 0, tries, and at most as many holed")
    return table[:, 0], table[:, 1], table[:, 2]


def _on_line(x_ft: Array, spread_deg: float) -> Array:
    half_rad = np.arcsin(np.minimum(1.0, HOLE_GAP_M / FOOT_M / x_ft))
    return np.asarray(1 - 2 * ndtr(-half_rad / math.radians(spread_deg)), dtype=float)


def _paced(x_ft: Array, spread: float) -> Array:
    past, window = AIM_PAST_M / FOOT_M, PACE_WINDOW_M / FOOT_M
    scale = (x_ft + past) * spread
    return np.asarray(ndtr((window - past) / scale) - ndtr(-past / scale), dtype=float)


def _fit(cost: Callable[[Array], float], start: Array) -> Fit:
    """Lowest cost, each value in units of its start so that all are near 1."""

    def scaled(shares: Array) -> float:
        values = shares * start
        return cost(values) if (shares > 0).all() else math.inf

    ones = np.ones(len(start))
    options = {"xatol": 1e-10, "fatol": 1e-9, "maxiter": 5000, "maxfev": 5000}
    found = minimize(scaled, ones, method="Nelder-Mead", options=options)
    if not found.success:
        raise ValueError(f"the model cannot be fitted to this table: {found.message}")
    curvature = _curvature(scaled, found.x)
    u = np.sqrt(np.diag(np.linalg.inv(curvature))) * np.abs(start)
    return Fit(
        values=tuple(float(v) for v in found.x * start),
        u=tuple(float(v) for v in u),
        minus_log_likelihood=float(found.fun),
    )


def _curvature(cost: Callable[[Array], float], at: Array) -> Array:
    """Second derivatives by central differences; shape (n, n)."""
    n = len(at)
    steps = np.diag(1e-3 * at)
    out = np.empty((n, n))
    for i in range(n):
        for j in range(n):
            a, b = steps[i], steps[j]
            corners = cost(at + a + b) - cost(at + a - b) - cost(at - a + b) + cost(at - a - b)
            out[i, j] = corners / (4 * a[i] * b[j])
    return out
