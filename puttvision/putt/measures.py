"""The figures of a putt from its fitted path and the places of ball, gate and hole.

Many variations at once: the first row of every array is the best estimate, the others are that
estimate moved by one standard deviation of one thing that is not known exactly. The figures' spread
over the rows is their standard uncertainty (GUM, JCGM 100:2008, 5.1.2, with finite differences for
the sensitivity coefficients).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.physics import HOLE_RADIUS_M
from puttvision.putt.fit import green_of
from puttvision.putt.motion import Paths, paths

Floats = NDArray[np.float64]

LAUNCH_STRETCH_M = 0.20
"""Launch speed is the mean speed over this first stretch."""
_READ_OFF = 500


@dataclass(frozen=True, slots=True)
class Variations:
    """B rows of everything the figures hang on; lengths in metres on the plane."""

    lie_m: Floats
    """Shape (B, 2)."""
    hole_m: Floats
    gate_m: Floats | None
    """Shape (B, 2, 2): left and right post."""
    first: Floats
    """Shape (B, 4): side, heading, speed, start time."""
    first_green: Floats
    """Shape (B, 4)."""
    later: Floats | None
    """Shape (B, 4): x, y, heading, speed after a knock at the gate."""
    later_green: Floats
    rest_m: Floats | None


@dataclass(frozen=True, slots=True)
class Readings:
    """Figures, each of shape (B,); NaN where the path does not come that far."""

    start_s: Floats
    hole_distance_m: Floats
    to_hole_deg: Floats
    to_gate_deg: Floats
    launch_m_s: Floats
    gate_offset_m: Floats
    hole_offset_m: Floats
    speed_at_hole_m_s: Floats
    roll_out_m: Floats
    """Where the path over a covered hole ends, along the line, less the hole's distance."""
    rest_along_m: Floats
    rest_right_m: Floats
    gate_distance_m: Floats
    gate_width_m: Floats
    """Between the posts' feet, centre to centre."""
    gate_square_deg: Floats


def read_off(v: Variations, *, through: bool) -> Readings:
    """All figures of one putt. ``through``: whether the ball passed the gate's line."""
    n = len(v.lie_m)
    nothing = np.full(n, np.nan)
    line = v.hole_m - v.lie_m
    length = np.hypot(line[:, 0], line[:, 1])
    along = line / length[:, None]
    right = np.stack([along[:, 1], -along[:, 0]], axis=1)
    heading = v.first[:, 1]
    side = np.stack([-np.sin(heading), np.cos(heading)], axis=1) * v.first[:, :1]
    start = v.lie_m + side
    first = paths(start, heading, v.first[:, 2], green_of(v.first_green))
    first_states = _states(first)
    last_states = first_states
    if v.later is not None:
        later = paths(v.later[:, :2], v.later[:, 2], v.later[:, 3], green_of(v.later_green), skids=False)
        last_states = _states(later)
    offset, speed = _at_hole(last_states, v.hole_m)
    end = last_states[:, -1, :2] - v.lie_m
    rest = v.rest_m - v.lie_m if v.rest_m is not None else None
    gate_offset = gate_distance = gate_width = square = to_gate = nothing
    if v.gate_m is not None:
        centre = v.gate_m.mean(axis=1)
        posts = v.gate_m[:, 1] - v.gate_m[:, 0]
        gate_width = np.hypot(posts[:, 0], posts[:, 1])
        across = posts / gate_width[:, None]
        to_centre = centre - v.lie_m
        gate_distance = np.hypot(to_centre[:, 0], to_centre[:, 1])
        to_gate = _right_of(heading, np.arctan2(to_centre[:, 1], to_centre[:, 0]))
        normal = np.arctan2(across[:, 0], -across[:, 1])
        square = _right_of(normal, np.arctan2(along[:, 1], along[:, 0]))
        if through:
            crossing_states = _before_too(last_states) if v.later is not None else first_states
            gate_offset = _crossing(crossing_states, centre, across)
    return Readings(
        start_s=v.first[:, 3],
        hole_distance_m=length,
        to_hole_deg=_right_of(heading, np.arctan2(along[:, 1], along[:, 0])),
        to_gate_deg=to_gate,
        launch_m_s=_launch(first_states, _times(first)),
        gate_offset_m=gate_offset,
        hole_offset_m=offset,
        speed_at_hole_m_s=speed,
        roll_out_m=np.sum(end * along, axis=1) - length,
        rest_along_m=nothing if rest is None else np.sum(rest * along, axis=1),
        rest_right_m=nothing if rest is None else np.sum(rest * right, axis=1),
        gate_distance_m=gate_distance,
        gate_width_m=gate_width,
        gate_square_deg=square,
    )


def _right_of(heading: Floats, line: Floats) -> Floats:
    """Degrees by which a heading points to the right of a line."""
    return np.asarray(-np.degrees((heading - line + np.pi) % (2 * np.pi) - np.pi))


def _times(path: Paths) -> Floats:
    return np.linspace(0.0, 1.0, _READ_OFF) ** 1.5 * path.time_s[:, -1:]


def _states(path: Paths) -> Floats:
    return path.at(_times(path))


def _before_too(states: Floats) -> Floats:
    """The path with a straight bit put before it: a knock lies just before the gate's line."""
    back = states[:, :1].copy()
    back[..., :2] -= (
        states[:, :1, 2:] / np.maximum(np.hypot(states[:, :1, 2], states[:, :1, 3])[..., None], 1e-6) * 0.1
    )
    return np.concatenate([back, states], axis=1)


def _launch(states: Floats, time_s: Floats) -> Floats:
    steps = np.hypot(*np.moveaxis(np.diff(states[..., :2], axis=1), -1, 0))
    travelled = np.concatenate([np.zeros((len(states), 1)), np.cumsum(steps, axis=1)], axis=1)
    out = np.full(len(states), np.nan)
    for i, (s, t) in enumerate(zip(travelled, time_s, strict=True)):
        if s[-1] > LAUNCH_STRETCH_M:
            out[i] = LAUNCH_STRETCH_M / np.interp(LAUNCH_STRETCH_M, s, t)
    return out


def _at_hole(states: Floats, hole_m: Floats) -> tuple[Floats, Floats]:
    """Signed offset at the closest approach, right positive, and the speed at the hole."""
    rows = np.arange(len(states))
    away = states[..., :2] - hole_m[:, None]
    distance = np.hypot(away[..., 0], away[..., 1])
    nearest = np.argmin(distance, axis=1)
    velocity = states[rows, nearest, 2:]
    # at the very end the direction is that of the last motion
    moving = np.maximum(np.argmax(np.hypot(states[..., 2], states[..., 3]) < 0.02, axis=1) - 1, 0)
    ended = np.hypot(velocity[:, 0], velocity[:, 1]) < 0.02
    velocity = np.where(ended[:, None], states[rows, moving, 2:], velocity)
    speed = np.hypot(velocity[:, 0], velocity[:, 1])
    unit = velocity / np.maximum(speed, 1e-9)[:, None]
    at = away[rows, nearest]
    offset = at[:, 0] * unit[:, 1] - at[:, 1] * unit[:, 0]
    short = ended & (np.sum(-at * unit, axis=1) > 0.02)
    at_entry = _entry_speed(states, distance, nearest)
    return np.where(short, np.nan, offset), np.where(short, np.nan, at_entry)


def _entry_speed(states: Floats, distance: Floats, nearest: NDArray[np.intp]) -> Floats:
    """Speed where the path first comes within the hole's radius, between two points of it; where it never
    does, at the closest approach."""
    rows = np.arange(len(states))
    inside = distance < HOLE_RADIUS_M
    entry = np.where(inside.any(axis=1), np.argmax(inside, axis=1), nearest)
    before = np.maximum(entry - 1, 0)
    far, near = distance[rows, before], distance[rows, entry]
    enters = inside[rows, entry] & (far > near) & (before < entry)
    back = np.where(enters, (HOLE_RADIUS_M - near) / np.where(enters, far - near, 1.0), 0.0)
    squared = np.sum(states[..., 2:] ** 2, axis=-1)  # falls evenly with the way a ball rolls
    return np.asarray(np.sqrt(squared[rows, entry] + back * (squared[rows, before] - squared[rows, entry])))


def _crossing(states: Floats, centre_m: Floats, across: Floats) -> Floats:
    """Signed offset from the gate's centre, along the gate's line, where the path crosses that line."""
    normal = np.stack([-across[:, 1], across[:, 0]], axis=1)
    away = states[..., :2] - centre_m[:, None]
    ahead = np.sum(away * normal[:, None], axis=2)
    lateral = np.sum(away * across[:, None], axis=2)
    out = np.full(len(states), np.nan)
    for i in range(len(states)):
        beyond = np.nonzero((ahead[i, 1:] > 0) & (ahead[i, :-1] <= 0))[0]
        if len(beyond):
            k = int(beyond[0])
            share = -ahead[i, k] / (ahead[i, k + 1] - ahead[i, k])
            out[i] = lateral[i, k] + share * (lateral[i, k + 1] - lateral[i, k])
    return out
