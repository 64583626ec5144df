"""How a putt moves on a plane: skid, then roll, under friction and slope, until it stops.

Many balls at once: every argument may be an array of shape (B,), and the paths come out as arrays
of shape (B, K). Metres and seconds in the frame of the green. A sliding sphere is slowed by mu g
against the slip u of its foot; u = v at a start without spin, u' = -7/2 mu g u/|u| + s and v' =
-mu g u/|u| + s, with s gravity's pull along the slope (textbook mechanics of a solid sphere). So
w = v - 2/7 u feels the slope alone, w' = 5/7 s, at the start it is 5/7 v, and when the slip is gone it
is the speed of the rolling ball. Then the ball rolls, slowed by a constant deceleration against its
motion and pushed by 5/7 s. Integrated by the classical Runge-Kutta method of fourth order on a fixed
grid and read off by cubic Hermite interpolation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.physics import GRAVITY_M_S2, ROLL_SHARE

Floats = NDArray[np.float64]

_SKID_STEPS = 4
_ROLL_STEPS = 24
_STOPPED_M_S = 0.01


@dataclass(frozen=True, slots=True)
class Green:
    """What all rolls of one green share; each value may be an array of shape (B,)."""

    deceleration_m_s2: ArrayLike
    slope_x_m_s2: ArrayLike
    """Acceleration by the slope along x of a rolling ball: (5/7) g times the fall."""
    slope_y_m_s2: ArrayLike
    friction: ArrayLike


@dataclass(frozen=True, slots=True)
class Paths:
    """Paths of B balls on a grid of K times each."""

    time_s: Floats
    """Shape (B, K), from 0 at the start to when the ball has stopped."""
    state: Floats
    """Shape (B, K, 4): x, y, and their rates."""

    def at(self, time_s: Floats) -> Floats:
        """States at times after the start, (B, n) to (B, n, 4); before the start on the straight
        continuation of the first step, after the end at rest."""
        grid = self.time_s
        k = np.clip(
            np.stack([np.searchsorted(g, t, side="right") - 1 for g, t in zip(grid, time_s, strict=True)]),
            0,
            grid.shape[1] - 2,
        )
        rows = np.arange(grid.shape[0])[:, None]
        t0, t1 = grid[rows, k], grid[rows, k + 1]
        h = np.maximum(t1 - t0, 1e-9)
        s = np.clip((time_s - t0) / h, -20, 1)[..., None]
        a, b = self.state[rows, k], self.state[rows, k + 1]
        d = h[..., None]
        place = (
            (1 + 2 * s) * (1 - s) ** 2 * a[..., :2]
            + s * (1 - s) ** 2 * d * a[..., 2:]
            + s * s * (3 - 2 * s) * b[..., :2]
            + s * s * (s - 1) * d * b[..., 2:]
        )
        rate = a[..., 2:] + s * (b[..., 2:] - a[..., 2:])
        before = s < 0
        place = np.where(before, a[..., :2] + s * d * a[..., 2:], place)
        rate = np.where(before, a[..., 2:], rate)
        return np.concatenate([place, rate], axis=-1)


def paths(
    start_m: Floats, heading_rad: ArrayLike, speed_m_s: ArrayLike, green: Green, *, skids: bool = True
) -> Paths:
    """Integrate balls from their starts until they stop.

    Parameters
    ----------
    start_m : shape (B, 2)
    heading_rad : of the first motion, from the x axis towards the y axis
    speed_m_s : at the start
    green : shared or per ball
    skids : False for a ball that rolls already (after it met a post)
    """
    n = start_m.shape[0]
    heading, speed = (np.broadcast_to(np.asarray(v, dtype=float), (n,)) for v in (heading_rad, speed_m_s))
    speed = np.maximum(speed, 1e-3)
    brake, gx, gy, mu = (
        np.broadcast_to(np.asarray(v, dtype=float), (n,))
        for v in (green.deceleration_m_s2, green.slope_x_m_s2, green.slope_y_m_s2, green.friction)
    )
    brake = np.maximum(brake, 0.05)
    slope = np.stack([gx, gy], axis=1)
    state = np.concatenate([start_m, (speed * np.array([np.cos(heading), np.sin(heading)])).T], axis=1)
    times, states = [np.zeros(n)], [state]
    if skids:
        _skid(times, states, np.clip(mu, 0.05, 2.0) * GRAVITY_M_S2, slope)
    left = np.hypot(states[-1][:, 2], states[-1][:, 3])
    pull = np.hypot(gx, gy)
    step = 1.1 * left / np.maximum(brake - pull, 0.3 * brake) / _ROLL_STEPS
    _run(times, states, step, _ROLL_STEPS, brake, slope)
    return Paths(np.stack(times, axis=1), np.stack(states, axis=1))


def _skid(times: list[Floats], states: list[Floats], slide: Floats, slope: Floats) -> None:
    """From the start to rolling; ``slope`` is 5/7 of gravity's pull."""
    pull = slope / ROLL_SHARE
    slip = states[-1][:, 2:].copy()
    speed = np.hypot(slip[:, 0], slip[:, 1])
    # along the slip the slope adds to the slide's wear or takes from it; across, it hardly counts
    ahead = np.sum(slip * pull, axis=1) / speed
    h = ((1 - ROLL_SHARE) * speed / np.maximum(slide - ahead / 3.5, 0.3 * slide) / _SKID_STEPS)[:, None]
    wear = (3.5 * slide)[:, None]

    def rate(u: Floats) -> Floats:
        return np.asarray(pull - wear * u / np.maximum(np.hypot(u[:, 0], u[:, 1]), 0.02)[:, None])

    steady = ROLL_SHARE * slip
    for k in range(_SKID_STEPS):
        k1 = rate(slip)
        k2 = rate(slip + h / 2 * k1)
        k3 = rate(slip + h / 2 * k2)
        k4 = rate(slip + h * k3)
        last = k == _SKID_STEPS - 1
        new = np.zeros_like(slip) if last else slip + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        place = states[-1][:, :2] + h * (steady + h / 2 * slope) + 2 / 7 * h * (slip + new) / 2
        if not last:
            place = place + 2 / 7 * h * h / 12 * (k1 - k4)  # Hermite's correction of the trapezium
        steady = steady + h * slope
        slip = new
        times.append(times[-1] + h[:, 0])
        states.append(np.concatenate([place, steady + 2 / 7 * slip], axis=1))


def _run(
    times: list[Floats], states: list[Floats], step: Floats, n_steps: int, brake: Floats, slope: Floats
) -> None:
    h = step[:, None]
    for _ in range(n_steps):
        y = states[-1]
        speed = np.hypot(y[:, 2], y[:, 3])
        # the last step ends where the ball stops: it never rolls backwards out of friction
        ahead = np.sum(y[:, 2:] * slope, axis=1) / np.maximum(speed, 1e-9)
        stop = speed / np.maximum(brake - ahead, 1e-6)
        hh = np.minimum(h, np.maximum(stop, 1e-6)[:, None])
        k1 = _rates(y, brake, slope)
        k2 = _rates(y + hh / 2 * k1, brake, slope)
        k3 = _rates(y + hh / 2 * k2, brake, slope)
        k4 = _rates(y + hh * k3, brake, slope)
        new = y + hh / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        halted = (speed < _STOPPED_M_S)[:, None]
        new = np.where(halted, np.concatenate([y[:, :2], np.zeros_like(y[:, 2:])], axis=1), new)
        times.append(times[-1] + hh[:, 0])
        states.append(new)


def _rates(y: Floats, brake: Floats, slope: Floats) -> Floats:
    speed = np.maximum(np.hypot(y[:, 2], y[:, 3]), _STOPPED_M_S)
    return np.concatenate([y[:, 2:], -(brake / speed)[:, None] * y[:, 2:] + slope], axis=1)
