"""What rolled balls say of the green between ball and hole: speed, fall, break, where to aim.

Along the line, fall and friction act as one on balls that all roll one way; balls rolled back tell them
apart. So two speeds are given: ``plays_ft``, the Stimpmeter reading in the direction of the putt, which
any three rolls give, and ``stimp_ft``, that of the same green laid level.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.common_error import U_CENTRES_PX
from puttvision.ball.sightings import Roll
from puttvision.errors import GreenError
from puttvision.green.post_pair import PostPair
from puttvision.green.site import Site
from puttvision.green.spread import principal_steps
from puttvision.physics import (
    BALL_RADIUS_M,
    GRAVITY_M_S2,
    ROLL_SHARE,
    level_stimp,
    slope_acceleration,
    stimp_from_deceleration,
)
from puttvision.putt.assemble import K95, Readout
from puttvision.putt.ball_gate import find_ball_gate
from puttvision.putt.fit import GreenPrior, RollsFit, green_of
from puttvision.putt.free_rolls import FreeRoll, fit_free, free_rolls
from puttvision.putt.motion import paths
from puttvision.putt.pieces import is_putt
from puttvision.putt.track import on_plane
from puttvision.putt.vary import World, gate_line, worlds
from puttvision.putts import NOT_MEASURED, Figure

Floats = NDArray[np.float64]

WISHED_ROLLS = 3
PAST_M = 0.30
"""Pace as it comes: a ball that misses runs on by a foot (common practice: 30-45 cm)."""
STRAIGHT_M = BALL_RADIUS_M
"""A drill's straight putt breaks by less than a ball's radius: started true it drops well inside the rim
(common practice, no source)."""
_U_SURFACE = 0.025
"""Relative scatter of a roll's slowing by the surface alone (Karlsen & Nilsson 2008, abstract: 2.5 %)."""
_U_SLOPE_M_S2 = slope_acceleration(0.02)
_ALONG_DEG = 35.0
_NO_STOP_M_S2 = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class GreenReading:
    """The green along one line. Falls in per cent; positive downhill towards the hole, and to the right."""

    n_towards: int
    n_back: int
    n_other: int
    n_left_out: int
    distance_m: Figure
    """From where the balls were sent towards the hole, to its centre."""
    plays_ft: Figure
    stimp_ft: Figure
    fall_along_pct: Figure
    fall_right_pct: Figure
    past_m: float
    break_cm: Figure
    """Where a ball started straight at the hole's centre passes it, at this pace; right is positive."""
    aim_cm: Figure
    """Where to start the ball instead: beside the hole's centre, right positive."""
    straight: bool | None
    """Straight enough for a gate drill; None: it cannot be said yet."""
    round_m: Figure
    """How far round the hole the straight line lies, at the same distance: positive to the player's right
    as he stands at the ball; empty where the green is too level to say, or it straight as it is."""
    two_way_ft: float | None
    """Level speed by the published correction, 2 Su Sd / (Su + Sd), from each direction's own rolls."""


def read_green(
    rolls: list[Roll],
    site: Site,
    readout: Readout,
    past_m: float = PAST_M,
    *,
    u_ball_px: float = U_CENTRES_PX,
    no_gate: bool = False,
) -> GreenReading:
    """Read the green from a clip's rolls. ``u_ball_px``: what all ball centres may be off by together.

    Raises
    ------
    GreenError
        No ball rolled freely towards the hole, or balls do not stop on this slope.
    """
    camera = site.pose.camera
    hole_m = camera.to_plane(site.hole.at_px)
    posts = None if no_gate else _gate_posts(rolls, site, readout, hole_m)
    found = free_rolls(rolls, camera, readout.seconds, hole_m, gate_line(posts, camera))
    towards = [roll for roll in found if _angle_deg(roll, _line_rad(roll, hole_m)) < _ALONG_DEG]
    if not towards:
        raise GreenError(
            "no ball was seen to roll freely towards the hole: roll three along the line, each from rest"
        )
    lies = np.array([roll.cut.track.lie_m for roll in towards])
    lie = np.median(lies, axis=0)
    line_rad = float(np.arctan2(*(hole_m - lie)[::-1]))
    prior = GreenPrior(line_rad=line_rad, u_slope_side_m_s2=_U_SLOPE_M_S2, u_slope_along_m_s2=_U_SLOPE_M_S2)
    kept, fit = fit_free(found, prior)
    towards = [roll for roll in kept if _angle_deg(roll, line_rad) < _ALONG_DEG]
    back = [roll for roll in kept if _angle_deg(roll, line_rad) > 180 - _ALONG_DEG]
    if not towards:
        raise GreenError("the balls rolled towards the hole were touched or met something: roll three again")
    rows = _rows(site, posts, kept, fit, lie, u_ball_px)
    figures = _figures(rows, past_m)
    return GreenReading(
        n_towards=len(towards),
        n_back=len(back),
        n_other=len(kept) - len(towards) - len(back),
        n_left_out=len(found) - len(kept),
        past_m=past_m,
        straight=_straight(figures["break_cm"]),
        two_way_ft=_two_way_ft(towards, back, line_rad),
        **figures,
    )


def _gate_posts(rolls: list[Roll], site: Site, readout: Readout, hole_m: Floats) -> PostPair | None:
    """A ball gate that stands in the way: balls that touch it do not run freely after it."""
    camera = site.pose.camera
    lies = [
        track.lie_m
        for roll, track in ((roll, on_plane(roll, camera, readout.seconds)) for roll in rolls)
        if is_putt(track, hole_m, roll.settled_s, roll.gone_s)
    ]
    if not lies:
        return None
    lie = np.median(np.array(lies), axis=0)
    return find_ball_gate(site.still, camera, lie, hole_m)


def _line_rad(roll: FreeRoll, hole_m: Floats) -> float:
    """Heading of the line from a roll's start to the hole."""
    return float(np.arctan2(*(hole_m - roll.cut.track.lie_m)[::-1]))


def _angle_deg(roll: FreeRoll, line_rad: float) -> float:
    """Between a roll's heading and a line, 0 to 180."""
    return float(abs(np.degrees((roll.heading_rad - line_rad + np.pi) % (2 * np.pi) - np.pi)))


@dataclass(frozen=True, slots=True)
class _Rows:
    """The best estimate and that moved by one standard deviation of one thing, shapes (B, ...)."""

    green: Floats
    lie_m: Floats
    hole_m: Floats


def _rows(
    site: Site,
    posts: PostPair | None,
    kept: list[FreeRoll],
    fit: RollsFit,
    lie: Floats,
    u_ball_px: float,
) -> _Rows:
    piece_of = [(i, roll.by_hand) for i, roll in enumerate(kept)]
    all_worlds = worlds(site.pose, site.hole, posts, [roll.cut for roll in kept], piece_of, fit, u_ball_px)
    base = all_worlds[0]
    nearest = int(np.argmin([np.hypot(*(place - lie)) for place in base.lies_m]))
    rows = [_row(world, nearest, lie - base.lies_m[nearest]) for world in all_worlds]
    green, place, hole = rows[0]
    for step in principal_steps(fit.green_cov):
        rows.append((green + step, place, hole))
    rows += [(green + step, place, hole) for step in _surface(kept, green)]
    for px in principal_steps(site.hole.cov_px2):
        rows.append((green, place, site.pose.camera.to_plane(np.array(site.hole.at_px) + px)))
    greens, places, holes = (np.array(part) for part in zip(*rows, strict=True))
    return _Rows(greens, places, holes)


def _surface(kept: list[FreeRoll], green: Floats) -> Floats:
    """What the grass itself adds, as steps of the green's vector, shape (3, 4).

    No two rolls over one surface are alike: each roll's own slowing and bending scatter. Balls that all ran
    one way leave open how much of their slowing is fall: they know their sum.
    """
    scatter = _U_SURFACE * green[0]
    turn = np.array([roll.heading_rad for roll in kept])
    c, s, zero, one = np.cos(turn), np.sin(turn), np.zeros(len(turn)), np.ones(len(turn))
    # each roll tells slowing - pull along its heading, and pull across it
    design = np.concatenate([np.stack([one, -c, -s], axis=1), np.stack([zero, -s, c], axis=1)]) / scatter
    known = design.T @ design + np.diag([0.0, 1.0, 1.0]) / _U_SLOPE_M_S2**2
    return np.pad(principal_steps(np.linalg.inv(known)), ((0, 0), (0, 1)))


def _row(world: World, nearest: int, away: Floats) -> tuple[Floats, Floats, Floats]:
    return world.fit.green, world.lies_m[nearest] + away, world.hole_m


def _figures(rows: _Rows, past_m: float) -> dict[str, Figure]:
    line = rows.hole_m - rows.lie_m
    length = np.hypot(line[:, 0], line[:, 1])
    along = line / length[:, None]
    right = np.stack([along[:, 1], -along[:, 0]], axis=1)
    brake, slope = rows.green[:, 0], rows.green[:, 1:3]
    push, side = np.sum(slope * along, axis=1), np.sum(slope * right, axis=1)
    plays = brake - push
    if plays[0] < _NO_STOP_M_S2:
        raise GreenError("the green falls so steeply towards the hole that a ball does not stop on it")
    passing, aim = _straight_and_aimed(rows, length, along, right, past_m)
    round_m = _round(push, side, length)
    per_cent = 100 / (ROLL_SHARE * GRAVITY_M_S2)
    level = np.array([stimp_from_deceleration(float(a)) for a in np.maximum(brake, _NO_STOP_M_S2)])
    as_it_plays = np.array([stimp_from_deceleration(float(a)) for a in np.maximum(plays, _NO_STOP_M_S2)])
    break_cm = _figure(100 * passing)
    return {
        "distance_m": _figure(length),
        "plays_ft": _figure(as_it_plays),
        "stimp_ft": _figure(level),
        "fall_along_pct": _figure(per_cent * push),
        "fall_right_pct": _figure(per_cent * side),
        "break_cm": break_cm,
        "aim_cm": _figure(100 * aim),
        "round_m": NOT_MEASURED if _straight(break_cm) is not False else _figure(round_m, most_u95=1.0),
    }


def _figure(rows: Floats, most_u95: float = np.inf) -> Figure:
    u = float(np.sqrt(np.nansum((rows[1:] - rows[0]) ** 2)))
    if not np.isfinite(rows[0]) or K95 * u > most_u95:
        return NOT_MEASURED
    return Figure(round(float(rows[0]), 4), round(K95 * u, 4))


def _straight_and_aimed(
    rows: _Rows, length: Floats, along: Floats, right: Floats, past_m: float
) -> tuple[Floats, Floats]:
    """Where a ball started straight at the hole passes it, and where one that meets its centre is aimed.

    Both at the pace that rolls ``past_m`` beyond the hole: metres right of the centre, shape (B,).
    """
    base = np.arctan2(along[:, 1], along[:, 0])
    brake = np.maximum(rows.green[:, 0], _NO_STOP_M_S2)
    speed = np.sqrt(2 * brake * (length + past_m)) * 1.25
    turn = np.zeros(len(length))

    def rolled(turn: Floats, speed: Floats) -> tuple[Floats, Floats]:
        """Where it passes the hole to the right, and how far it comes along the line."""
        path = paths(rows.lie_m, base - turn, speed, green_of(rows.green))
        grid = np.linspace(0, 1, 240)[None] * path.time_s[:, -1:]
        states = path.at(grid)
        away = states[..., :2] - rows.lie_m[:, None]
        ahead = np.sum(away * along[:, None], axis=2)
        aside = np.sum(away * right[:, None], axis=2)
        passing = np.array([np.interp(n, a, s) for n, a, s in zip(length, ahead, aside, strict=True)])
        return passing, ahead[:, -1]

    straight = turn
    for _ in range(12):  # the pace of a ball started straight
        straight, reach = rolled(turn, speed)
        speed = speed * np.sqrt(np.clip((length + past_m) / np.maximum(reach, 0.05), 0.5, 2.0))
    first = straight.copy()
    for _ in range(12):  # turn it against what it breaks, hold the pace
        passing, reach = rolled(turn, speed)
        turn = np.clip(turn - passing / length, -0.8, 0.8)
        speed = speed * np.sqrt(np.clip((length + past_m) / np.maximum(reach, 0.05), 0.5, 2.0))
    return first, np.tan(turn) * length


def _round(push: Floats, side: Floats, length: Floats) -> Floats:
    """Metres round the hole to where the line runs straight down or up the fall, the nearer of the two.

    Seen from the ball, positive to the right. A ball moved to the right looks more to the left.
    """
    fall = np.arctan2(side, push)  # of the fall's direction, to the right of the line
    turn = np.where(np.abs(fall) > np.pi / 2, fall - np.sign(fall) * np.pi, fall)
    return np.asarray(-turn * length)


def _straight(break_cm: Figure) -> bool | None:
    """Whether the line breaks by less than the limit; None where the limit lies well inside the interval."""
    if break_cm.value is None:
        return None
    over = abs(break_cm.value) - 100 * STRAIGHT_M
    return None if abs(over) < 0.5 * (break_cm.u95 or 0.0) else over < 0


def _two_way_ft(towards: list[FreeRoll], back: list[FreeRoll], line_rad: float) -> float | None:
    """The published correction from each direction's own rolls, fitted as if the line were level."""
    if not towards or not back:
        return None
    prior = replace(GreenPrior(line_rad=line_rad, u_deceleration_m_s2=1.0), u_slope_along_m_s2=1e-4)
    readings = [stimp_from_deceleration(float(fit_free(some, prior)[1].green[0])) for some in (towards, back)]
    return round(level_stimp(readings[0], readings[1]), 3)
