"""The rolling ball against worked lengths and an independent integration."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from puttvision.physics import GRAVITY_M_S2, deceleration_from_stimp, feet, slope_acceleration
from puttvision.putt.motion import Green, paths


def roll(v0, green, heading=0.0, skids=True):
    return paths(np.zeros((1, 2)), heading, v0, green, skids=skids)


def test_level_putt_has_the_worked_length():
    # 2 m/s, mu 0.4, 10 ft: skid 0.249726 m and roll 1.857448 m (kinematics)
    path = roll(2.0, Green(deceleration_from_stimp(10), 0.0, 0.0, 0.4))
    assert path.state[0, -1, 0] == pytest.approx(0.249726 + 1.857448, abs=1e-5)
    assert np.hypot(*path.state[0, 4, 2:]) / 2.0 == pytest.approx(5 / 7, abs=1e-9)


@pytest.mark.parametrize(("sign", "reading_ft"), [(-1, 7.96836), (1, 13.42217)])
def test_stimpmeter_up_and_down_a_two_per_cent_plane(sign, reading_ft):
    # the identity behind Brede 1990: a 10 ft green at 2 % reads 7.96836 ft up and 13.42217 ft down
    green = Green(deceleration_from_stimp(10), sign * slope_acceleration(0.02), 0.0, 0.4)
    assert feet(roll(1.83, green, skids=False).state[0, -1, 0]) == pytest.approx(reading_ft, abs=2e-3)


def test_side_slope_agrees_with_the_full_equations_of_a_sliding_sphere():
    # scipy.integrate.solve_ivp (RK45, rtol 1e-9) of v' = -mu g u/|u| + s, u' = -7/2 mu g u/|u| + s
    fall, mu, v0 = 0.015, 0.4, 2.3
    s = np.array([0.0, GRAVITY_M_S2 * np.sin(np.arctan(fall))])
    brake = deceleration_from_stimp(9)

    def sliding(_, y):
        u = y[4:] / max(np.hypot(*y[4:]), 1e-9)
        return np.concatenate([y[2:4], -mu * GRAVITY_M_S2 * u + s, -3.5 * mu * GRAVITY_M_S2 * u + s])

    def grips(_, y):
        return np.hypot(*y[4:]) - 0.01

    grips.terminal = True
    skid = solve_ivp(sliding, (0, 1), [0, 0, v0, 0, v0, 0], rtol=1e-9, atol=1e-12, events=grips)

    def rolling(_, y):
        return np.concatenate([y[2:], -brake * y[2:] / np.hypot(*y[2:]) + 5 / 7 * s])

    slip = skid.y[4:, -1]
    start = np.concatenate([skid.y[:2, -1], skid.y[2:4, -1] - 2 / 7 * slip])  # w: what rolls on
    rest = solve_ivp(rolling, (0, 1.6), start, rtol=1e-9, atol=1e-12)
    green = Green(brake, 0.0, slope_acceleration(fall), mu)
    ours = roll(v0, green).at(np.array([[skid.t[-1] + 1.6]]))[0, 0, :2]
    np.testing.assert_allclose(ours, rest.y[:2, -1], atol=0.001)  # four steps of skid are good to 1 mm
