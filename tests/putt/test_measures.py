"""Figures read off known paths, against closed forms; signs and empty values as the format fixes them.

Ball at the origin, hole 3.048 m (10 ft) along y, so right is x. Level green unless a slope is named.
"""

import numpy as np
import pytest

from puttvision.physics import GRAVITY_M_S2, deceleration_from_stimp, skid_length
from puttvision.putt.measures import Variations, read_off

TEN_FEET_M = 3.048
BRAKE, MU = deceleration_from_stimp(10), 0.4


def read(speed=2.4, right_deg=0.0, *, side=0.0, gate=None, later=None, rest=None, through=True,
         green=(BRAKE, 0.0, 0.0, MU), start_s=4.0):  # fmt: skip
    """The figures of one path, one row."""
    heading = np.pi / 2 - np.radians(right_deg)
    v = Variations(
        lie_m=np.zeros((1, 2)),
        hole_m=np.array([[0.0, TEN_FEET_M]]),
        gate_m=None if gate is None else np.array([gate]),
        first=np.array([[side, heading, speed, start_s]]),
        first_green=np.array([green]),
        later=None if later is None else np.array([later]),
        later_green=np.array([green]),
        rest_m=None if rest is None else np.array([rest]),
    )
    return read_off(v, through=through)


def rolled_m(speed):
    """Length of a level putt: skid, then 5/7 of the speed against the green (kinematics)."""
    return skid_length(speed, MU) + (5 / 7 * speed) ** 2 / (2 * BRAKE)


def speed_after(launch, distance_m):
    """Speed of a level putt after a distance that lies beyond the skid."""
    return np.sqrt((5 / 7 * launch) ** 2 - 2 * BRAKE * (distance_m - skid_length(launch, MU)))


def gate_posts(distance_m=0.45, width_m=0.08, square_deg=0.0, right_m=0.0):
    """Left and right foot; the gate faces ``square_deg`` to the right of the line."""
    turn = np.radians(square_deg)
    across = np.array([np.cos(turn), -np.sin(turn)])
    centre = np.array([right_m, distance_m])
    return np.array([centre - width_m / 2 * across, centre + width_m / 2 * across])


@pytest.mark.parametrize("right_deg", [-2.0, -0.3, 0.0, 1.0, 2.5])
def test_start_direction_and_hole_offset_are_positive_to_the_right(right_deg):
    # a straight path passes a point L away at L sin(angle)
    got = read(right_deg=right_deg)
    assert got.to_hole_deg[0] == pytest.approx(right_deg, abs=1e-9)
    assert got.hole_offset_m[0] == pytest.approx(TEN_FEET_M * np.sin(np.radians(right_deg)), abs=2e-5)
    assert got.hole_distance_m[0] == pytest.approx(TEN_FEET_M)
    assert got.start_s[0] == 4.0


@pytest.mark.parametrize("speed", [1.2, 2.0, 3.0])
def test_launch_speed_is_the_mean_over_the_first_fifth_of_a_metre(speed):
    # while it slides: s = v t - mu g t^2 / 2; the skids of these putts are 0.09, 0.25 and 0.56 m long
    slide = MU * GRAVITY_M_S2
    skid_m, skid_s = skid_length(speed, MU), 2 * speed / (7 * slide)
    if skid_m > 0.2:
        t = (speed - np.sqrt(speed**2 - 2 * slide * 0.2)) / slide
    else:
        v = 5 / 7 * speed
        t = skid_s + (v - np.sqrt(v**2 - 2 * BRAKE * (0.2 - skid_m))) / BRAKE
    assert read(speed).launch_m_s[0] == pytest.approx(0.2 / t, rel=3e-4)


def test_a_ball_that_goes_less_far_has_no_launch_speed():
    assert rolled_m(0.4) < 0.2
    assert np.isnan(read(0.4).launch_m_s[0])


@pytest.mark.parametrize("speed", [2.45, 2.6, 3.0])
def test_speed_at_the_hole_is_that_on_entering_it(speed):
    # dead centre: where the ball's centre comes within 54 mm of the hole's, by v^2 = v0^2 - 2 a s
    expected = speed_after(speed, TEN_FEET_M - 0.054)
    assert read(speed).speed_at_hole_m_s[0] == pytest.approx(expected, abs=2e-4)


def test_speed_at_the_hole_changes_smoothly_with_the_launch():
    # no jumps by whole steps of the path's grid: the differences of the closed form, to a hundredth of them
    speeds = np.linspace(2.5, 2.52, 21)
    got = np.diff([read(speed).speed_at_hole_m_s[0] for speed in speeds])
    due = np.diff([speed_after(speed, TEN_FEET_M - 0.054) for speed in speeds])
    assert got == pytest.approx(due, rel=0.02)


def test_speed_beside_the_hole_is_that_at_the_closest_approach():
    # 3 degrees: passes at 160 mm and never comes within 54
    got = read(2.6, 3.0)
    nearest_m = TEN_FEET_M * np.cos(np.radians(3.0))
    assert got.speed_at_hole_m_s[0] == pytest.approx(speed_after(2.6, nearest_m), abs=0.004)


@pytest.mark.parametrize("speed", [1.5, 2.45, 3.0])
def test_run_out_is_the_way_past_a_covered_hole(speed):
    # negative when short; along the line, so a path off to the side counts with its cosine
    assert read(speed).roll_out_m[0] == pytest.approx(rolled_m(speed) - TEN_FEET_M, abs=3e-4)
    aside = read(speed, 5.0).roll_out_m[0]
    assert aside == pytest.approx(rolled_m(speed) * np.cos(np.radians(5)) - TEN_FEET_M, abs=3e-4)


def test_a_ball_that_stops_before_the_hole_has_no_figures_there():
    got = read(1.8, 1.0)
    assert rolled_m(1.8) < TEN_FEET_M - 0.5
    assert np.isnan(got.hole_offset_m[0])
    assert np.isnan(got.speed_at_hole_m_s[0])
    assert got.roll_out_m[0] < -0.5


def test_a_breaking_putt_keeps_its_start_direction():
    # falls to the right: aimed left, comes back; the start is the tangent, the offset is where it passes
    got = read(2.4, -2.0, green=(BRAKE, 0.08, 0.0, MU))
    assert got.to_hole_deg[0] == pytest.approx(-2.0, abs=1e-9)
    assert got.hole_offset_m[0] > read(2.4, -2.0).hole_offset_m[0] + 0.1


@pytest.mark.parametrize("square_deg", [-12.0, -3.0, 0.0, 7.5])
def test_gate_square_is_positive_where_it_faces_right(square_deg):
    got = read(gate=gate_posts(square_deg=square_deg))
    assert got.gate_square_deg[0] == pytest.approx(square_deg, abs=1e-9)
    assert got.gate_distance_m[0] == pytest.approx(0.45)
    assert got.gate_width_m[0] == pytest.approx(0.08)


def test_direction_to_the_gate_is_against_the_line_to_its_middle():
    # a gate 20 mm to the right at 0.45 m lies 2.545 degrees right of the line to the hole
    to_gate_deg = np.degrees(np.arctan2(0.020, 0.45))
    got = read(right_deg=3.0, gate=gate_posts(right_m=0.020))
    assert got.to_hole_deg[0] == pytest.approx(3.0, abs=1e-9)
    assert got.to_gate_deg[0] == pytest.approx(3.0 - to_gate_deg, abs=1e-9)
    assert got.gate_distance_m[0] == pytest.approx(np.hypot(0.020, 0.45))


@pytest.mark.parametrize("right_deg", [-2.0, 0.5, 2.0])
@pytest.mark.parametrize("square_deg", [0.0, 20.0, -20.0])
def test_gate_offset_runs_along_the_gates_own_line(right_deg, square_deg):
    # where the straight ray of the ball meets the turned line of the gate (law of sines)
    got = read(2.4, right_deg, gate=gate_posts(square_deg=square_deg))
    theta, phi = np.radians(right_deg), np.radians(square_deg)
    expected = 0.45 * np.sin(theta) / np.cos(theta - phi)
    assert got.gate_offset_m[0] == pytest.approx(expected, abs=5e-5)


def test_without_passage_or_gate_there_is_no_offset():
    assert np.isnan(read(gate=gate_posts(), through=False).gate_offset_m[0])
    bare = read()
    for figure in (bare.gate_offset_m, bare.to_gate_deg, bare.gate_distance_m, bare.gate_square_deg):
        assert np.isnan(figure[0])


def test_after_a_knock_the_later_piece_goes_to_the_hole():
    # the start stays that before the post; the rest is measured on the path that follows
    later = (0.02, 0.46, np.pi / 2 - np.radians(-1.0), 1.9)
    got = read(2.4, 2.5, gate=gate_posts(), later=later)
    assert got.to_hole_deg[0] == pytest.approx(2.5, abs=1e-9)
    expected = 0.02 - (TEN_FEET_M - 0.46) * np.tan(np.radians(1.0))
    assert got.hole_offset_m[0] == pytest.approx(expected * np.cos(np.radians(1.0)), abs=1e-4)
    assert got.launch_m_s[0] == pytest.approx(read(2.4).launch_m_s[0])
    assert got.gate_offset_m[0] == pytest.approx(0.02, abs=0.001)


def test_rest_is_in_the_frame_of_the_putt():
    got = read(rest=(-0.12, 3.5))
    assert got.rest_along_m[0] == pytest.approx(3.5)
    assert got.rest_right_m[0] == pytest.approx(-0.12)
    assert np.isnan(read().rest_along_m[0])


def test_the_frame_of_the_putt_turns_with_its_line():
    # the same putt in another corner of the green: all figures alike
    turn = np.radians(130)
    c, s = np.cos(turn), np.sin(turn)

    def turned(points):
        return np.asarray(points) @ np.array([[c, s], [-s, c]]) + (0.7, -2.0)

    here = read(2.4, 1.5, gate=gate_posts(square_deg=5), rest=(0.1, 3.4))
    there = read_off(
        Variations(
            lie_m=turned([[0.0, 0.0]]), hole_m=turned([[0.0, TEN_FEET_M]]),
            gate_m=turned(gate_posts(square_deg=5))[None],
            first=np.array([[0.0, np.pi / 2 - np.radians(1.5) + turn, 2.4, 4.0]]),
            first_green=np.array([[BRAKE, 0.0, 0.0, MU]]), later=None,
            later_green=np.array([[BRAKE, 0.0, 0.0, MU]]), rest_m=turned([[0.1, 3.4]]),
        ),
        through=True,
    )  # fmt: skip
    for name in here.__slots__:
        assert getattr(there, name)[0] == pytest.approx(getattr(here, name)[0], abs=1e-9, nan_ok=True), name


def test_rows_are_each_their_own():
    # the rows that carry the uncertainty do not touch one another
    speeds, rights = [2.0, 2.4, 2.8], [-1.0, 0.0, 2.0]
    headings = np.pi / 2 - np.radians(rights)
    greens = np.tile([BRAKE, 0.0, 0.0, MU], (3, 1))
    v = Variations(
        lie_m=np.zeros((3, 2)),
        hole_m=np.tile([0.0, TEN_FEET_M], (3, 1)),
        gate_m=np.tile(gate_posts(), (3, 1, 1)),
        first=np.column_stack([np.zeros(3), headings, speeds, np.ones(3)]),
        first_green=greens,
        later=None,
        later_green=greens,
        rest_m=None,
    )
    together = read_off(v, through=True)
    for i, (speed, right) in enumerate(zip(speeds, rights, strict=True)):
        alone = read(speed, right, gate=gate_posts(), start_s=1.0)
        for name in ("to_hole_deg", "launch_m_s", "gate_offset_m", "hole_offset_m", "speed_at_hole_m_s"):
            a, b = getattr(together, name)[i], getattr(alone, name)[0]
            assert a == pytest.approx(b, abs=1e-9, nan_ok=True)
