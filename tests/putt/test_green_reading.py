"""The green read from rolled balls, on greens of known speed and fall.

Balls are integrated by scipy's ``solve_ivp`` as rolling spheres under a constant deceleration and the slope's
5/7 g sin(phi) (Penner 2002, Eq. 36), apart from the library's own motion; a struck ball slides first.
"""

from functools import cache

import numpy as np
import pytest
from make_rolls import ALONG, CAMERA, HOLE_M, LENGTH_M, LIE_M, READOUT_S, RIGHT, at, lie_of
from scipy.integrate import solve_ivp

from puttvision.ball.sightings import Roll, Sighting
from puttvision.errors import GreenError
from puttvision.green.hole import Hole
from puttvision.green.pose import Pose
from puttvision.green.site import Site
from puttvision.green.still import StillPicture
from puttvision.physics import BALL_RADIUS_M
from puttvision.putt.assemble import Readout
from puttvision.putt.green_reading import read_green

G = 9.80665
STRUCK_S = 2.0
PUSH_M, PUSH_S = 0.25, 0.35


def brake_of(stimp_ft):
    return 1.83**2 / (2 * stimp_ft * 0.3048)


def pull(along_pct, right_pct):
    """Acceleration of a rolling sphere on that fall: 5/7 g times the fall."""
    return 5 / 7 * G / 100 * (along_pct * ALONG + right_pct * RIGHT)


def rolled(start, heading, speed, brake, slope):
    """Dense path of a ball that rolls: (times, places); it stops and stays."""

    def rate(_, y):
        v = np.hypot(*y[2:])
        return np.concatenate([y[2:], -brake * y[2:] / max(v, 1e-9) + slope])

    def stops(_, y):
        return np.hypot(*y[2:]) - 2e-3

    stops.terminal = True
    first = [*start, speed * np.cos(heading), speed * np.sin(heading)]
    done = solve_ivp(rate, (0, 30), first, events=stops, rtol=1e-9, atol=1e-11, dense_output=True)
    times = np.linspace(0, done.t[-1], 4000)
    return times, done.sol(times)[:2].T


def slid(start, heading, speed, slope, mu=0.4):
    """End of a skid without spin on the (nearly) level: place, speed and time (textbook mechanics)."""
    t = 2 * speed / (7 * mu * G)
    way = np.array([np.cos(heading), np.sin(heading)])
    place = start + way * 12 * speed**2 / (49 * mu * G) + slope * t * t / 2
    velocity = way * 5 / 7 * speed + slope * t
    return place, velocity, t


def filmed(start, heading, speed, stimp_ft, fall, *, by_hand, seed, begins_s=0.0):
    """A roll as the follower gives it."""
    slope = pull(*fall)
    rng = np.random.default_rng(seed)
    way = np.array([np.cos(heading), np.sin(heading)])
    if by_hand:  # pushed evenly over a quarter of a metre, let go rolling
        t0 = np.linspace(0, PUSH_S, 200)
        speed = 2 * PUSH_M / PUSH_S
        p0 = start + way * (PUSH_M * (t0 / PUSH_S) ** 2)[:, None]
        go, velocity, t_go = p0[-1], way * speed, PUSH_S
    else:
        go, velocity, t_go = slid(start, heading, speed, slope)
        t0 = np.linspace(0, t_go, 200)
        p0 = start + way * (speed * t0 - 0.2 * G * t0**2)[:, None] + slope * t0[:, None] ** 2 / 2
    t1, p1 = rolled(
        go, np.arctan2(velocity[1], velocity[0]), float(np.hypot(*velocity)), brake_of(stimp_ft), slope
    )
    times = STRUCK_S + np.concatenate([t0[:-1], t_go + t1])
    places = np.concatenate([p0[:-1], p1])

    def where(t):
        return np.column_stack([np.interp(t, times, places[:, i]) for i in (0, 1)])

    frames = np.arange(0, times[-1] + 0.3, 1 / 60)
    instants = frames
    for _ in range(4):
        px = CAMERA.project(np.column_stack([where(instants), np.full(len(frames), BALL_RADIUS_M)]))
        instants = frames + READOUT_S * px[:, 1] / CAMERA.height
    over = np.hypot(*(where(instants) - HOLE_M).T) < 0.03
    until = int(np.argmax(over)) if over.any() else len(frames)
    moving = (np.hypot(*(where(instants) - start).T) > 0.004) & (np.arange(len(frames)) < until)
    px = px + rng.normal(0, 0.05, px.shape)
    sightings = tuple(
        Sighting(begins_s + float(t), (float(x), float(y)), (0.05**2, 0.0, 0.05**2), 1.0, 0.6)
        for t, (x, y) in zip(frames[moving], px[moving], strict=True)
    )
    rests = not over.any()
    return Roll(
        start=lie_of(start, begins_s, begins_s + 1.9), sightings=sightings, end="rest" if rests else "lost",
        rest=lie_of(places[-1]) if rests else None, hole_covered=(),
    )  # fmt: skip


def site(u=1e-5):
    bare = np.full((CAMERA.height, CAMERA.width), 100, np.uint8)
    half = np.full((CAMERA.height // 2, CAMERA.width // 2), 128, np.uint8)
    px = CAMERA.project([*HOLE_M, 0.0])
    scale = np.array([1, 1000, 1000, 1, 1, 1, 1, 1.0]) * u
    return Site(
        still=StillPicture(bare, half, half, 9), sheets=(), hole=Hole(
            at_px=(float(px[0]), float(px[1])), cov_px2=np.eye(2) * 0.1**2, radius_ratio=1.0,
            u_radius_ratio=0.01, rim_seen=0.9,
        ),
        pose=Pose(camera=CAMERA, cov=np.diag(scale**2), sheets={}, rms_px=0.1), gamma=2.5, warnings=(),
    )  # fmt: skip


def heading(a, b):
    return float(np.arctan2(*(np.asarray(b) - np.asarray(a))[::-1]))


@cache
def balls(stimp_ft, fall, *, n_towards=3, n_back=3, by_hand=False):
    """Balls from the lie towards the hole, and from short of the hole back."""
    out = []
    for k in range(n_towards):
        turn = np.radians((-2.5, 3.0, 0.5)[k % 3])
        out.append(
            filmed(LIE_M, heading(LIE_M, HOLE_M) + turn, 2.1 + 0.1 * k, stimp_ft, fall, by_hand=by_hand,
                   seed=k, begins_s=20.0 * k)
        )  # fmt: skip
    for k in range(n_back):
        start = at(LENGTH_M - 0.3, 0.15)
        turn = np.radians((2.0, -2.0, 0.0)[k % 3])
        out.append(
            filmed(start, heading(start, LIE_M) + turn, 2.0 + 0.1 * k, stimp_ft, fall, by_hand=by_hand,
                   seed=10 + k, begins_s=100 + 20.0 * k)
        )  # fmt: skip
    return out


def read(rolls, **more):
    return read_green(list(rolls), site(), Readout(seconds=READOUT_S, u_seconds=0.002), no_gate=True, **more)


@pytest.mark.parametrize("by_hand", [False, True], ids=["struck", "pushed by hand"])
@pytest.mark.parametrize(
    ("stimp_ft", "fall"),
    [
        pytest.param(9.4, (0.0, 0.0), id="level"),
        pytest.param(9.4, (0.5, -1.3), id="falls to the left"),
        pytest.param(11.0, (-1.0, 0.8), id="uphill, falls to the right"),
    ],
)
def test_balls_both_ways_give_speed_and_fall(stimp_ft, fall, by_hand):
    got = read(balls(stimp_ft, fall, by_hand=by_hand))
    assert (got.n_towards, got.n_back, got.n_left_out) == (3, 3, 0)
    assert got.stimp_ft.value == pytest.approx(stimp_ft, abs=0.15)
    assert abs(got.stimp_ft.value - stimp_ft) < got.stimp_ft.u95 < 0.5
    for figure, true in ((got.fall_along_pct, fall[0]), (got.fall_right_pct, fall[1])):
        assert figure.value == pytest.approx(true, abs=0.08)
        assert figure.u95 < 0.3
    # as it plays: the reading down the line, v0^2 / (2 (a - 5/7 g sin phi)) (Penner 2002, Eq. 36)
    along = brake_of(stimp_ft) - 5 / 7 * G * fall[0] / 100
    assert got.plays_ft.value == pytest.approx(1.83**2 / (2 * along) / 0.3048, rel=0.02)


def test_the_published_correction_agrees():
    # Brede 1990, 2 Su Sd / (Su + Sd): 9.4 ft on 1 % is 8.4 up and 10.7 down, mean 9.55
    got = read(balls(9.4, (1.0, 0.0)))
    assert got.two_way_ft == pytest.approx(9.4, abs=0.15)
    assert got.two_way_ft == pytest.approx(got.stimp_ft.value, abs=0.1)


def test_balls_one_way_only_know_how_it_plays_but_not_why():
    got = read(balls(9.4, (1.0, 0.0), n_back=0))
    along = brake_of(9.4) - 5 / 7 * G * 0.01
    assert got.plays_ft.value == pytest.approx(1.83**2 / (2 * along) / 0.3048, rel=0.02)
    assert got.plays_ft.u95 < 0.6
    assert got.two_way_ft is None
    assert abs(got.stimp_ft.value - 9.4) < got.stimp_ft.u95
    assert got.stimp_ft.u95 > 1.0
    assert abs(got.fall_along_pct.value - 1.0) < got.fall_along_pct.u95


def passing_m(aim_m, past_m, stimp_ft, fall):
    """By integration: where a ball aimed ``aim_m`` right of the hole passes it at that pace."""
    turn = np.arctan(aim_m / LENGTH_M)
    way = heading(LIE_M, HOLE_M) - turn
    low, high = 1.0, 5.0
    for _ in range(40):  # the pace that rolls past_m beyond
        speed = (low + high) / 2
        place, velocity, _ = slid(LIE_M, way, speed, pull(*fall))
        _, places = rolled(place, np.arctan2(velocity[1], velocity[0]), float(np.hypot(*velocity)),
                           brake_of(stimp_ft), pull(*fall))  # fmt: skip
        ahead = (places - LIE_M) @ ALONG
        low, high = (speed, high) if ahead[-1] < LENGTH_M + past_m else (low, speed)
    return float(np.interp(LENGTH_M, ahead, (places - LIE_M) @ RIGHT))


@pytest.mark.parametrize(("past_m", "fall"), [(0.3, (0.5, -1.3)), (0.9, (0.5, -1.3)), (0.3, (-1.0, 0.8))])
def test_break_and_aim(past_m, fall):
    got = read(balls(9.4, fall), past_m=past_m)
    true = 100 * passing_m(0.0, past_m, 9.4, fall)
    assert abs(got.break_cm.value - true) < max(got.break_cm.u95, 0.5)
    assert got.break_cm.value == pytest.approx(true, rel=0.1)
    # aimed where it says, the ball meets the hole's middle
    assert abs(passing_m(got.aim_cm.value / 100, past_m, 9.4, fall)) < 0.02
    assert np.sign(got.aim_cm.value) == -np.sign(fall[1])
    assert got.straight is False


def test_more_pace_breaks_less():
    rolls = balls(9.4, (0.5, -1.3))
    assert abs(read(rolls, past_m=0.9).break_cm.value) < abs(read(rolls, past_m=0.2).break_cm.value) - 1


def test_a_level_line_is_straight_enough_for_a_gate():
    got = read(balls(9.4, (0.0, 0.0)))
    assert got.straight is True
    assert abs(got.break_cm.value) < 1.5
    assert got.round_m.value is None


def test_the_straight_line_lies_round_the_hole():
    # falls 1 % along and 1 % to the right of the line: straight down the fall is 45 degrees further to the
    # right, and the player who looks that way stands to the left: an eighth of the way round, 1.9 m
    fall = (1.0, 1.0)
    got = read(balls(9.4, fall))
    assert got.round_m.value == pytest.approx(-np.radians(45) * LENGTH_M, abs=0.3)
    # uphill and falling left: the nearer straight line is up the fall, to the left as well
    assert read(balls(9.4, (-1.0, -1.0))).round_m.value == pytest.approx(-np.radians(45) * LENGTH_M, abs=0.3)


def test_a_ball_that_was_touched_is_left_out():
    rolls = list(balls(9.4, (0.0, 0.0)))
    other = filmed(LIE_M, heading(LIE_M, HOLE_M), 2.2, 6.0, (0.0, 9.0), by_hand=False, seed=5, begins_s=300.0)
    got = read([*rolls, other])
    assert got.n_left_out == 1
    assert got.stimp_ft.value == pytest.approx(9.4, abs=0.15)


def test_without_a_roll_towards_the_hole():
    with pytest.raises(GreenError, match="roll three along the line") as caught:
        read(balls(9.4, (0.0, 0.0), n_towards=0))
    assert "\n" not in str(caught.value)
    with pytest.raises(GreenError, match="roll three along the line"):
        read([])
