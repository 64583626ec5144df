"""Rolls as the follower gives them, made from known paths: for tests of what comes after.

The ball lies at ``LIE_M``, the hole is at ``HOLE_M``; ``along`` and ``right`` are as the format of putts.json
has them. A sighting is the projection of the ball's centre at the instant at which its own picture row was
exposed.
"""

import numpy as np

from puttvision.ball.sightings import Lie, Roll, Sighting
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M
from puttvision.putt.gate import POST_DIAMETER_M, GateLine
from puttvision.putt.motion import Green, paths

CAMERA = Camera(
    width=1920, height=1080, f_px=1400.0, cx_px=959.5, cy_px=539.5, height_m=1.4, tilt_rad=0.45, roll_rad=0.0
)
LIE_M = np.array([-1.1, 2.9])
HOLE_M = np.array([1.3, 3.2])
LENGTH_M = float(np.hypot(*(HOLE_M - LIE_M)))
ALONG = (HOLE_M - LIE_M) / LENGTH_M
RIGHT = np.array([ALONG[1], -ALONG[0]])
LINE_RAD = float(np.arctan2(ALONG[1], ALONG[0]))
READOUT_S = 0.008
STRUCK_S = 2.0
GREEN = Green(0.58, 0.0, 0.0, 0.4)


def at(along_m, right_m=0.0):
    """A place on the plane, given in the putt's own frame."""
    return LIE_M + along_m * ALONG + right_m * RIGHT


def gate(distance_m=0.45, width_m=0.075, square_deg=0.0, right_m=0.0):
    """A ball gate; ``width_m`` between the posts' facing sides, ``square_deg`` positive facing right."""
    turn = np.radians(square_deg)
    normal = np.cos(turn) * ALONG + np.sin(turn) * RIGHT
    across = np.array([normal[1], -normal[0]])
    half = (width_m + POST_DIAMETER_M) / 2
    centre = at(distance_m, right_m)
    return GateLine(centre - half * across, centre + half * across)


class Path:
    """Where a ball is at any time: at rest, then along pieces of (start time, paths)."""

    def __init__(self, *pieces):
        self.pieces = pieces

    def __call__(self, time_s):
        """Place and velocity: (4,) for one time, (n, 4) for many."""
        times = np.atleast_1d(np.asarray(time_s, float))
        states = np.tile([*LIE_M, 0.0, 0.0], (len(times), 1))
        for since, path in self.pieces:
            on = times >= since
            states[on] = path.at((times[on] - since)[None])[0]
        return states if np.ndim(time_s) else states[0]

    @property
    def rest_m(self):
        return self.pieces[-1][1].state[0, -1, :2]

    @property
    def stops_s(self):
        return self.pieces[-1][0] + float(self.pieces[-1][1].time_s[0, -1])


def struck(speed, right_deg=0.0, green=GREEN):
    """A putt that starts ``right_deg`` to the right of the line to the hole."""
    return Path((STRUCK_S, paths(LIE_M[None], LINE_RAD - np.radians(right_deg), speed, green)))


def knocked(path, gate_line, turn_right_deg, kept=0.8, before_m=0.0):
    """The same putt, turned where it comes within ``before_m`` of the gate's line (a post in its way)."""
    times = np.arange(STRUCK_S, STRUCK_S + 5, 1e-3)
    there = np.nonzero((path(times)[:, :2] - gate_line.centre_m) @ gate_line.normal >= -before_m)[0]
    assert len(there), "it never gets to the gate"
    t = times[there[0]]
    x, y, vx, vy = path(t)
    heading = np.arctan2(vy, vx) - np.radians(turn_right_deg)
    on = paths(np.array([[x, y]]), heading, kept * np.hypot(vx, vy), GREEN, skids=False)
    return Path(*path.pieces, (t, on))


def lie_of(place_m, first_s=0.0, last_s=1.9):
    px = CAMERA.project([*place_m, BALL_RADIUS_M])
    return Lie(
        at_px=(float(px[0]), float(px[1])), cov_px2=(0.002, 0.0, 0.002), size_ratio=1.0, n_fits=8,
        first_s=first_s, last_s=last_s,
    )  # fmt: skip


def seen(path, *, until_s=None, end="rest", rest_m=None, covered=0.0, hidden=(), noise_px=0.05, seed=0,
         rate_hz=60.0, first_s=0.0):  # fmt: skip
    """A roll as followed from just after the stroke on.

    ``until_s``: when it is seen last; ``hidden``: (from, to) times at which it is not seen; ``covered``:
    share of the hole's surroundings that looks other than before.
    """
    rng = np.random.default_rng(seed)
    until_s = path.stops_s + 0.4 if until_s is None else until_s
    frames_s = np.arange(0.0, until_s, 1 / rate_hz)
    instants = frames_s
    for _ in range(4):  # the row that sees the ball, and when
        px = CAMERA.project(np.column_stack([path(instants)[:, :2], np.full(len(frames_s), BALL_RADIUS_M)]))
        instants = frames_s + READOUT_S * px[:, 1] / CAMERA.height
    moving = np.hypot(*(path(instants)[:, :2] - LIE_M).T) > 0.004
    px = px + rng.normal(0, noise_px, px.shape)
    hole = [(float(t), covered) for t in frames_s[moving]]
    sightings = [
        Sighting(float(t), (float(x), float(y)), (noise_px**2, 0.0, noise_px**2), 1.0, 0.6)
        for t, (x, y) in zip(frames_s[moving], px[moving], strict=True)
        if not any(a <= t < b for a, b in hidden)
    ]
    for k in range(1, 49):  # the follower goes on looking for a lost ball for a while
        if end == "lost":
            hole.append((float(until_s + k / rate_hz), covered))
    rest = None
    if end == "rest":
        rest = lie_of(path.rest_m if rest_m is None else rest_m, until_s - 0.3, until_s)
    return Roll(
        start=lie_of(LIE_M, first_s), sightings=tuple(sightings), end=end, rest=rest, hole_covered=tuple(hole)
    )


def arrives_s(path, within_m=0.054):
    """When the ball's centre first comes within ``within_m`` of the hole's; None where it never does."""
    times = np.arange(STRUCK_S, path.stops_s, 5e-4)
    there = np.nonzero(np.hypot(*(path(times)[:, :2] - HOLE_M).T) < within_m)[0]
    return float(times[there[0]]) if len(there) else None
