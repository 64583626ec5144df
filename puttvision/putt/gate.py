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
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

POST_DIAMETER_M = 0.0046
"""A wooden or plastic tee's shank, 4 to 5.5 mm (common practice, no source)."""
U_POST_DIAMETER_M = 0.0004
CONTACT_M = BALL_RADIUS_M + 0.006
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
    speed_kept: float
    """Speed after over speed before."""


def crossing(time_s: Floats, at_m: Floats, cov_m2: Floats, gate: GateLine, reach_m: float = 0.30) -> Crossing:
    """Look at the headings within ``reach_m`` before and after the gate's line."""
    ahead = (at_m - gate.centre_m) @ gate.normal
    beyond = np.nonzero(ahead > 0)[0]
    index = int(beyond[0]) if len(beyond) else len(ahead)
    before = _straight(
        time_s, at_m, cov_m2, np.nonzero((ahead > -reach_m) & (ahead < -CONTACT_M))[0], index, -1
    )
    after = _straight(time_s, at_m, cov_m2, np.nonzero(np.abs(ahead) < reach_m)[0], index, 1)
    if before is None or after is None:
        return Crossing(index, 0.0, float("inf"), 1.0)
    turn = float((after[0] - before[0] + np.pi) % (2 * np.pi) - np.pi)
    return Crossing(
        index=index,
        turn_rad=turn,
        u_turn_rad=float(np.hypot(before[1], after[1])),
        speed_kept=after[2] / max(before[2], 1e-6),
    )


def _straight(
    time_s: Floats, at_m: Floats, cov_m2: Floats, chosen: NDArray[np.intp], index: int, side: int
) -> tuple[float, float, float] | None:
    """Heading, its uncertainty and speed of a short stretch on one side of the index."""
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
    return float(np.arctan2(velocity[1], velocity[0])), sigma / max(spread, 1e-9) / speed, speed
