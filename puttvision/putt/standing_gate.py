"""The gate that stands before a drill: ahead of the ball or beside it, how square, how wide, how central."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.light import Light
from puttvision.green.camera import Camera
from puttvision.green.post_pair import PostPair, pair_of
from puttvision.green.posts import Post, find_posts
from puttvision.green.site import Site
from puttvision.green.spread import principal_steps
from puttvision.putt.assemble import K95
from puttvision.putt.ball_gate import find_ball_gate, placed_in_light
from puttvision.putt.gate import MOST_TURNED_RAD, POST_DIAMETER_M, U_POST_DIAMETER_M
from puttvision.putts import Figure

Floats = NDArray[np.float64]

GateKind = Literal["ball gate", "head gate"]
_HEAD_ALONG_M = 0.11
"""A gate for the putter's head stands beside the ball, or a hand before or behind it."""
_HEAD_WIDE_M = (0.085, 0.18)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingGate:
    """A gate against the line from ball to hole."""

    kind: GateKind
    posts: PostPair
    distance_m: Figure
    gap_mm: Figure
    """Between the facing sides."""
    square_deg: Figure
    """Positive where it faces right of the line."""
    off_mm: Figure
    """Its middle beside the line, right positive."""


def find_gate(site: Site, lie_m: Floats, light: Light | None = None) -> StandingGate | None:
    """The ball gate ahead of a ball at rest, else the head gate beside it, else None.

    ``light``: on the clip's balls.
    """
    camera = site.pose.camera
    hole_m = camera.to_plane(site.hole.at_px)
    ahead = find_ball_gate(site.still, camera, lie_m, hole_m, light)
    if ahead is not None:
        return _read(site, lie_m, ahead, "ball gate")
    posts = find_posts(site.still, camera, _around(lie_m, hole_m))
    beside = _head_gate(posts, camera, lie_m, hole_m)
    if beside is None:
        return None
    posts_in_light = placed_in_light(site.still, camera, pair_of(*beside, camera), light)
    return _read(site, lie_m, posts_in_light, "head gate")


def _axes(lie_m: Floats, hole_m: Floats) -> tuple[Floats, Floats]:
    line = hole_m - lie_m
    along = line / float(np.hypot(*line))
    return along, np.array([along[1], -along[0]])


def _around(lie_m: Floats, hole_m: Floats) -> Floats:
    along, right = _axes(lie_m, hole_m)
    reach, side = _HEAD_ALONG_M + 0.02, _HEAD_WIDE_M[1] * 0.7
    corners = ((-reach, -side), (reach, -side), (reach, side), (-reach, side))
    return np.array([lie_m + a * along + r * right for a, r in corners])


def _head_gate(posts: list[Post], camera: Camera, lie_m: Floats, hole_m: Floats) -> tuple[Post, Post] | None:
    """The pair that stands on either side of the ball, the one most evenly about it."""
    along, right = _axes(lie_m, hole_m)
    best: tuple[float, tuple[Post, Post]] | None = None
    feet = [(post, camera.to_plane(post.foot_px) - lie_m) for post in posts]
    for left_post, a in feet:
        for right_post, b in feet:
            if not a @ right < 0 < b @ right:
                continue
            across, middle = b - a, (a + b) / 2
            wide = float(np.hypot(*across))
            turned = abs(float(np.arctan2(across @ along, across @ right)))
            if not _HEAD_WIDE_M[0] < wide < _HEAD_WIDE_M[1] or turned > MOST_TURNED_RAD:
                continue
            if abs(middle @ along) > _HEAD_ALONG_M:
                continue
            score = abs(float(middle @ right)) / wide + turned
            if best is None or score < best[0]:
                best = (score, (left_post, right_post))
    return best[1] if best else None


def _read(site: Site, lie_m: Floats, posts: PostPair, kind: GateKind) -> StandingGate:
    """Figures with everything moved one standard deviation at a time: camera, posts, hole."""
    pose, hole = site.pose, site.hole
    lie_px = pose.camera.project([*lie_m, 0.0])
    hole_px = np.array(hole.at_px)
    rows = [_figures(pose.camera, lie_px, hole_px, posts.feet_px)]
    rows += [_figures(camera, lie_px, hole_px, posts.feet_px) for camera in pose.varied()]
    rows += [
        _figures(pose.camera, lie_px, hole_px + step, posts.feet_px) for step in principal_steps(hole.cov_px2)
    ]
    rows += [_figures(pose.camera, lie_px, hole_px, feet_px) for feet_px in posts.varied_px()]
    table = np.array(rows)
    u = np.sqrt(np.nansum((table[1:] - table[0]) ** 2, axis=0))
    u[1] = np.hypot(u[1], 1000 * U_POST_DIAMETER_M)
    distance, gap, square, off = (
        Figure(round(float(value), 4), round(K95 * float(spread), 4))
        for value, spread in zip(table[0], u, strict=True)
    )
    return StandingGate(
        kind=kind, posts=posts, distance_m=distance, gap_mm=gap, square_deg=square, off_mm=off
    )


def _figures(camera: Camera, lie_px: Floats, hole_px: Floats, feet_px: Floats) -> Floats:
    lie, hole, left, right_foot = (camera.to_plane(px) for px in (lie_px, hole_px, *feet_px))
    along, right = _axes(lie, hole)
    across, middle = right_foot - left, (left + right_foot) / 2 - lie
    # the normal faces right of the line by as much as the right post stands behind the left one
    square = np.degrees(np.arctan2(-(across @ along), across @ right))
    gap = 1000 * (float(np.hypot(*across)) - POST_DIAMETER_M)
    return np.array([middle @ along, gap, square, 1000 * float(middle @ right)])
