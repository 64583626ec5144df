"""The filter against the textbook's equations, written out, and its claims against simulated balls.

Bar-Shalom, Li and Kirubarajan 2001, "Estimation with Applications to Tracking and Navigation": the Kalman
filter (5.2.3, x = Fx, P = FPF' + Q, S = HPH' + R, W = PH'S^-1), the discrete white noise acceleration model
(6.3.2, Q = G G' s^2 with G = (dt^2/2, dt)') and consistency by NEES (5.4.2); from memory of the book.
"""

import numpy as np
import pytest
from scipy.stats import chi2

from puttvision.ball import kalman
from puttvision.ball.kalman import ROLLING_M_S2, RollingFilter

U_ACCELERATION = kalman._U_ACCELERATION_M_S2


class Textbook:
    """The same filter in plain numpy, state (x, vx, y, vy); rolling slows it at a constant rate."""

    def __init__(self, at, cov, u_speed):
        self.x = np.array([at[0], 0.0, at[1], 0.0])
        self.p = np.zeros((4, 4))
        self.p[np.ix_([0, 2], [0, 2])] = cov
        self.p[1, 1] = self.p[3, 3] = u_speed**2
        self.h = np.array([[1.0, 0, 0, 0], [0, 0, 1, 0]])

    def predict(self, dt):
        one = np.array([[1, dt], [0, 1.0]])
        f = np.block([[one, np.zeros((2, 2))], [np.zeros((2, 2)), one]])
        g = np.block([[np.array([[dt**2 / 2], [dt]]), np.zeros((2, 1))],
                      [np.zeros((2, 1)), np.array([[dt**2 / 2], [dt]])]])  # fmt: skip
        speed = np.hypot(self.x[1], self.x[3])
        known = np.zeros(2)
        if speed > 0:  # the known input: deceleration against the motion, to a stop at most
            known = -min(ROLLING_M_S2, speed / dt) * self.x[[1, 3]] / speed
        self.x = f @ self.x + g @ known
        self.p = f @ self.p @ f.T + g @ g.T * U_ACCELERATION**2

    def correct(self, z, r):
        s = self.h @ self.p @ self.h.T + r
        w = self.p @ self.h.T @ np.linalg.inv(s)
        self.x = self.x + w @ (z - self.h @ self.x)
        self.p = self.p - w @ s @ w.T


def test_a_roll_agrees_with_the_textbook_step_by_step():
    # uneven times, as phones give them; correlated places; same numbers to rounding
    rng = np.random.default_rng(2)
    start, cov = np.array([0.3, -0.2]), np.array([[4e-6, 1e-6], [1e-6, 9e-6]])
    ours, book = RollingFilter(5.0, start, cov, u_speed_m_s=2.5), Textbook(start, cov, 2.5)
    time_s, at, velocity = 5.0, start.copy(), np.array([1.9, 0.4])
    for _ in range(40):
        dt = float(rng.choice([1 / 60, 1 / 59.94, 1 / 30, 0.05]))
        time_s, at, velocity = time_s + dt, at + velocity * dt, velocity * (1 - 0.3 * dt)
        ours.predict(time_s)
        book.predict(dt)
        np.testing.assert_allclose(ours.at_m, book.x[[0, 2]], atol=1e-10)
        np.testing.assert_allclose(ours.place_cov_m2, book.p[np.ix_([0, 2], [0, 2])], rtol=1e-8)
        r = np.array([[1e-6, 3e-7], [3e-7, 2e-6]]) * rng.uniform(0.5, 4)
        z = at + rng.multivariate_normal([0, 0], r)
        away = z - book.x[[0, 2]]
        spread = book.p[np.ix_([0, 2], [0, 2])] + r
        assert ours.distance(z, r) == pytest.approx(np.sqrt(away @ np.linalg.solve(spread, away)), rel=1e-6)
        ours.correct(z, r)
        book.correct(z, r)
        np.testing.assert_allclose(ours.at_m, book.x[[0, 2]], atol=1e-10)
        np.testing.assert_allclose(ours.velocity_m_s, book.x[[1, 3]], atol=1e-8)
        np.testing.assert_allclose(ours.place_cov_m2, book.p[np.ix_([0, 2], [0, 2])], rtol=1e-6, atol=1e-14)
    assert ours.time_s == time_s
    assert ours.speed_m_s == pytest.approx(np.hypot(*ours.velocity_m_s))


def simulated(rng, dt, noise_m, u_acceleration):
    """A roll as the model has it: constant rolling deceleration and white noise of acceleration."""
    ours = RollingFilter(0.0, rng.normal(0, noise_m, 2), np.eye(2) * noise_m**2, u_speed_m_s=2.5)
    at, velocity, squares = np.zeros(2), rng.normal(0, 2.5, 2), []
    for k in range(1, 50):
        slow = min(ROLLING_M_S2, np.hypot(*velocity) / dt) * velocity / np.hypot(*velocity)
        a = -slow + rng.normal(0, u_acceleration, 2)
        at, velocity = at + velocity * dt + a * dt**2 / 2, velocity + a * dt
        ours.predict(k * dt)
        ours.correct(at + rng.normal(0, noise_m, 2), np.eye(2) * noise_m**2)
        miss = ours.at_m - at
        squares.append(miss @ np.linalg.solve(ours.place_cov_m2, miss))
    return np.array(squares)


@pytest.mark.parametrize("rate_hz", [30, 60, 240])
def test_its_covariance_is_consistent(rate_hz):
    # NEES of the place, 2 degrees of freedom, mean over 60 rolls at each step: 95 % of the steps lie within
    # chi-squared's 95 % (5.4.2-8); 80 % are asked for, as neighbouring steps go astray together
    rng = np.random.default_rng(rate_hz)
    n = 60
    means = np.mean([simulated(rng, 1 / rate_hz, 0.0015, U_ACCELERATION) for _ in range(n)], axis=0)
    low, high = chi2.ppf([0.025, 0.975], 2 * n) / n
    assert np.mean((means > low) & (means < high)) > 0.8
    assert np.mean(means) == pytest.approx(2.0, abs=0.2)


def test_a_real_roll_stays_within_the_gate():
    # a putt that skids at 0.4 g, rolls at 0.55 m/s2 and turns 0.1 m/s2 to the side: predictions stay within 6
    # standard deviations, which is how far the follower looks
    rng = np.random.default_rng(9)
    dt, noise_m = 1 / 60, 0.001
    ours = RollingFilter(0.0, np.zeros(2), np.eye(2) * noise_m**2, u_speed_m_s=2.5)
    at, velocity, distances = np.zeros(2), np.array([2.2, 0.0]), []
    for k in range(1, 150):
        speed = np.hypot(*velocity)
        brake = 0.4 * 9.80665 if k * dt < 0.16 else 0.55
        velocity = velocity + dt * (np.array([0.0, 0.1]) - brake * velocity / max(speed, 1e-6)) * (
            speed > 0.02
        )
        at = at + velocity * dt
        ours.predict(k * dt)
        z = at + rng.normal(0, noise_m, 2)
        distances.append(ours.distance(z, np.eye(2) * noise_m**2))
        ours.correct(z, np.eye(2) * noise_m**2)
    assert max(distances) < 6
    assert np.mean(distances) < 1.6  # a true unit spread has a mean of 1.25


def test_a_ball_that_has_stopped_does_not_run_back():
    ours = RollingFilter(0.0, np.zeros(2), np.eye(2) * 1e-6, u_speed_m_s=1.0)
    for k in range(1, 6):  # crawls at 0.05 m/s
        ours.predict(k / 60)
        ours.correct(np.array([0.05 * k / 60, 0.0]), np.eye(2) * 1e-8)
    before = ours.at_m
    ours.predict(3.0)
    assert ours.speed_m_s == pytest.approx(0.0, abs=1e-12)
    assert ours.at_m[0] >= before[0]


def test_after_a_knock_the_velocity_is_open_again():
    ours = RollingFilter(0.0, np.zeros(2), np.eye(2) * 1e-6, u_speed_m_s=2.5)
    for k in range(1, 20):
        ours.predict(k / 60)
        ours.correct(np.array([2.0 * k / 60, 0.0]), np.eye(2) * 1e-6)
    place = np.array([0.64, 0.01])
    ours.restart(place, np.eye(2) * 1e-6, u_speed_m_s=1.0)
    assert ours.at_m == pytest.approx(place)
    for k in range(20, 24):  # it goes off to the side
        ours.predict(k / 60)
        ours.correct(place + (k - 19) / 60 * np.array([0.9, 0.6]), np.eye(2) * 1e-6)
    assert ours.velocity_m_s == pytest.approx([0.9, 0.6], abs=0.15)


@pytest.mark.parametrize("time_s", [1.0, 0.5])
def test_time_never_runs_back(time_s):
    ours = RollingFilter(1.0, np.zeros(2), np.eye(2), 1.0)
    with pytest.raises(ValueError, match="time runs forward"):
        ours.predict(time_s)


def test_shapes_are_checked():
    # filterpy takes (2,) and (2, 1) alike and broadcasts silently into wrong states
    ours = RollingFilter(1.0, np.zeros(2), np.eye(2), 1.0)
    for place, cov in ((np.zeros(3), np.eye(2)), (np.zeros((2, 1)), np.eye(2)), (np.zeros(2), np.ones(2))):
        with pytest.raises(ValueError, match="place is"):
            ours.correct(place, cov)
