"""From rolls and the site to the putts of putts.json."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.common_error import U_CENTRES_PX
from puttvision.ball.light import Light
from puttvision.ball.sightings import Lie, Roll
from puttvision.green.camera import Camera
from puttvision.green.post_pair import PostPair
from puttvision.green.site import Site
from puttvision.physics import BALL_RADIUS_M, slope_acceleration, stimp_from_deceleration
from puttvision.putt.ball_gate import find_ball_gate
from puttvision.putt.calls import NO_GATE, GateCall, HoleCall, call_gate, call_hole, hole_covered, passes_gate
from puttvision.putt.fit import GreenPrior, Piece, RollsFit, fit_rolls, level_deceleration, piece_paths
from puttvision.putt.gate import (
    POST_DIAMETER_M,
    U_POST_DIAMETER_M,
    GateLine,
    offset_after_knock,
)
from puttvision.putt.gate_by_hand import posts_by_hand
from puttvision.putt.measures import Readings, read_off
from puttvision.putt.pieces import CutRoll, cut, is_laid, is_putt
from puttvision.putt.track import lie_on_plane, on_plane
from puttvision.putt.vary import gate_line, variations, worlds
from puttvision.putts import NOT_MEASURED, Figure, Gate, Putt, Rest

Floats = NDArray[np.float64]

_HOLE_SHOWS_M = 0.10
"""What looks like a ball at rest so near to the hole's middle is lining, or the ball in the hole."""
_TURNS_UP_S, _NEXT_ROLLS_S = 6.0, 1.0
"""A ball that was lost turns up at rest within so long, and before the next can have rolled there."""
_SHOE_M = 0.35
"""While something stands before the hole, what looks like a ball this near to it may be part of that."""
_U_UNSEEN_ROLL_M = 0.006
"""Grass that a holed ball did not roll over may be slower or faster than what it did (common practice, no
source)."""
_U_LAUNCH = 0.001
"""Share of the launch speed that the skid leaves open: friction and the ball's own spin are not seen."""
K95 = 1.96
"""Coverage factor of a 95 % interval, normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Readout:
    """How long the sensor takes from the first row to the last."""

    seconds: float
    u_seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredPutt:
    """A putt with what overlays and reports draw of it."""

    putt: Putt
    cut: CutRoll
    first: int
    later: int | None
    """Numbers of its pieces in the fit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """All putts of a clip and what they share."""

    putts: tuple[MeasuredPutt, ...]
    gate: Gate | None
    posts: PostPair | None
    stimp_ft: Figure
    fit: RollsFit | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Where:
    """What all putts of a clip share when they are read off."""

    hole_m: Floats
    gate: GateLine | None
    camera: Camera
    readout: Readout
    found_later: list[Lie]
    rested: list[Lie]
    """Where balls came to rest that were seen all the way."""
    struck_s: list[float]
    """When each putt was first seen under way."""


def assemble(
    rolls: list[Roll],
    found_later: list[Lie],
    site: Site,
    readout: Readout,
    *,
    u_ball_px: float = U_CENTRES_PX,
    light: Light | None = None,
    gate_px: tuple[tuple[float, float], tuple[float, float]] | None = None,
    no_gate: bool = False,
) -> Assembly:
    """Measure every putt among the rolls.

    ``u_ball_px``: what all ball centres may be off by together; ``light``: on them.
    """
    camera = site.pose.camera
    hole_m = camera.to_plane(site.hole.at_px)
    putts = [
        roll
        for roll in rolls
        if is_putt(on_plane(roll, camera, readout.seconds), hole_m, roll.settled_s, roll.gone_s)
    ]
    putts = _struck_to_the_hole(putts, camera)
    if not putts:
        return Assembly(putts=(), gate=None, posts=None, stimp_ft=NOT_MEASURED, fit=None)
    lies = np.array([lie_on_plane(roll.start, camera) for roll in putts])
    middle = lies[np.argmin(np.hypot(*(lies - np.median(lies, axis=0)).T))]
    posts = _posts(site, middle, hole_m, gate_px, no_gate, light)
    gate = gate_line(posts, camera)
    cuts = [
        piece
        for piece in (cut(roll, camera, readout.seconds, hole_m, gate) for roll in putts)
        if len(piece.first.time_s) >= 3
    ]
    if not cuts:
        return Assembly(putts=(), gate=None, posts=posts, stimp_ft=NOT_MEASURED, fit=None)
    pieces: list[Piece] = []
    piece_of: list[tuple[int, bool]] = []
    for i, item in enumerate(cuts):
        for later, piece in ((False, item.first), (True, item.later)):
            if piece is not None:
                pieces.append(piece)
                piece_of.append((i, later))
    line = hole_m - middle
    line_rad = float(np.arctan2(line[1], line[0]))
    fit = fit_rolls(pieces, GreenPrior(line_rad=line_rad))
    every_world = worlds(site.pose, site.hole, posts, cuts, piece_of, fit, u_ball_px)
    measured: list[MeasuredPutt] = []
    readings: list[Readings] = []
    where = _Where(
        hole_m=hole_m,
        gate=gate,
        camera=camera,
        readout=readout,
        found_later=found_later,
        rested=[roll.rest for roll in rolls if roll.rest is not None],
        struck_s=[roll.sightings[0].time_s for roll in putts],
    )
    for i, item in enumerate(cuts):
        first = piece_of.index((i, False))
        after = piece_of.index((i, True)) if item.later is not None else None
        through = gate is not None and passes_gate(item, gate)
        rows = variations(i, every_world, item, first, after, site.pose, site.hole, posts)
        read = read_off(rows, through=through)
        readings.append(read)
        putt = _putt(len(measured) + 1, item, read, fit, first, after, where)
        measured.append(MeasuredPutt(putt=putt, cut=item, first=first, later=after))
    return Assembly(
        putts=tuple(measured),
        gate=None if gate is None else _gate(readings),
        posts=posts,
        stimp_ft=_stimp(fit, line_rad),
        fit=fit,
    )


def _struck_to_the_hole(putts: list[Roll], camera: Camera) -> list[Roll]:
    """Leave out rolls that only brought a ball to a place where others are putted from."""
    lies = np.array([lie_on_plane(roll.start, camera) for roll in putts])
    return [
        roll
        for i, roll in enumerate(putts)
        if not is_laid(
            None if roll.rest is None else lie_on_plane(roll.rest, camera), np.delete(lies, i, axis=0)
        )
    ]


def _posts(
    site: Site,
    lie_m: Floats,
    hole_m: Floats,
    gate_px: tuple[tuple[float, float], tuple[float, float]] | None,
    no_gate: bool,
    light: Light | None,
) -> PostPair | None:
    if no_gate:
        return None
    camera = site.pose.camera
    if gate_px is not None:
        return posts_by_hand(gate_px, camera, lie_m, hole_m)
    return find_ball_gate(site.still, camera, lie_m, hole_m, light)


def _figure(rows: Floats, scale: float = 1.0, u_more: float = 0.0) -> Figure:
    """Best estimate in the first row, spread over the others; none where it is not there."""
    if not np.isfinite(rows[0]):
        return NOT_MEASURED
    steps = (rows[1:] - rows[0]) * scale
    u = float(np.sqrt(np.nansum(steps**2) + u_more**2))
    return Figure(round(float(rows[0]) * scale, 6), round(K95 * u, 6))


def _u(rows: Floats) -> float:
    return float(np.sqrt(np.nansum((rows[1:] - rows[0]) ** 2)))


def _putt(
    number: int,
    item: CutRoll,
    read: Readings,
    fit: RollsFit,
    first: int,
    later: int | None,
    where: _Where,
) -> Putt:
    hole_m, gate = where.hole_m, where.gate
    gate_call = NO_GATE
    if gate is not None:
        at = float(read.gate_offset_m[0])
        gate_call = call_gate(item, gate, at if np.isfinite(at) else None, _u(read.gate_offset_m))
    # a post turned it back or knocked it aside, or too little of what came after was seen
    turned_away = item.knocked and (not gate_call.through or later is None)
    offset = np.full_like(read.hole_offset_m, np.nan) if turned_away else read.hole_offset_m
    speed = np.full_like(offset, np.nan) if turned_away else read.speed_at_hole_m_s
    rest = _found_rest(item, where)
    hole_call = call_hole(
        item,
        hole_m,
        float(offset[0]),
        _u(offset),
        float(speed[0]),
        _arrival_s(fit, first if later is None else later, hole_m),
        rest is not None,
        where.camera.centre_m,
    )
    unseen = hole_call.outcome == "unseen"
    row = float(np.mean([s.at_px[1] for s in item.roll.sightings[:3]])) / where.camera.height
    row_s = where.readout.u_seconds * row
    return Putt(
        number=number,
        outcome=hole_call.outcome,
        start_s=_figure(read.start_s, u_more=float(np.hypot(row_s, 0.0005))),
        hole_distance_m=_figure(read.hole_distance_m),
        start_direction_to_hole_deg=_figure(read.to_hole_deg),
        start_direction_to_gate_deg=_figure(read.to_gate_deg),
        launch_speed_m_s=_figure(read.launch_m_s, u_more=_U_LAUNCH * float(read.launch_m_s[0])),
        gate_result=gate_call.result,
        gate_offset_mm=_gate_offset(item, read, gate, gate_call),
        hole_offset_mm=NOT_MEASURED if unseen else _figure(offset, 1000.0),
        speed_at_hole_m_s=NOT_MEASURED if unseen else _figure(speed),
        lipped=hole_call.lipped,
        rest=_rest(item, read, hole_call, rest, hole_m),
        run_out_m=NOT_MEASURED if unseen else _run_out(read, hole_call, turned_away),
        confidence=round(gate_call.confidence * hole_call.confidence, 3),
        review=(*gate_call.review, *hole_call.review, *_thin(item)),
    )


def _gate_offset(item: CutRoll, read: Readings, gate: GateLine | None, call: GateCall) -> Figure:
    """By the fitted path; of a ball that was knocked aside, by what is seen of it just beyond the gate."""
    rows, u_more = read.gate_offset_m, 0.0
    if gate is not None and item.knocked and call.through:
        free = slice(0, item.near_hole)
        knocked = offset_after_knock(item.track.at_m[free], item.track.cov_m2[free], gate)
        if knocked is not None:
            offset_m, u_more = knocked
            rows = rows + (offset_m - rows[0]) if np.isfinite(rows[0]) else np.full_like(rows, offset_m)
    return _figure(rows, 1000.0, 1000.0 * u_more)


def _thin(item: CutRoll) -> tuple[str, ...]:
    if len(item.first.time_s) < 5:
        return (f"the start was seen in only {len(item.first.time_s)} frames",)
    return ()


def _rest(
    item: CutRoll, read: Readings, call: HoleCall, found_m: Floats | None, hole_m: Floats
) -> Rest | None:
    if call.outcome != "missed":
        return None
    if np.isfinite(read.rest_along_m[0]):
        return Rest(along_m=_figure(read.rest_along_m), right_m=_figure(read.rest_right_m))
    if found_m is None:
        return None
    line = hole_m - item.track.lie_m
    along = line / np.hypot(*line)
    away = found_m - item.track.lie_m
    return Rest(
        along_m=Figure(round(float(away @ along), 6), 0.02),
        right_m=Figure(round(float(away @ np.array([along[1], -along[0]])), 6), 0.02),
    )


def _run_out(read: Readings, call: HoleCall, turned_away: bool) -> Figure:
    """Where a missed ball came to rest; for a holed one, where its path would have ended."""
    if call.outcome == "missed" and np.isfinite(read.rest_along_m[0]):
        return _figure(read.rest_along_m - read.hole_distance_m)
    if turned_away:
        return NOT_MEASURED
    return _figure(read.roll_out_m, u_more=_U_UNSEEN_ROLL_M)


def _arrival_s(fit: RollsFit, number: int, hole_m: Floats) -> float:
    """When the fitted path is nearest to the hole, on the clip's clock; NaN where it stops short."""
    piece = fit.pieces[number]
    path = piece_paths(piece.piece, piece.own[None], fit.green[None])
    start = piece.own[3] if piece.piece.lie_m is not None else piece.clock_s
    time_s = np.linspace(0, float(path.time_s[0, -1]), 400)[None]
    states = path.at(time_s)[0]
    distance = np.hypot(*(states[:, :2] - hole_m).T)
    nearest = int(np.argmin(distance))
    if np.hypot(*states[nearest, 2:]) < 0.02 and distance[nearest] > 0.06:
        return float("nan")
    return float(start + time_s[0, nearest])


def _found_rest(item: CutRoll, where: _Where) -> Floats | None:
    """A ball that was lost and then found at rest where its path leads, and where none lay before; None
    where there is none."""
    if item.roll.end != "lost":
        return None
    last_s, last_m = float(item.track.time_s[-1]), item.track.at_m[-1]
    heading = item.track.at_m[-1] - item.track.at_m[max(0, len(item.track.at_m) - 6)]
    heading = heading / (np.hypot(*heading) + 1e-9)
    nearest_m = _SHOE_M if hole_covered(item) else _HOLE_SHOWS_M
    next_s = min((at_s for at_s in where.struck_s if at_s > last_s), default=np.inf)
    until_s = min(last_s + _TURNS_UP_S, next_s + _NEXT_ROLLS_S)
    lain_m = [lie_on_plane(lie, where.camera) for lie in where.found_later if lie.first_s < last_s]
    lain_m += [lie_on_plane(lie, where.camera) for lie in where.rested if lie.first_s < until_s]
    for lie in where.found_later:
        if not last_s < lie.first_s < until_s:
            continue
        at_m = lie_on_plane(lie, where.camera)
        if np.hypot(*(at_m - where.hole_m)) < nearest_m:
            continue
        if any(np.hypot(*(at_m - other_m)) < BALL_RADIUS_M for other_m in lain_m):
            continue
        away = at_m - last_m
        ahead = float(away @ heading)
        aside = abs(float(away @ np.array([heading[1], -heading[0]])))
        if -0.05 < ahead < 3.0 and aside < 0.05 + 0.2 * max(ahead, 0.0):
            return at_m
    return None


def _gate(readings: list[Readings]) -> Gate:
    """The gate, from the middle of the starts."""

    def middle(name: str) -> Floats:
        return np.asarray(np.median([getattr(r, name)[:11] for r in readings], axis=0))

    def spread(name: str) -> float:
        # every putt's rows carry the posts' uncertainty: the median putt stands for all; and the balls do
        # not all lie at one spot
        values = np.array([getattr(r, name)[0] for r in readings])
        scatter = float(np.std(values, ddof=1)) / np.sqrt(len(values)) if len(values) > 1 else 0.0
        return float(np.hypot(np.median([_u(getattr(r, name)) for r in readings]), scatter))

    return Gate(
        distance_m=Figure(
            round(float(middle("gate_distance_m")[0]), 6), round(K95 * spread("gate_distance_m"), 6)
        ),
        width_mm=Figure(
            round(1000 * (float(middle("gate_width_m")[0]) - POST_DIAMETER_M), 3),
            round(1000 * K95 * float(np.hypot(spread("gate_width_m"), U_POST_DIAMETER_M)), 3),
        ),
        square_deg=Figure(
            round(float(middle("gate_square_deg")[0]), 4), round(K95 * spread("gate_square_deg"), 4)
        ),
    )


def _stimp(fit: RollsFit, line_rad: float) -> Figure:
    """Level green speed from the common deceleration; fall along the line, hardly known, is taken as none."""
    brake, u_brake = level_deceleration(fit, line_rad)
    u = float(np.hypot(u_brake, slope_acceleration(GreenPrior().u_hidden_slope)))
    return Figure(
        round(stimp_from_deceleration(brake), 3), round(K95 * stimp_from_deceleration(brake) * u / brake, 3)
    )
