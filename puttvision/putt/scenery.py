"""From a measurement to what pictures are drawn from: camera, hole, posts and every putt's way."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.finder import ball_radius_px
from puttvision.green.camera import Camera
from puttvision.green.motion import Motion
from puttvision.green.site import Site
from puttvision.physics import HOLE_RADIUS_M
from puttvision.putt.assemble import Assembly, MeasuredPutt, Readout
from puttvision.putt.fit import PieceFit, RollsFit, piece_paths
from puttvision.putt.track import lie_on_plane
from puttvision.scene import AtHole, Moved, Place, PuttPath, Scene, Seen, Step, View

Floats = NDArray[np.float64]

_STEP_S = 1 / 60
_SLOW_M_S = 0.02
_SHORT_M = 0.06
"""A path that ends so far before the hole's centre never came to it."""
_SPEED_OVER = 7
"""Sightings over which a speed is told where no path is fitted: 0.1 s at 60 frames a second."""


def scene_of(
    site: Site,
    assembly: Assembly,
    readout: Readout,
    capture_rate_hz: float | None = None,
    moves: Sequence[tuple[float, Motion]] = (),
) -> Scene:
    """All that is drawn of a clip; ``capture_rate_hz`` as the user gave it, ``moves`` of its camera."""
    camera = site.pose.camera
    hole_m = camera.to_plane(site.hole.at_px)
    posts = assembly.posts
    feet = None if posts is None else tuple(_place(foot) for foot in camera.to_plane(posts.feet_px))
    fit = assembly.fit
    return Scene(
        view=View(**{name: getattr(camera, name) for name in View.__dataclass_fields__}),
        readout_s=readout.seconds,
        hole_m=_place(hole_m),
        posts_m=None if feet is None else (feet[0], feet[1]),
        post_height_m=0.0 if posts is None else float(np.mean([post.height_m for post in posts.posts])),
        capture_rate_hz=capture_rate_hz,
        moved=tuple(
            Moved(time_s, *map(float, motion.turn_rad), *map(float, motion.shift_m))
            for time_s, motion in moves
        ),
        putts=() if fit is None else tuple(_putt(m, fit, camera, hole_m) for m in assembly.putts),
    )


def _place(at_m: Floats) -> Place:
    return float(at_m[0]), float(at_m[1])


def _putt(measured: MeasuredPutt, fit: RollsFit, camera: Camera, hole_m: Floats) -> PuttPath:
    roll, track = measured.cut.roll, measured.cut.track
    start_s = float(fit.pieces[measured.first].own[3])
    rest_m = lie_on_plane(roll.rest, camera) if roll.rest else None
    seen = tuple(
        Seen(s.time_s, *s.at_px, float(ball_radius_px(camera, np.array(s.at_px)))) for s in roll.sightings
    )
    return PuttPath(
        number=measured.putt.number,
        lie_m=_place(track.lie_m),
        heading_rad=float(fit.pieces[measured.first].own[1]),
        start_s=start_s,
        end_s=float(track.time_s[-1]),
        seen=seen,
        path=_path(measured, fit, hole_m),
        at_hole=_at_hole(measured, fit, hole_m),
        rest_m=None if rest_m is None else _place(rest_m),
    )


def _path(measured: MeasuredPutt, fit: RollsFit, hole_m: Floats) -> tuple[Step, ...]:
    """The fitted pieces, then what was seen of the ball after the hole's edge."""
    item, track = measured.cut, measured.cut.track
    first = fit.pieces[measured.first]
    steps: list[Step] = []
    free_until = float(track.time_s[item.near_hole - 1])
    if not item.knocked:
        _add(steps, _along(first, float(first.own[3]), free_until, fit))
    else:
        until = float(track.time_s[item.first_used[-1]])
        _add(steps, _along(first, float(first.own[3]), until, fit))
        if measured.later is not None:
            later = fit.pieces[measured.later]
            from_s = float(track.time_s[item.later_used[0]])
            _add(steps, _seen(measured, until, from_s))
            _add(steps, _along(later, from_s, free_until, fit))
    if measured.putt.outcome == "holed":
        last = fit.pieces[measured.first if measured.later is None else measured.later]
        more = _along(last, steps[-1].time_s, steps[-1].time_s + 0.5, fit)
        into = [np.hypot(s.x_m - hole_m[0], s.y_m - hole_m[1]) for s in more]
        _add(steps, more[: int(np.argmin(into)) + 1])
    else:
        _add(steps, _seen(measured, steps[-1].time_s, float("inf")))
    return tuple(steps)


def _add(steps: list[Step], more: list[Step]) -> None:
    steps += [step for step in more if not steps or step.time_s > steps[-1].time_s + 1e-4]


def _states(piece: PieceFit, time_s: Floats, fit: RollsFit) -> Floats:
    """Shape (n, 4) at clip times."""
    path = piece_paths(piece.piece, piece.own[None], fit.green[None])
    start = piece.own[3] if piece.piece.lie_m is not None else piece.clock_s
    return np.asarray(path.at((time_s - start)[None])[0])


def _along(piece: PieceFit, from_s: float, until_s: float, fit: RollsFit) -> list[Step]:
    if until_s <= from_s:
        return []
    time_s = np.linspace(from_s, until_s, max(2, int(np.ceil((until_s - from_s) / _STEP_S)) + 1))
    states = _states(piece, time_s, fit)
    return [
        Step(float(t), float(x), float(y), float(np.hypot(vx, vy)))
        for t, (x, y, vx, vy) in zip(time_s, states, strict=True)
    ]


def _seen(measured: MeasuredPutt, from_s: float, until_s: float) -> list[Step]:
    """Where no path is fitted (a knock, the rim, afterwards): the sightings themselves."""
    track = measured.cut.track
    chosen = [int(k) for k in np.nonzero((track.time_s > from_s) & (track.time_s < until_s))[0]]
    half = _SPEED_OVER // 2
    out = []
    for k in chosen:
        low, high = max(chosen[0], k - half), min(chosen[-1], k + half)
        took = float(track.time_s[high] - track.time_s[low])
        speed = float(np.hypot(*(track.at_m[high] - track.at_m[low]))) / took if took > 0 else 0.0
        out.append(Step(float(track.time_s[k]), *_place(track.at_m[k]), speed))
    return out


def _at_hole(measured: MeasuredPutt, fit: RollsFit, hole_m: Floats) -> AtHole | None:
    if measured.putt.hole_offset_mm.value is None:
        return None
    piece = fit.pieces[measured.first if measured.later is None else measured.later]
    path = piece_paths(piece.piece, piece.own[None], fit.green[None])
    start = float(piece.own[3] if piece.piece.lie_m is not None else piece.clock_s)
    time_s = np.linspace(0.0, 1.0, 1500) ** 1.3 * float(path.time_s[0, -1]) + start
    states = _states(piece, time_s, fit)
    distance = np.hypot(*(states[:, :2] - hole_m).T)
    nearest = int(np.argmin(distance))
    speed = np.hypot(states[:, 2], states[:, 3])
    if speed[nearest] < _SLOW_M_S and distance[nearest] > HOLE_RADIUS_M + _SHORT_M:
        return None
    moving = min(nearest, int(np.argmax(speed < _SLOW_M_S)) - 1) if (speed < _SLOW_M_S).any() else nearest
    vx, vy = states[max(moving, 0), 2:]
    return AtHole(
        nearest_m=_place(states[nearest, :2]),
        heading_rad=float(np.arctan2(vy, vx)),
        time_s=float(time_s[nearest]),
    )
