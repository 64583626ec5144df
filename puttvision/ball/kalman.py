"""One rolling ball on the plane, predicted and corrected by a Kalman filter.

The only module that touches filterpy. State: x, y in metres and their rates in m/s, in the frame of
the green; between frames the ball slows down at a constant rate, with white noise of acceleration
(Bar-Shalom, Li and Kirubarajan 2001, "Estimation with Applications to Tracking and Navigation", the
discrete white noise acceleration model).
"""

from __future__ import annotations

import numpy as np
from filterpy.kalman import KalmanFilter
from numpy.typing import NDArray

Floats = NDArray[np.float64]

ROLLING_M_S2 = 0.6
"""Deceleration of an everyday green, 9 ft on the Stimpmeter."""
_U_ACCELERATION_M_S2 = 2.5
"""Skid, slope and bumps: how far the true acceleration may be from rolling."""
_PLACES, _RATES = np.diag([1.0, 1.0, 0.0, 0.0]), np.diag([0.0, 0.0, 1.0, 1.0])
_CROSSES = np.eye(4, k=2) + np.eye(4, k=-2)
"""Which entries of the state's covariance hold places, rates, and what ties them."""


class RollingFilter:
    """Follows one ball; every call takes times in seconds and places in metres."""

    def __init__(self, time_s: float, at_m: Floats, cov_m2: Floats, u_speed_m_s: float) -> None:
        self._filter = KalmanFilter(dim_x=4, dim_z=2)
        self._filter.x = np.array([at_m[0], at_m[1], 0.0, 0.0])
        self._filter.P = np.zeros((4, 4))
        self._filter.P[:2, :2] = cov_m2
        self._filter.P[2, 2] = self._filter.P[3, 3] = u_speed_m_s**2
        self._filter.H = np.eye(2, 4)
        self.time_s = time_s

    @property
    def at_m(self) -> Floats:
        """Shape (2,)."""
        return np.array(self._filter.x[:2], dtype=float)

    @property
    def velocity_m_s(self) -> Floats:
        """Shape (2,)."""
        return np.array(self._filter.x[2:], dtype=float)

    @property
    def speed_m_s(self) -> float:
        """Magnitude of the velocity."""
        return float(np.hypot(self._filter.x[2], self._filter.x[3]))

    @property
    def u_speed_m_s(self) -> float:
        """Standard deviation of the velocity along its worse axis, at most."""
        return float(np.sqrt(self._filter.P[2, 2] + self._filter.P[3, 3]))

    @property
    def place_cov_m2(self) -> Floats:
        """Shape (2, 2)."""
        return np.array(self._filter.P[:2, :2], dtype=float)

    def predict(self, time_s: float) -> None:
        """Move the state on to a later time."""
        dt = time_s - self.time_s
        if dt <= 0:
            raise ValueError(f"time runs forward, got {time_s} after {self.time_s}")
        turn = np.eye(4)
        turn[0, 2] = turn[1, 3] = dt
        speed = self.speed_m_s
        slowed = min(ROLLING_M_S2 * dt, speed)
        brake = -slowed / speed * self.velocity_m_s if speed > 1e-6 else np.zeros(2)
        place, cross, rate = dt**4 / 4, dt**3 / 2, dt**2
        noise = place * _PLACES + cross * _CROSSES + rate * _RATES
        self._filter.predict(F=turn, Q=noise * _U_ACCELERATION_M_S2**2)
        self._filter.x[2:] += brake
        self._filter.x[:2] += 0.5 * brake * dt
        self.time_s = time_s

    def distance(self, at_m: Floats, cov_m2: Floats) -> float:
        """Mahalanobis distance of a place from the prediction."""
        miss = np.asarray(at_m) - self.at_m
        spread = self.place_cov_m2 + cov_m2
        return float(np.sqrt(miss @ np.linalg.solve(spread, miss)))

    def correct(self, at_m: Floats, cov_m2: Floats) -> None:
        """Take in a measured place."""
        place = np.asarray(at_m, dtype=float)
        if place.shape != (2,) or np.shape(cov_m2) != (2, 2):
            raise ValueError(f"a place is (2,) with (2, 2), got {place.shape} and {np.shape(cov_m2)}")
        self._filter.update(place, R=np.asarray(cov_m2, dtype=float))

    def restart(self, at_m: Floats, cov_m2: Floats, u_speed_m_s: float) -> None:
        """After a knock: keep the place, forget the velocity's certainty."""
        self._filter.x[:2] = at_m
        self._filter.P[:2, :2] = cov_m2
        self._filter.P[2:, :2] = self._filter.P[:2, 2:] = 0.0
        self._filter.P[2:, 2:] = np.eye(2) * u_speed_m_s**2
