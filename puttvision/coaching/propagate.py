"""A stroke carried to the hole: shares of variance there, and what of the misses each error costs.

One spot, one even slope. Start angle, run-out and read are independent: the angle is normal, the run-out
normal, the read one fixed offset. Offsets are small against the distance, so the offset at the hole is
d (tan angle) + k break_shape(d, R) (see `causes.py`); the hole takes what arrives within
`physics.capture_offset` of its speed. Metres; right and past the hole positive.

Left out: a ball that starts on the low side also arrives faster, which couples line and pace. Against putts
rolled by brute force the shares hold within 0.02 up to about 1 % of slope at 10 ft, and within 0.07 at 2 %.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.coaching.causes import break_shape
from puttvision.physics import (
    CAPTURE_SPEED_M_S,
    HOLE_RADIUS_M,
    deceleration_from_stimp,
    slope_acceleration,
)

Array = NDArray[np.float64]
STEPS = 2001
"""Points of the integral over run-out; the shares change by less than 1e-4 from half as many."""
REACH = 6.0
"""Standard deviations of run-out that the integral covers, each way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One putt's place and one player's stroke there."""

    distance_m: float
    stimp_ft: float
    cross_slope: float
    """Fall to the right, 0.01 = 1 %; along the line it is level."""
    start_spread_deg: float
    run_out_m: float
    """Mean run-out, above 0."""
    run_out_spread_m: float
    read_m: float = 0.0
    """How far right of the hole's centre a ball of the usual line and pace passes."""

    @property
    def k(self) -> float:
        """Cross pull over twice the rolling deceleration; the break is k times `break_shape`."""
        return slope_acceleration(self.cross_slope) / (2 * deceleration_from_stimp(self.stimp_ft))


@dataclass(frozen=True, slots=True, kw_only=True)
class AtTheHole:
    """What arrives. Variances in m2 of the balls that reach the hole; they add up to ``mean_square_m2``."""

    line_m2: float
    pace_m2: float
    read_m2: float
    miss_chance: float
    short_chance: float
    """Stopped before the hole; part of ``miss_chance``."""
    miss_by_line: float
    """Shapley's share of the miss chance; with the next two it adds up to ``miss_chance``."""
    miss_by_pace: float
    """Through break, through stopping short and through a hole that takes less at speed."""
    miss_by_read: float

    @property
    def mean_square_m2(self) -> float:
        return self.line_m2 + self.pace_m2 + self.read_m2

    @property
    def shares(self) -> tuple[float, float, float]:
        """Start line, pace, read, as shares of the mean squared offset."""
        return tuple(part / self.mean_square_m2 for part in (self.line_m2, self.pace_m2, self.read_m2))  # type: ignore[return-value]


def at_the_hole(spot: Spot) -> AtTheHole:
    """Propagate a stroke to the hole.

    Line and read are in closed form, pace by one integral over run-out. A miss is shared by Shapley's
    rule: what each error adds to the miss chance, mean over the orders in which the three may be added
    to a perfect stroke (Shapley 1953; for variances Owen 2014). The read's mean square includes the small
    shift that the curvature of the break gives to the mean.
    """
    run_m, weight = _run_outs(spot)
    reached = run_m >= 0
    arriving = weight[reached] / weight[reached].sum()
    drift = _drift(spot, run_m)
    middle = float(arriving @ drift[reached])
    chances = {
        errors: _miss_chance(spot, frozenset(errors), run_m, weight, drift)
        for n in range(4)
        for errors in itertools.combinations(("line", "pace", "read"), n)
    }
    return AtTheHole(
        line_m2=(spot.distance_m * math.radians(spot.start_spread_deg)) ** 2,
        pace_m2=float(arriving @ (drift[reached] - middle) ** 2),
        read_m2=(spot.read_m + middle) ** 2,
        miss_chance=chances["line", "pace", "read"],
        short_chance=float(weight[~reached].sum()),
        miss_by_line=_shapley("line", chances),
        miss_by_pace=_shapley("pace", chances),
        miss_by_read=_shapley("read", chances),
    )


def _run_outs(spot: Spot) -> tuple[Array, Array]:
    """Run-outs and their chances, which sum to 1; shape (STEPS,). No ball rolls backwards."""
    z = np.linspace(-REACH, REACH, STEPS)
    weight = np.exp(-0.5 * z**2)
    return np.maximum(spot.run_out_m + z * spot.run_out_spread_m, -spot.distance_m), weight / weight.sum()


def _drift(spot: Spot, run_m: Array) -> Array:
    """How much further right than at the usual pace a ball breaks, m; shape as ``run_m``."""
    d, run = spot.distance_m, np.maximum(run_m, 1e-12)
    shape = d - run * np.log1p(d / run)
    return np.asarray(spot.k * (shape - break_shape(d, spot.run_out_m)))


def _takes(spot: Spot, run_m: Array) -> Array:
    """Half-width of what the hole takes, m; 0 of a ball that stops short."""
    speed = np.sqrt(2 * deceleration_from_stimp(spot.stimp_ft) * np.maximum(run_m, 0))
    width = HOLE_RADIUS_M * np.sqrt(np.maximum(0.0, 1 - speed / CAPTURE_SPEED_M_S))
    return np.where(run_m < 0, 0.0, width)


def _miss_chance(spot: Spot, errors: frozenset[str], run_m: Array, weight: Array, drift: Array) -> float:
    """Miss chance with these errors alone; the others are perfect."""
    if "pace" not in errors:
        run_m, weight, drift = np.array([spot.run_out_m]), np.ones(1), np.zeros(1)
    middle = drift + (spot.read_m if "read" in errors else 0.0)
    takes = _takes(spot, run_m)
    if "line" not in errors:
        return float(weight @ (np.abs(middle) >= takes))
    spread = spot.distance_m * math.radians(spot.start_spread_deg)
    holed = _below((takes - middle) / spread) - _below((-takes - middle) / spread)
    return float(1 - weight @ holed)


def _below(z: Array) -> Array:
    """Share of a normal distribution below z."""
    return np.array([0.5 * math.erfc(-value / math.sqrt(2)) for value in z.tolist()])


def _shapley(one: str, chances: dict[tuple[str, ...], float]) -> float:
    """Shapley's share of one of three errors."""
    order = ("line", "pace", "read")
    total = 0.0
    for errors, chance in chances.items():
        if one in errors:
            continue
        with_it = tuple(name for name in order if name in errors or name == one)
        n = len(errors)
        share = math.factorial(n) * math.factorial(2 - n) / math.factorial(3)
        total += share * (chances[with_it] - chance)
    return total
