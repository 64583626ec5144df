"""Everything a putt's figures hang on, moved one standard deviation at a time.

What is not known exactly: the fitted path and green, the camera, the hole's and the posts' places,
the ball's place at rest, and an error that all ball centres of a clip share. Each becomes a row of
``Variations``; the camera moves all of the others along with it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.sightings import Lie
from puttvision.green.camera import Camera
from puttvision.green.hole import Hole
from puttvision.green.pose import Pose
from puttvision.green.post_pair import PostPair
from puttvision.green.spread import principal_steps
from puttvision.putt.fit import RollsFit, respond
from puttvision.putt.gate import GateLine
from puttvision.putt.measures import Variations
from puttvision.putt.pieces import CutRoll
from puttvision.putt.track import lie_cov_m2, lie_on_plane, moved

Floats = NDArray[np.float64]

_U_DRIFT_PX, _DRIFTS_M = 0.05, 1.0
"""The error of a ball's centre goes over into its opposite within about so much, as the grass behind the ball
and the light on it change; no frame tells it (measured on filmed scenes)."""


@dataclass(frozen=True, slots=True)
class World:
    """The plane as one camera shows it, with every fit carried over to it."""

    hole_m: Floats
    gate_m: Floats | None
    """Shape (2, 2)."""
    lies_m: list[Floats]
    rests_m: list[Floats | None]
    fit: RollsFit


def gate_line(posts: PostPair | None, camera: Camera) -> GateLine | None:
    """The gate on the plane."""
    if posts is None:
        return None
    left_m, right_m = camera.to_plane(posts.feet_px)
    return GateLine(left_m, right_m)


def worlds(
    pose: Pose,
    hole: Hole,
    posts: PostPair | None,
    cuts: list[CutRoll],
    piece_of: list[tuple[int, bool]],
    fit: RollsFit,
    u_ball_px: float,
) -> list[World]:
    """The base world, one for each principal axis of the camera's covariance, two in which all ball centres
    are shifted, to the right and down, by ``u_ball_px``, and two in which they drift on their way.
    ``piece_of``: for each piece of the fit, the index of its roll and whether it is the later one."""
    out = [_world(pose.camera, _even(0.0, 0.0), hole, posts, cuts, piece_of, fit, moved_at_all=False)]
    for camera in pose.varied():
        out.append(_world(camera, _even(0.0, 0.0), hole, posts, cuts, piece_of, fit))
    shifts = [_even(u_ball_px, 0.0), _even(0.0, u_ball_px)]
    shifts += [_drifting(_U_DRIFT_PX, 0.0), _drifting(0.0, _U_DRIFT_PX)]
    for shift in shifts:
        out.append(_world(pose.camera, shift, hole, posts, cuts, piece_of, fit))
    return out


Shift = Callable[[Floats], Floats]
"""From distances that a ball has rolled, metres, shape (n,), to what its centre is off, pixels, (n, 2)."""


def _even(right_px: float, down_px: float) -> Shift:
    return lambda rolled_m: np.tile([right_px, down_px], (len(rolled_m), 1))


def _drifting(right_px: float, down_px: float) -> Shift:
    return lambda rolled_m: (
        np.cos(np.pi * np.minimum(rolled_m / _DRIFTS_M, 1.0))[:, None] * np.array([right_px, down_px])
    )


def _world(
    camera: Camera,
    shift: Shift,
    hole: Hole,
    posts: PostPair | None,
    cuts: list[CutRoll],
    piece_of: list[tuple[int, bool]],
    fit: RollsFit,
    moved_at_all: bool = True,
) -> World:
    gate = gate_line(posts, camera)
    at_start_px, at_end_px = shift(np.array([0.0, np.inf]))
    if moved_at_all:
        rolled_m = [np.hypot(*(c.track.at_m - c.track.lie_m).T) for c in cuts]
        places = [moved(c.roll, camera, shift(way)) for c, way in zip(cuts, rolled_m, strict=True)]
        shifts = []
        lie_turns = [_lie(c.roll.start, camera, at_start_px) - c.track.lie_m for c in cuts]
        for (i, later), piece in zip(piece_of, fit.pieces, strict=True):
            used = cuts[i].later_used if later else cuts[i].first_used
            change = places[i][used] - piece.piece.at_m
            # a path that starts at the place at rest is fitted relative to it
            shifts.append(change if later else change - lie_turns[i])
        fit = respond(fit, shifts)
    return World(
        hole_m=camera.to_plane(hole.at_px),
        gate_m=None if gate is None else np.array([gate.left_m, gate.right_m]),
        lies_m=[_lie(c.roll.start, camera, at_start_px) for c in cuts],
        rests_m=[None if c.roll.rest is None else _lie(c.roll.rest, camera, at_end_px) for c in cuts],
        fit=fit,
    )


def _lie(lie: Lie, camera: Camera, shift_px: Floats) -> Floats:
    if not shift_px.any():
        return lie_on_plane(lie, camera)
    moved_lie = Lie(
        at_px=(lie.at_px[0] + float(shift_px[0]), lie.at_px[1] + float(shift_px[1])),
        cov_px2=lie.cov_px2,
        size_ratio=lie.size_ratio,
        n_fits=lie.n_fits,
        first_s=lie.first_s,
        last_s=lie.last_s,
    )
    return lie_on_plane(moved_lie, camera)


def variations(
    index: int,
    all_worlds: list[World],
    cut: CutRoll,
    first: int,
    later: int | None,
    pose: Pose,
    hole: Hole,
    posts: PostPair | None,
) -> Variations:
    """The rows for one roll. ``first`` and ``later`` number its pieces in the fit."""
    base = all_worlds[0]
    rows: list[_Row] = [_row(w, index, first, later) for w in all_worlds]
    one = rows[0]
    camera = pose.camera
    for column in principal_steps(base.fit.pieces[first].cov):
        rows.append(one.with_(first=one.first + column[:4], first_green=one.first_green + column[4:]))
    if later is not None and one.later is not None:
        for column in principal_steps(base.fit.pieces[later].cov):
            rows.append(one.with_(later=one.later + column[:4], later_green=one.later_green + column[4:]))
    for step in principal_steps(hole.cov_px2):
        rows.append(one.with_(hole=camera.to_plane(np.array(hole.at_px) + step)))
    if posts is not None and one.gate is not None:
        rows += [one.with_(gate=camera.to_plane(feet_px)) for feet_px in posts.varied_px()]
    lie_cov = lie_cov_m2(cut.roll.start, camera)
    for step in principal_steps(lie_cov):
        rows.append(one.with_(lie=one.lie + step))
    if one.rest is not None and cut.roll.rest is not None:
        for step in principal_steps(lie_cov_m2(cut.roll.rest, camera)):
            rows.append(one.with_(rest=one.rest + step))
    return Variations(
        lie_m=np.array([r.lie for r in rows]),
        hole_m=np.array([r.hole for r in rows]),
        gate_m=None if one.gate is None else np.array([r.gate for r in rows]),
        first=np.array([r.first for r in rows]),
        first_green=np.array([r.first_green for r in rows]),
        later=None if one.later is None else np.array([r.later for r in rows]),
        later_green=np.array([r.later_green for r in rows]),
        rest_m=None if one.rest is None else np.array([r.rest for r in rows]),
    )


@dataclass(frozen=True, slots=True)
class _Row:
    lie: Floats
    hole: Floats
    gate: Floats | None
    first: Floats
    first_green: Floats
    later: Floats | None
    later_green: Floats
    rest: Floats | None

    def with_(self, **changes: Floats) -> _Row:
        fields = {name: getattr(self, name) for name in self.__slots__}
        return _Row(**(fields | changes))


def _row(world: World, index: int, first: int, later: int | None) -> _Row:
    return _Row(
        lie=world.lies_m[index],
        hole=world.hole_m,
        gate=world.gate_m,
        first=world.fit.pieces[first].own,
        first_green=world.fit.green,
        later=None if later is None else world.fit.pieces[later].own,
        later_green=world.fit.green,
        rest=world.rests_m[index],
    )
