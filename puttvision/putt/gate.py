"""The ball gate on the plane, and what a ball did at it.

A pair of posts ahead of the ball, one on either side of the line, is a ball gate; a pair beside the
ball at rest is a gate for the putter's head and is none of the ball's business.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera
from puttvision.green.posts import Post
from puttvision.physics import BALL_RADIUS_M, GRAVITY_M_S2, ROLL_SHARE

Floats = NDArray[np.float64]

POST_DIAMETER_M = 0.0046
"""A wooden or plastic tee's shank, 4 to 5.5 mm (common practice, no source)."""
U_POST_DIAMETER_M = 0.0004
CONTACT_M = BALL_RADIUS_M + 0.004
"""A ball that meets a post does so at most a ball's radius and a post's before the line."""
AHEAD_M = (0.12, 1.6)
"""Nearer is a gate for the putter's head; farther than this no start line is trained."""
SPACING_M = (0.044, 0.20)
MOST_TURNED_RAD = np.radians(35.0)


@dataclass(frozen=True, slots=True)
class GateLine:
    """A ball gate: the feet of its posts on the plane, left and right as seen from the ball."""

    left_m: Floats
    right_m: Floats

    @property
    def centre_m(self) -> Floats:
        """Shape (2,)."""
        return np.asarray((self.left_m + self.right_m) / 2)

    @property
    def across(self) -> Floats:
        """Unit vector from the left post to the right one."""
        along = self.right_m - self.left_m
        return np.asarray(along / np.hypot(*along))

    @property
    def normal(self) -> Floats:
        """Unit vector through the gate, away from the ball."""
        x, y = self.across
        return np.array([-y, x])

    @property
    def opening_m(self) -> float:
        """Clear opening between the facing sides of the posts."""
        return float(np.hypot(*(self.right_m - self.left_m)) - POST_DIAMETER_M)

    def lateral_m(self, at_m: Floats, index: int) -> float:
        """Where a track, shape (n, 2), goes over the gate's line, right of its middle.

        ``index``: the first sighting beyond the line, at least 1.
        """
        before, after = at_m[index - 1], at_m[index]
        ahead = [float((p - self.centre_m) @ self.normal) for p in (before, after)]
        share = -ahead[0] / (ahead[1] - ahead[0]) if ahead[1] > ahead[0] else 1.0
        return float((before + share * (after - before) - self.centre_m) @ self.across)

    def clearance_m(self, at_m: Floats, index: int) -> float:
        """How far the ball stays from the nearer post there, negative where it would not fit."""
        return self.opening_m / 2 - BALL_RADIUS_M - abs(self.lateral_m(at_m, index))


def choose_gate(posts: list[Post], camera: Camera, lie_m: Floats, hole_m: Floats) -> tuple[Post, Post] | None:
    """The pair of posts that makes the best ball gate on the line from ball to hole; left, right."""
    line = hole_m - lie_m
    length = float(np.hypot(*line))
    along, right = line / length, np.array([line[1], -line[0]]) / length
    feet = [camera.to_plane(post.foot_px) - lie_m for post in posts]
    best: tuple[float, tuple[Post, Post]] | None = None
    for i, first in enumerate(posts):
        for j in range(i + 1, len(posts)):
            second = posts[j]
            a, b = feet[i], feet[j]
            middle, across = (a + b) / 2, b - a
            spacing = float(np.hypot(*across))
            ahead = float(middle @ along)
            turned = abs(np.arctan2(across @ along, abs(across @ right)))
            if not (SPACING_M[0] < spacing < SPACING_M[1] and AHEAD_M[0] < ahead < AHEAD_M[1]):
                continue
            if ahead > 0.8 * length or turned > MOST_TURNED_RAD or abs(middle @ right) > 0.12:
                continue
            alike = abs(np.log(first.height_m / second.height_m)) + abs(
                np.log(first.contrast / second.contrast)
            )
            score = 4 * abs(float(middle @ right)) / spacing + 3 * turned + alike + 0.5 * spacing / 0.1
            if best is None or score < best[0]:
                left_first = a @ right < b @ right
                best = (score, (first, second) if left_first else (second, first))
    return best[1] if best else None


@dataclass(frozen=True, slots=True)
class Crossing:
    """A track's meeting with the gate's line, told from the sightings alone."""

    index: int
    """First sighting beyond the line; the number of sightings where none is."""
    turn_rad: float
    """Change of heading from before to after."""
    u_turn_rad: float
    came_m_s: float
    went_m_s: float
    """Mean speeds within reach before and after; both 0 where they are not seen."""


def crossing(time_s: Floats, at_m: Floats, cov_m2: Floats, gate: GateLine, reach_m: float = 0.30) -> Crossing:
    """Look at the headings within ``reach_m`` before and after the gate's line.

    The sightings are those before the hole: there a ball turns and falls.
    """
    ahead = (at_m - gate.centre_m) @ gate.normal
    beyond = np.nonzero(ahead > 0)[0]
    index = int(beyond[0]) if len(beyond) else len(ahead)
    stretch_before = np.nonzero((ahead > -reach_m) & (ahead < -CONTACT_M))[0]
    stretch_after = np.nonzero(np.abs(ahead) < reach_m)[0]
    before = _straight(time_s, at_m, cov_m2, stretch_before, index, -1)
    after = _straight(time_s, at_m, cov_m2, stretch_after, index, 1)
    if before is None or after is None:
        return Crossing(index, 0.0, float("inf"), 0.0, 0.0)
    turn, u_turn = _corner(time_s, at_m, cov_m2, before, after)
    return Crossing(index, turn, u_turn, before.speed_m_s, after.speed_m_s)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A short way on one side of the gate's line."""

    chosen: NDArray[np.intp]
    heading: Floats
    """Shape (2,), unit."""
    speed_m_s: float
    u_heading_rad: float


def _corner(
    time_s: Floats, at_m: Floats, cov_m2: Floats, before: _Stretch, after: _Stretch
) -> tuple[float, float]:
    """How sharply the way turns between two stretches, and how sure that is, in radians.

    A slope bends the way evenly; that much, as the ball shows it farther on, is no corner.
    """
    sine = float(before.heading[0] * after.heading[1] - before.heading[1] * after.heading[0])
    turn = float(np.arctan2(sine, before.heading @ after.heading))
    bend_m_s2, u_bend_m_s2 = _bend(time_s, at_m, cov_m2, after)
    lasts_s = float(time_s[after.chosen].mean() - time_s[before.chosen].mean())
    speed = (before.speed_m_s + after.speed_m_s) / 2
    u_turn = float(np.hypot(before.u_heading_rad, after.u_heading_rad))
    return turn - bend_m_s2 * lasts_s / speed, float(np.hypot(u_turn, u_bend_m_s2 * lasts_s / speed))


def offset_after_knock(at_m: Floats, cov_m2: Floats, gate: GateLine) -> tuple[float, float] | None:
    """Where a ball that met a post crossed the gate's line, right of its middle, and how sure, in metres.

    Knocked aside a ball still spins forwards and bends back as it skids: neither the way before nor the
    straight one later on tells. What tells is a straight line between the sightings on either side, which
    cuts the corner at the post, and a parabola through the first beyond, carried back: where those are close
    to each other the straight line, else the mean of both. None where too little is seen.
    """
    ahead = (at_m - gate.centre_m) @ gate.normal
    aside = (at_m - gate.centre_m) @ gate.across
    beyond = np.nonzero((ahead > 0) & (ahead < _SOON_M))[0][:_SOON_FEW]
    if len(beyond) < 3 or beyond[0] == 0:
        return None
    last, first = beyond[0] - 1, beyond[0]
    gap_m = float(ahead[first] - ahead[last])
    straight = gate.lateral_m(at_m, int(first))
    u_m = np.sqrt(np.einsum("i,nij,j->n", gate.across, cov_m2[beyond], gate.across)) + _U_BEHIND_POST_M
    degree = min(2, len(beyond) - 2)
    curve, cov = np.polyfit(ahead[beyond], aside[beyond], degree, w=1 / u_m, cov="unscaled")
    carried = float(np.clip(curve[-1], *sorted((aside[last], aside[first]))))
    u_carried_m = float(np.hypot(np.sqrt(cov[-1, -1]), _U_SOON_M * abs(curve[-2])))
    if gap_m < _CLOSE_M:
        return straight, float(np.hypot(_U_BEHIND_POST_M, gap_m / 4 * abs(curve[-2])))
    return (straight + carried) / 2, float(np.hypot(u_carried_m, (straight - carried) / 2))


_SOON_M, _SOON_FEW = 0.18, 5
_CLOSE_M = 0.03
_U_BEHIND_POST_M = 0.001
"""A post beside the ball disturbs the fit of its outline."""
_U_SOON_M = 0.003
"""Times the slope of the way: what the parabola leaves out (measured on filmed knocks)."""


def _bend(time_s: Floats, at_m: Floats, cov_m2: Floats, after: _Stretch) -> tuple[float, float]:
    """Pull of the slope to the left of the way after the gate, and how sure it is, in m/s2.

    A parabola through what is seen, by least squares; beforehand a green's slope is taken for what is common.
    """
    first = int(after.chosen[0])
    chosen = np.arange(first, len(time_s))
    chosen = chosen[time_s[chosen] - time_s[first] < _BEND_S]
    t = time_s[chosen] - time_s[first]
    left = np.array([-after.heading[1], after.heading[0]])
    u_m = np.sqrt(np.einsum("i,nij,j->n", left, cov_m2[chosen], left))
    design = np.column_stack([np.ones_like(t), t, t * t / 2])
    weighted = design.T / np.maximum(u_m, 1e-5) ** 2
    information = weighted @ design
    information[2, 2] += 1 / (ROLL_SHARE * GRAVITY_M_S2 * _U_SLOPE) ** 2
    cov = np.linalg.inv(information)
    return float((cov @ (weighted @ (at_m[chosen] @ left)))[2]), float(np.sqrt(cov[2, 2]))


_BEND_S = 0.8
"""So long after the gate the bend is looked at."""
_U_SLOPE = 0.02
"""Greens slope by 0 to 4 % where holes are cut (common practice, no source)."""


def _straight(
    time_s: Floats, at_m: Floats, cov_m2: Floats, chosen: NDArray[np.intp], index: int, side: int
) -> _Stretch | None:
    """A short stretch on one side of the index; None where too little is seen of it."""
    chosen = chosen[chosen < index] if side < 0 else chosen[chosen > index][:14]
    if len(chosen) < 3:
        return None
    t = time_s[chosen] - time_s[chosen].mean()
    place = at_m[chosen]
    velocity = np.array([np.polyfit(t, place[:, i], 1)[0] for i in (0, 1)])
    speed = float(np.hypot(*velocity))
    if speed < 0.02:
        return None
    sideways = np.array([-velocity[1], velocity[0]]) / speed
    sigma = float(np.sqrt(np.mean(np.einsum("i,nij,j->n", sideways, cov_m2[chosen], sideways))))
    spread = float(np.sqrt(np.sum(t * t)))
    return _Stretch(chosen, velocity / speed, speed, sigma / max(spread, 1e-9) / speed)
