"""How a putted ball moves: skid, roll, slope, posts, rim and hole, in small time steps.

The ball is a rigid solid sphere. On the grass: Coulomb friction while it slips (launched without
spin it ends at 5/7 of its launch speed), then rolling resistance from the Stimpmeter reading and
(5/7) g sin of the slope (Penner 2002). Over the hole: free flight and impacts with rim, wall and bottom,
each with restitution and friction; whether the ball drops is a result, not a rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from puttvision.physics import BALL_RADIUS_M as R_BALL
from puttvision.physics import GRAVITY_M_S2 as G
from puttvision.physics import HOLE_RADIUS_M as R_HOLE
from puttvision.physics import SLIDING_FRICTION, deceleration_from_stimp, slope_acceleration
from sample_media.film.scene import Point

STEP_S = 1 / 4000
"""Step where things happen: while the ball skids, near posts, at the hole."""
ROLL_STEP_S = 1 / 1000
"""Step while it just rolls."""
RIM_BOUNCE = 0.12
"""Restitution at rim and wall; chosen so that balls drop up to about the speeds of Penner 2002."""
RIM_GRIP = 0.25
GROUND_BOUNCE = 0.2
POST_BOUNCE = 0.40
"""Restitution at a wooden tee stuck in turf; common sense, no source."""
BOTTOM_M = -0.125
"""Floor of the cup; the Rules ask for 101.6 mm or more."""

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What the ball meets. ``hole`` None is a covered hole."""

    stimp_ft: float = 9.5
    slope_along: float = 0.0
    slope_left: float = 0.0
    friction: float = SLIDING_FRICTION
    hole: Point | None = None
    posts: tuple[tuple[str, float, float, float], ...] = ()
    """(name, x, y, radius)"""

    def covered(self) -> Ground:
        """The same ground with a lid on the hole."""
        return replace(self, hole=None)


@dataclass(frozen=True, slots=True)
class Roll:
    """A whole path from the face to rest or the bottom of the cup, step by step."""

    t: Array
    xyz: Array
    """shape (n, 3), the ball's centre"""
    velocity: Array
    spin: Array
    """shape (n, 3), rad/s"""
    post_hits: tuple[tuple[float, str], ...]
    rim_met: bool
    holed_s: float | None
    """When the whole ball was below the surface."""
    at_rest: Array = field(repr=False)

    @property
    def holed(self) -> bool:
        return self.holed_s is not None

    def at(self, t: Array | float) -> Array:
        """Place of the centre at times from the face, shape (..., 3); held at both ends."""
        t = np.asarray(t, dtype=float)
        return np.stack([np.interp(t, self.t, self.xyz[:, i]) for i in range(3)], axis=-1)

    def spin_at(self, t: float) -> Array:
        """Spin at a time, rad/s; zero before and after."""
        if not 0 <= t <= self.t[-1]:
            return np.zeros(3)
        return np.array([np.interp(t, self.t, self.spin[:, i]) for i in range(3)])


def simulate(ground: Ground, start: Point, velocity: Point, limit_s: float = 30.0) -> Roll:
    """Roll a ball that leaves the face at ``start`` with ``velocity`` and no spin, until it rests."""
    ball = _Ball(ground, start, velocity)
    rows: list[tuple[float, ...]] = []
    now_s = 0.0
    while True:
        rows.append((now_s, *ball.p, *ball.v, *ball.w))
        if ball.resting() or now_s > limit_s:
            break
        now_s += ball.step(now_s)
    a = np.array(rows)
    return Roll(
        a[:, 0], a[:, 1:4], a[:, 4:7], a[:, 7:10], tuple(ball.hits), ball.rim_met, ball.holed_s, a[-1, 1:4]
    )


class _Ball:
    """State that a step carries on: centre, velocity, spin."""

    def __init__(self, ground: Ground, start: Point, velocity: Point) -> None:
        self.g = ground
        self.p = [start[0], start[1], R_BALL]
        self.v = [velocity[0], velocity[1], 0.0]
        self.w = [0.0, 0.0, 0.0]
        self.hits: list[tuple[float, str]] = []
        self.rim_met = False
        self.holed_s: float | None = None
        self.quiet = 0
        self.rolls = False
        self.roll_m_s2 = deceleration_from_stimp(ground.stimp_ft)
        self.pull = (
            G * math.sin(math.atan(ground.slope_along)),
            G * math.sin(math.atan(ground.slope_left)),
        )
        self.roll_pull = (slope_acceleration(ground.slope_along), slope_acceleration(ground.slope_left))

    def step(self, now_s: float) -> float:
        """Move on by one step; gives its length in seconds."""
        if self._near_hole():
            self._fly(now_s)
            return STEP_S
        dt = ROLL_STEP_S if self.rolls and not self._near_something() else STEP_S
        self._on_grass(dt)
        self._meet_posts(now_s + dt)
        return dt

    def resting(self) -> bool:
        """It lies still on the grass, or it lies in the cup."""
        if self._in_cup():
            fast = max(abs(c) for c in self.v)
            self.quiet = self.quiet + 1 if fast < 0.03 else 0
            return self.quiet > 40
        return self.v[0] == 0.0 and self.v[1] == 0.0 and self.v[2] == 0.0

    def _in_cup(self) -> bool:
        return self.p[2] < 0.0

    def _near_hole(self) -> bool:
        if self.g.hole is None:
            return False
        if self.p[2] > R_BALL + 1e-6 or self.p[2] < R_BALL - 1e-6 or abs(self.v[2]) > 1e-9:
            return True
        return math.hypot(self.p[0] - self.g.hole[0], self.p[1] - self.g.hole[1]) < R_HOLE

    def _near_something(self) -> bool:
        """A post or the hole comes within the next few coarse steps."""
        x, y = self.p[0], self.p[1]
        near = 0.01 + 0.004 * (abs(self.v[0]) + abs(self.v[1]))
        if self.g.hole is not None and math.hypot(x - self.g.hole[0], y - self.g.hole[1]) < R_HOLE + near:
            return True
        return any(math.hypot(x - px, y - py) < R_BALL + r + near for _, px, py, r in self.g.posts)

    def _on_grass(self, dt: float) -> None:
        p, v, w = self.p, self.v, self.w
        slip_x, slip_y = v[0] - R_BALL * w[1], v[1] + R_BALL * w[0]
        slip = math.hypot(slip_x, slip_y)
        grip = self.g.friction * G
        v0, v1 = v[0], v[1]
        if slip > 3.5 * grip * dt:
            ax, ay = -grip * slip_x / slip, -grip * slip_y / slip
            v[0] += (ax + self.pull[0]) * dt
            v[1] += (ay + self.pull[1]) * dt
            w[1] -= 2.5 * ax / R_BALL * dt
            w[0] += 2.5 * ay / R_BALL * dt
            self.rolls = False
        else:
            self.rolls = True
            # No slip left: share out what remains (2/7 of it to the travel), then roll.
            v[0] -= 2 / 7 * slip_x
            v[1] -= 2 / 7 * slip_y
            speed = math.hypot(v[0], v[1])
            if speed > 0:
                brake = min(self.roll_m_s2 * dt, speed) / speed
                v[0] -= brake * v[0]
                v[1] -= brake * v[1]
            held = math.hypot(*self.roll_pull) <= self.roll_m_s2 and speed < 2 * self.roll_m_s2 * dt
            if held:
                v[0] = v[1] = 0.0
            else:
                v[0] += self.roll_pull[0] * dt
                v[1] += self.roll_pull[1] * dt
            w[0], w[1] = -v[1] / R_BALL, v[0] / R_BALL
        p[0] += 0.5 * (v0 + v[0]) * dt
        p[1] += 0.5 * (v1 + v[1]) * dt

    def _meet_posts(self, now_s: float) -> None:
        p, v = self.p, self.v
        for name, x, y, radius in self.g.posts:
            dx, dy = p[0] - x, p[1] - y
            d = math.hypot(dx, dy)
            if d >= R_BALL + radius or d == 0.0:
                continue
            nx, ny = dx / d, dy / d
            into = v[0] * nx + v[1] * ny
            if into < 0:
                v[0] -= (1 + POST_BOUNCE) * into * nx
                v[1] -= (1 + POST_BOUNCE) * into * ny
                self.hits.append((now_s, name))
            p[0], p[1] = x + nx * (R_BALL + radius), y + ny * (R_BALL + radius)

    def _fly(self, now_s: float) -> None:
        assert self.g.hole is not None
        p, v = self.p, self.v
        v[0] += self.pull[0] * STEP_S
        v[1] += self.pull[1] * STEP_S
        v[2] -= G * STEP_S
        for i in range(3):
            p[i] += v[i] * STEP_S
        dx, dy = p[0] - self.g.hole[0], p[1] - self.g.hole[1]
        out = math.hypot(dx, dy)
        ux, uy = (dx / out, dy / out) if out > 1e-9 else (1.0, 0.0)
        if out >= R_HOLE and p[2] > 0:
            if p[2] < R_BALL:
                self._impact(0.0, 0.0, 1.0, R_BALL - p[2], GROUND_BOUNCE, self.g.friction)
                if abs(v[2]) < 0.02:
                    v[2], p[2] = 0.0, R_BALL
        elif p[2] >= 0:
            nx, ny, nz = -(R_HOLE - out) * ux, -(R_HOLE - out) * uy, p[2]
            d = math.sqrt(nx * nx + ny * ny + nz * nz)
            if 0 < d < R_BALL:
                self.rim_met = True
                self._impact(nx / d, ny / d, nz / d, R_BALL - d, RIM_BOUNCE, RIM_GRIP)
        else:
            if out > R_HOLE - R_BALL:
                self._impact(-ux, -uy, 0.0, out - (R_HOLE - R_BALL), RIM_BOUNCE, RIM_GRIP)
            if p[2] < BOTTOM_M + R_BALL:
                self._impact(0.0, 0.0, 1.0, BOTTOM_M + R_BALL - p[2], 0.25, 0.4)
                for i in range(2):  # the plastic cup's floor brakes what still rolls there
                    v[i] *= 0.995
                    self.w[i] *= 0.995
            if self.holed_s is None and p[2] < -R_BALL:
                self.holed_s = now_s + STEP_S

    def _impact(self, nx: float, ny: float, nz: float, deep_m: float, bounce: float, grip: float) -> None:
        """Impulse at a contact with outward normal (nx, ny, nz); friction turns slip into spin."""
        p, v, w = self.p, self.v, self.w
        p[0] += deep_m * nx
        p[1] += deep_m * ny
        p[2] += deep_m * nz
        into = v[0] * nx + v[1] * ny + v[2] * nz
        if into >= 0:
            return
        push = -(1 + (bounce if into < -0.08 else 0.0)) * into
        v[0] += push * nx
        v[1] += push * ny
        v[2] += push * nz
        # Slip of the contact point: v + w x (-r n), its part along the surface.
        sx = v[0] - R_BALL * (w[1] * nz - w[2] * ny)
        sy = v[1] - R_BALL * (w[2] * nx - w[0] * nz)
        sz = v[2] - R_BALL * (w[0] * ny - w[1] * nx)
        along = sx * nx + sy * ny + sz * nz
        sx, sy, sz = sx - along * nx, sy - along * ny, sz - along * nz
        slip = math.sqrt(sx * sx + sy * sy + sz * sz)
        if slip < 1e-12:
            return
        kick = -min(grip * push, 2 / 7 * slip) / slip
        jx, jy, jz = kick * sx, kick * sy, kick * sz
        v[0] += jx
        v[1] += jy
        v[2] += jz
        k = -2.5 / R_BALL  # r n x j with the arm -r n, over I = 2/5 m r^2
        w[0] += k * (ny * jz - nz * jy)
        w[1] += k * (nz * jx - nx * jz)
        w[2] += k * (nx * jy - ny * jx)


def aim(ground: Ground, start: Point, hole: Point, offset_m: float, run_out_m: float) -> Point:
    """Launch velocity that over a covered hole and without posts passes ``offset_m`` to the right of
    the hole's centre and ends ``run_out_m`` past it; short of the hole: ends that far beside the line."""
    free = replace(ground, hole=None, posts=())
    along = math.hypot(hole[0] - start[0], hole[1] - start[1])
    bearing = math.atan2(hole[1] - start[1], hole[0] - start[0])
    # A level putt's length is v^2 (12/(49 mu g) + 25/(98 a)).
    decel = deceleration_from_stimp(ground.stimp_ft) - slope_acceleration(ground.slope_along)
    share = 12 / (49 * ground.friction * G) + 25 / (98 * max(decel, 0.05))
    unknown = np.array([math.sqrt((along + run_out_m) / share), 0.0])

    def result(x: Array) -> Array:
        heading = bearing - x[1]
        roll = simulate(free, start, (x[0] * math.cos(heading), x[0] * math.sin(heading)))
        a, r = along_right(roll.xyz[:, :2], start, hole)
        i = int(np.argmin(np.hypot(a - along, r)))
        return np.array([a[-1] - along, r[i] if i < len(a) - 1 else r[-1]])

    goal = np.array([run_out_m, offset_m])
    now = result(unknown)
    d_speed, d_turn = 0.01, 0.002
    slope = np.stack(
        [
            (result(unknown + np.array([d_speed, 0])) - now) / d_speed,
            (result(unknown + np.array([0, d_turn])) - now) / d_turn,
        ],
        axis=1,
    )
    for _ in range(25):
        if np.all(np.abs(now - goal) < (1e-4, 2e-5)):
            break
        step = np.linalg.solve(slope, goal - now)
        unknown = unknown + step
        before, now = now, result(unknown)
        # Broyden's update keeps the slopes right without more rolls.
        slope = slope + np.outer(now - before - slope @ step, step) / (step @ step)
    speed, turn = unknown
    return (float(speed * math.cos(bearing - turn)), float(speed * math.sin(bearing - turn)))


def along_right(xy: Array, start: Point, hole: Point) -> tuple[Array, Array]:
    """World points, shape (n, 2), in the putt frame: along to the hole, right of that line."""
    d = np.array([hole[0] - start[0], hole[1] - start[1]])
    d /= np.linalg.norm(d)
    rel = np.asarray(xy, dtype=float) - start
    return rel @ d, rel @ np.array([d[1], -d[0]])
