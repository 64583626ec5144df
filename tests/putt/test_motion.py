"""The rolling ball against worked lengths, closed forms and an independent integration."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from puttvision.physics import GRAVITY_M_S2, deceleration_from_stimp, feet, skid_length, slope_acceleration
from puttvision.putt.motion import Green, paths

RADIUS_M = 0.04267 / 2


def roll(v0, green, heading=0.0, skids=True):
    return paths(np.zeros((1, 2)), heading, v0, green, skids=skids)


def length_m(path):
    return float(np.hypot(*path.state[0, -1, :2]))


def integrated(v0, heading, brake, gravity_along, mu, times):
    """The putt with its spin, by scipy.integrate.solve_ivp (RK45, rtol 1e-9): places at ``times``.

    State x, y, vx, vy and the spin about the level axes. While the foot slips, friction mu g acts against the
    slip u of the foot: m a = F + m s, I dspin/dt = torque of F, I = 2/5 m r^2. Once it grips, 5/7 of the
    slope's pull and a constant deceleration act.
    """
    s = np.asarray(gravity_along, float)

    def slip(y):  # the foot's velocity: v + spin x (0, 0, -r)
        return y[2:4] + RADIUS_M * np.array([-y[5], y[4]])

    def sliding(_, y):
        u = slip(y)
        force = -mu * GRAVITY_M_S2 * u / max(np.hypot(*u), 1e-9)
        turn = np.array([force[1], -force[0]]) * RADIUS_M / (2 / 5 * RADIUS_M**2)  # (0, 0, -r) x F over I
        return np.concatenate([y[2:4], force + s, turn])

    def grips(_, y):
        return np.hypot(*slip(y)) - 1e-4 * v0

    grips.terminal = True
    start = [0, 0, v0 * np.cos(heading), v0 * np.sin(heading), 0, 0]
    skid = solve_ivp(
        sliding, (0, 2), start, rtol=1e-9, atol=1e-12, events=grips, dense_output=True, max_step=0.01
    )
    until = skid.t[-1]

    def rolling(_, y):
        speed = np.hypot(*y[2:])
        return np.concatenate([y[2:], -brake * y[2:] / max(speed, 1e-9) + 5 / 7 * s])

    def stops(_, y):
        return np.hypot(*y[2:]) - 1e-3

    stops.terminal = True
    on = solve_ivp(
        rolling, (until, 30), skid.y[:4, -1], rtol=1e-9, atol=1e-12, events=stops, dense_output=True
    )
    places = [skid.sol(t)[:2] if t < until else on.sol(min(t, on.t[-1]))[:2] for t in times]
    return np.array(places), float(until), float(on.t[-1])


def test_level_putt_has_the_worked_length():
    # 2 m/s, mu 0.4, 10 ft: skid 0.249726 m and roll 1.857448 m (kinematics of a solid sphere, exact)
    green = Green(deceleration_from_stimp(10), 0.0, 0.0, 0.4)
    path = roll(2.0, green)
    assert length_m(path) == pytest.approx(0.249726 + 1.857448, abs=1e-5)
    assert length_m(roll(2.0 * 5 / 7, green, skids=False)) == pytest.approx(1.857448, abs=1e-5)


@pytest.mark.parametrize("v0", [0.8, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("mu", [0.3, 0.4])
def test_when_rolling_starts_five_sevenths_are_left(v0, mu):
    # textbook mechanics: 5/7 v0 after 2 v0/(7 mu g) and 12 v0^2/(49 mu g), whatever the green
    path = roll(v0, Green(0.55, 0.0, 0.0, mu))
    t_s = 2 * v0 / (7 * mu * 9.80665)
    x, y, vx, vy = path.at(np.array([[t_s]]))[0, 0]
    assert vx / v0 == pytest.approx(5 / 7, abs=1e-6)
    assert x == pytest.approx(skid_length(v0, mu), abs=1e-6)
    assert (y, vy) == pytest.approx((0, 0), abs=1e-12)
    half = path.at(np.array([[t_s / 2]]))[0, 0]
    assert half[2] / v0 == pytest.approx(6 / 7, abs=1e-3)  # mu g slows it evenly


@pytest.mark.parametrize(("sign", "reading_ft"), [(-1, 7.96836), (1, 13.42217)])
def test_stimpmeter_up_and_down_a_two_per_cent_plane(sign, reading_ft):
    # the identity behind Brede 1990: a 10 ft green at 2 % reads 7.96836 ft up and 13.42217 ft down; the ball
    # leaves the Stimpmeter rolling, at 1.83 m/s (Holmes 1986)
    green = Green(deceleration_from_stimp(10), sign * slope_acceleration(0.02), 0.0, 0.4)
    assert feet(length_m(roll(1.83, green, skids=False))) == pytest.approx(reading_ft, abs=2e-3)


@pytest.mark.parametrize("heading_deg", [0, 37, 90, 180, -120])
def test_on_the_level_no_direction_is_special(heading_deg):
    green = Green(0.5, 0.0, 0.0, 0.4)
    path = roll(1.7, green, heading=np.radians(heading_deg))
    end = path.state[0, -1, :2]
    assert np.degrees(np.arctan2(end[1], end[0])) - heading_deg == pytest.approx(0, abs=1e-9)
    assert length_m(path) == pytest.approx(length_m(roll(1.7, green)), rel=1e-12)


@pytest.mark.parametrize("v0", [1.2, 2.3, 3.0])
@pytest.mark.parametrize(
    ("fall", "first_metre_m", "whole_m"),
    [
        pytest.param((0.0, 0.015), 0.0003, 0.0015, id="1.5 % to the left"),
        pytest.param((0.0, -0.03), 0.0003, 0.0015, id="3 % to the right"),
        pytest.param((-0.02, 0.0), 0.0003, 0.0015, id="2 % uphill"),
        pytest.param((0.03, 0.0), 0.0003, 0.0015, id="3 % downhill"),
        pytest.param((0.015, 0.02), 0.0003, 0.0015, id="down and across"),
    ],
)
def test_slopes_agree_with_an_independent_integration(v0, fall, first_metre_m, whole_m):
    # a ball's centre is measured to about 1 mm; these putts are 0.6 to 5.6 m long
    brake, mu = deceleration_from_stimp(9), 0.4
    angle = np.arctan(np.hypot(*fall))
    gravity = GRAVITY_M_S2 * np.sin(angle) * np.array(fall) / np.hypot(*fall)
    path = roll(v0, Green(brake, *(5 / 7 * gravity), mu), heading=0.1)
    times = np.linspace(0, 8, 161)
    places, grips_s, rest_s = integrated(v0, 0.1, brake, gravity, mu, times)
    ours = path.at(times[None])[0, :, :2]
    away = np.hypot(*(ours - places).T)
    first_metre = np.hypot(*places.T) < 1.0
    assert away[first_metre].max() < first_metre_m
    assert away.max() < whole_m
    assert path.time_s[0, -1] == pytest.approx(rest_s, abs=0.15)
    # slip ends when the textbook says, give or take the slope's share of friction
    assert grips_s == pytest.approx(2 * v0 / (7 * mu * GRAVITY_M_S2), rel=0.15)


def test_a_putt_across_the_slope_breaks_downhill():
    left = roll(2.0, Green(0.55, 0.0, 0.1, 0.4)).state[0, -1]
    right = roll(2.0, Green(0.55, 0.0, -0.1, 0.4)).state[0, -1]
    assert left[1] > 0.1
    assert left[:2] == pytest.approx([right[0], -right[1]], abs=1e-12)


def test_the_slower_the_more_it_breaks():
    # the same start line and side slope: break at 2 m, as on every green
    def break_m(v0):
        path = roll(v0, Green(0.55, 0.0, 0.1, 0.4))
        at = path.at(np.linspace(0, float(path.time_s[0, -1]), 800)[None])[0]
        return float(np.interp(2.0, at[:, 0], at[:, 1]))

    assert break_m(2.1) > break_m(2.6) > break_m(3.2) > 0


@pytest.mark.parametrize("slope", [-0.25, -0.1, 0.0, 0.1, 0.25])
def test_up_and_down_the_line_it_stops_where_constant_deceleration_says(slope):
    # v^2 / 2a, and there it stays; 0.25 m/s2 is 3.6 % of fall, on a green of 11.5 ft
    brake, speed = 0.48, 1.3
    path = roll(speed, Green(brake, slope, 0.0, 0.4), skids=False)
    assert length_m(path) == pytest.approx(speed**2 / (2 * (brake - slope)), rel=1e-3)
    assert path.time_s[0, -1] >= 0.999 * speed / (brake - slope)


def test_a_ball_at_rest_stays_at_rest():
    # on a slope too flat to move it, friction holds: no creeping after the end
    path = roll(1.5, Green(0.55, -0.1, 0.05, 0.4))
    end = float(path.time_s[0, -1])
    later = path.at(np.array([[end, end + 0.5, end + 60.0]]))[0]
    np.testing.assert_allclose(later[:, :2] - later[0, :2], 0, atol=1e-12)
    assert np.hypot(*later[-1, 2:]) < 0.02


def test_before_the_stroke_the_path_runs_straight_back():
    path = roll(2.0, Green(0.55, 0.0, 0.1, 0.4), heading=0.2)
    before = path.at(np.array([[-0.01]]))[0, 0]
    assert before[:2] == pytest.approx(-0.02 * np.array([np.cos(0.2), np.sin(0.2)]), abs=1e-12)


def test_speed_is_the_slope_of_the_place():
    path = roll(2.2, Green(0.5, 0.05, 0.12, 0.4), heading=-0.1)
    times = np.linspace(0.02, float(path.time_s[0, -1]) - 0.1, 200)
    step = 1e-4
    rate = (path.at(times[None] + step)[0, :, :2] - path.at(times[None] - step)[0, :, :2]) / (2 * step)
    np.testing.assert_allclose(path.at(times[None])[0, :, 2:], rate, atol=0.02)


def test_many_balls_at_once_are_each_its_own():
    starts = np.array([[0.0, 0.0], [1.0, -2.0], [0.3, 0.3]])
    headings, speeds = np.array([0.1, 1.2, -2.0]), np.array([1.0, 2.0, 3.0])
    brakes, mus = np.array([0.5, 0.6, 0.7]), np.array([0.3, 0.4, 0.5])
    along = np.array([0.0, 0.1, -0.05])
    times = np.linspace(0, 5, 30)
    green = Green(brakes, along, 0.02, mus)
    together = paths(starts, headings, speeds, green).at(np.tile(times, (3, 1)))
    for i in range(3):
        own = Green(brakes[i], along[i], 0.02, mus[i])
        alone = paths(starts[i : i + 1], headings[i], speeds[i], own).at(times[None])[0]
        np.testing.assert_allclose(together[i], alone, atol=1e-12)
