"""Cutting a roll into free stretches: before a gate's posts, after them, up to the hole.

A ball that meets a post or the rim turns there; a fit across the knock would be wrong by degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.sightings import Roll
from puttvision.green.camera import Camera
from puttvision.physics import HOLE_RADIUS_M
from puttvision.putt.fit import Piece
from puttvision.putt.gate import CONTACT_M, Crossing, GateLine, crossing
from puttvision.putt.knocks import NEAR_GATE_M, checked_at, checked_before
from puttvision.putt.track import PlaneTrack, lie_cov_m2, on_plane

Floats = NDArray[np.float64]

_RIM_M = HOLE_RADIUS_M + 0.006
"""Nearer to the hole's middle the ball may be dropping or have met the rim."""
_GATE_M = CONTACT_M
"""Sightings this close before the gate's line may already show the knock."""
_TURN_SIGMA = 4.0
_TURN_RAD = np.radians(1.0)
"""A turn at the gate that is a knock: clearly above its uncertainty and above what grass does."""
_PLAIN_TURN_RAD, _GRAZED_M = np.radians(3.0), 0.008
"""A smaller turn is a graze, and only of a ball that came so close to a post: what the picture bends by less
on a ball that stays clear of both is no knock."""
_SPEED_KEPT, _MOST_BRAKE_M_S2, _APART_M = 0.6, 1.0, 0.3
"""A green of 6 ft brakes by 0.9 m/s^2 (Stimpmeter: 1.83 m/s over its reading); the speeds are means of
stretches whose middles are so far apart."""
_U_SIDE_M = 0.0004
"""Shadow of putter and player falls on the ball at rest: its place may be off the path by so much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRoll:
    """A roll, its track and its free stretches."""

    roll: Roll
    track: PlaneTrack
    first: Piece
    first_used: NDArray[np.intp]
    """Which sightings the first piece holds."""
    later: Piece | None
    """After a knock at the gate; None where there was none, or too little was seen of it."""
    later_used: NDArray[np.intp]
    crossing: Crossing | None
    knocked: bool
    near_hole: int
    """Index of the first sighting over the hole; the number of sightings where there is none."""


def cut(roll: Roll, camera: Camera, readout_s: float, hole_m: Floats, gate: GateLine | None) -> CutRoll:
    """Cut one roll."""
    track = on_plane(roll, camera, readout_s)
    n = len(track.time_s)
    to_hole = np.hypot(*(track.at_m - hole_m).T)
    over = np.nonzero(to_hole < _RIM_M)[0]
    near_hole = int(over[0]) if len(over) else n
    meeting: Crossing | None = None
    knocked = False
    end = near_hole
    start_later = n
    if gate is not None:
        free = slice(0, near_hole)
        meeting = crossing(track.time_s[free], track.at_m[free], track.cov_m2[free], gate)
        ahead = (track.at_m - gate.centre_m) @ gate.normal
        if meeting.index == near_hole:
            # never got through: stopped or turned back where it came closest
            knocked = True
            closest = int(np.argmax(ahead[:near_hole])) if near_hole else 0
            end = int(np.argmax(ahead > ahead[closest] - 0.02)) if closest else end
            start_later = closest + 1
        else:
            checked = checked_at(track, near_hole)
            knocked = (
                (checked is not None and abs(float(ahead[checked])) < NEAR_GATE_M)
                or _slowed(meeting)
                or _turned(meeting, gate.clearance_m(track.at_m, meeting.index))
            )
            if knocked:
                end = min(int(np.argmax(ahead > -_GATE_M)), checked_before(track.time_s, ahead))
                start_later = meeting.index + 1
    else:
        checked = checked_at(track, near_hole)
        if checked is not None:
            knocked, end, start_later = True, checked, checked + 1
    used = np.arange(min(end, near_hole))
    later_used = np.arange(start_later, near_hole) if knocked else np.arange(0)
    side = lie_cov_m2(roll.start, camera)
    first = _piece(track, used, track.lie_m, float(np.sqrt(np.trace(side) / 2 + _U_SIDE_M**2)))
    later = _piece(track, later_used, None, 0.001) if len(later_used) >= 4 else None
    return CutRoll(
        roll=roll,
        track=track,
        first=first,
        first_used=used,
        later=later,
        later_used=later_used,
        crossing=meeting,
        knocked=knocked,
        near_hole=near_hole,
    )


def _slowed(meeting: Crossing) -> bool:
    """Whether a ball has lost more of its speed at the gate than grass can take."""
    grass_m2_s2 = 2 * _MOST_BRAKE_M_S2 * _APART_M
    return meeting.went_m_s < _SPEED_KEPT * meeting.came_m_s and (
        meeting.went_m_s**2 < meeting.came_m_s**2 - grass_m2_s2
    )


def _turned(meeting: Crossing, clearance_m: float) -> bool:
    """Whether a ball has turned at the gate."""
    turn = abs(meeting.turn_rad)
    return turn > max(_TURN_RAD, _TURN_SIGMA * meeting.u_turn_rad) and (
        turn > _PLAIN_TURN_RAD or clearance_m < _GRAZED_M
    )


def _piece(track: PlaneTrack, used: NDArray[np.intp], lie_m: Floats | None, u_lie_m: float) -> Piece:
    return Piece(
        time_s=track.time_s[used],
        at_m=track.at_m[used],
        cov_m2=track.cov_m2[used],
        lie_m=lie_m,
        u_lie_m=u_lie_m,
    )


def is_putt(track: PlaneTrack, hole_m: Floats, settled_s: float, gone_s: float = np.inf) -> bool:
    """Whether a roll is a putt: struck from rest, freely rolling, towards the hole.

    A ball that is raked or carried is moved by degrees, not struck; a putter's head or a shoe moves by
    jerks; one that is sent back rolls away from the hole. ``settled_s``: how long it had been at rest;
    ``gone_s``: from when it was last seen there to when it was first seen under way.
    """
    away = track.at_m - track.lie_m
    distance = np.hypot(*away.T)
    line = hole_m - track.lie_m
    length = float(np.hypot(*line))
    if len(track.time_s) < _FEWEST or track.time_s[-1] - track.time_s[0] < _SHORTEST_S:
        return False
    if length < 0.45 or distance.max() < min(0.25, 0.3 * length) or settled_s < _SETTLED_S:
        return False
    if distance[0] > _FASTEST_M_S * max(gone_s, _ONE_FRAME_S):
        return False
    early = distance < max(0.35, 0.15 * length)
    early[: min(4, len(early))] = True
    heading = away[early][-1]
    cosine = float(heading @ line) / (float(np.hypot(*heading)) * length + 1e-12)
    if cosine < np.cos(np.radians(35.0)):
        return False
    u_m = float(np.sqrt(np.median(np.trace(track.cov_m2, axis1=1, axis2=2))))
    seen = _start_seen(track.time_s, away, line / length, gone_s, u_m)
    return seen and _struck(track.time_s, distance) and _rolls_freely(track.time_s, distance, u_m)


_SETTLED_S = 0.15
"""A ball was seen at its place for at least so long: one that rolls past is there for a frame or two."""
_FEWEST, _SHORTEST_S = 6, 0.25
"""Less of a roll shows nothing of a putt."""
_STRUCK_M_S = 0.25
"""Slower than this is a nudge: it rolls 5 cm."""
_FASTEST_M_S, _ONE_FRAME_S = 6.0, 1 / 30
"""Faster is a hand or a shoe: a ball so struck runs 20 m on a green of 10 ft, far beyond any hole in view."""


def _struck(time_s: Floats, distance_m: Floats) -> bool:
    """Fastest at once: the mean speed of the first stretch is hardly below the fastest later on."""
    reach = min(0.6, 0.8 * float(distance_m.max()))
    stretches = np.linspace(0.0, reach, 4)
    index = np.searchsorted(np.maximum.accumulate(distance_m), stretches)
    index = np.clip(index, 0, len(time_s) - 1)
    index[0] = 0
    speeds = [
        (distance_m[b] - distance_m[a]) / (time_s[b] - time_s[a])
        for a, b in pairwise(index)
        if b > a and time_s[b] > time_s[a]
    ]
    if not speeds or speeds[0] < _STRUCK_M_S:
        return False
    return bool(speeds[0] > 0.8 * max(speeds))


_STARTS_WITHIN_M, _STARTS_WITHIN_S = 0.20, 0.12
"""Of a ball that first shows farther from where it lay, and later, the start was not seen."""
_COMES_WITHIN_S, _COMES_SIGHTINGS = 0.17, 8
_COMES_FROM_M, _COMES_SIGMA = 0.010, 3.0
"""Unless it comes, but so much later, straight from where it lay: to this or so many of a sighting's
deviations."""


def _start_seen(time_s: Floats, away_m: Floats, along: Floats, gone_s: float, u_m: float) -> bool:
    """Whether so little is missing of the way from the lie that it was this ball which lay there.

    ``away_m``: shape (n, 2), from the lie; ``along``: unit vector to the hole, shape (2,); ``gone_s``: as in
    ``is_putt``; ``u_m``: of one sighting.
    """
    distance_m = np.hypot(*away_m.T)
    first_speed = float((distance_m[1] - distance_m[0]) / max(time_s[1] - time_s[0], 1e-6))
    if distance_m[0] <= max(_STARTS_WITHIN_M, _STARTS_WITHIN_S * first_speed):
        return True
    unseen_s = float(distance_m[0]) / max(first_speed, 1e-6)
    if unseen_s > min(_COMES_WITHIN_S, gone_s):
        return False
    first = away_m[:_COMES_SIGHTINGS]
    aside_m = first @ np.array([along[1], -along[0]])
    at_lie_m = np.polynomial.Polynomial.fit(first @ along, aside_m, 1)(0.0)
    return bool(abs(at_lie_m) < np.hypot(_COMES_FROM_M, _COMES_SIGMA * u_m))


_FREE_M, _FREE_S, _FREE_FEWEST = 0.30, 0.25, 5
_FREE_RMS_M, _FREE_SIGMA = 0.006, 1.5
"""Misfit of a steadily slowing way: of the ball on its grass, and in deviations of a sighting."""
_LEAST_SLOWING_M_S2 = 0.1
"""A ball that skids and then rolls slows down by 0.3 m/s2 and more, on fast greens downhill by less."""


def _rolls_freely(time_s: Floats, distance_m: Floats, u_m: float) -> bool:
    """Whether the first hand's breadths are those of a free ball that steadily slows.

    ``u_m``: of one sighting; seen flat from afar a ball seems to jump.
    """
    farthest = int(np.argmax(distance_m)) + 1  # a post may send it back
    since_s = time_s - time_s[0]
    short = distance_m > _FREE_M
    # a fast ball is through that length in a few frames, which do not show it slowing
    ends = [int(np.argmax(np.append(stretch, True))) for stretch in (short, short & (since_s > _FREE_S))]
    return any(
        _slows(since_s[:n], distance_m[:n], u_m)
        for n in (min(max(end, _FREE_FEWEST), farthest) for end in ends)
    )


def _slows(since_s: Floats, distance_m: Floats, u_m: float) -> bool:
    """Whether a stretch is that of a ball that slows down steadily."""
    if len(since_s) < 4:
        return False
    curve = np.polynomial.Polynomial.fit(since_s, distance_m, 2).convert()
    misfit = float(np.sqrt(np.mean((curve(since_s) - distance_m) ** 2)))
    most_m = float(np.hypot(_FREE_RMS_M, _FREE_SIGMA * u_m))
    return misfit < most_m and -2 * float(curve.coef[2]) > _LEAST_SLOWING_M_S2


def is_laid(rest_m: Floats | None, lies_m: Floats) -> bool:
    """Whether a roll that ended at ``rest_m`` only brought a ball to a place that is putted from.

    ``lies_m``: shape (n, 2), of all other putts. One putt from there is the next stroke of a ball played
    on; two are a tee.
    """
    if rest_m is None or len(lies_m) == 0:
        return False
    return int(np.count_nonzero(np.hypot(*(lies_m - rest_m).T) < _SAME_TEE_M)) >= 2


_SAME_TEE_M = 0.03
