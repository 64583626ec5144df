"""The filter against the textbook equations, written out."""

import numpy as np
import pytest

from puttvision.ball import kalman
from puttvision.ball.kalman import RollingFilter


def test_one_step_agrees_with_the_textbook():
    # Bar-Shalom, Li and Kirubarajan 2001: discrete white noise acceleration, x = Fx, P = FPF' + Q, gain K
    p0, speed, dt, noise = 1e-6, 1.5, 1 / 60, 4e-7
    ours = RollingFilter(0.0, np.array([0.1, 0.2]), np.eye(2) * p0, speed)
    ours.predict(dt)
    ours.correct(np.array([0.12, 0.2]), np.eye(2) * noise)

    f = np.array([[1, dt], [0, 1.0]])
    g = np.array([dt * dt / 2, dt])
    p = f @ np.diag([p0, speed**2]) @ f.T + np.outer(g, g) * kalman._U_ACCELERATION_M_S2**2
    gain = p[:, 0] / (p[0, 0] + noise)
    expected = np.array([0.1, 0.0]) + gain * 0.02
    assert ours.at_m == pytest.approx([expected[0], 0.2], abs=1e-12)
    assert ours.velocity_m_s == pytest.approx([expected[1], 0.0], abs=1e-9)
    assert ours.place_cov_m2[0, 0] == pytest.approx((1 - gain[0]) * p[0, 0], rel=1e-9)


def test_time_never_runs_back():
    ours = RollingFilter(1.0, np.zeros(2), np.eye(2), 1.0)
    with pytest.raises(ValueError, match="time runs forward"):
        ours.predict(1.0)
