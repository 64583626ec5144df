"""The calls: what happened at the gate and at the hole, how sure, and what a person should look at.

A call needs evidence in the picture. A ball that is gone is holed only if it was seen arriving and
the hole was in free view; what the clip does not show is ``unseen``, never a guess.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from puttvision.physics import BALL_RADIUS_M, HOLE_RADIUS_M, capture_speed
from puttvision.putt.gate import GateLine
from puttvision.putt.pieces import CutRoll
from puttvision.putts import GateResult, Outcome

Floats = NDArray[np.float64]

_ARRIVES_S = 0.30
"""A ball last seen so short of the hole in time has arrived there."""
_COVERED = 0.45
"""How unlike itself the hole may look (``HoleView.covered``) before something stands in the view."""
_FREE_WITHIN_S = 0.8
_STOPPED_M, _STOPS_DEAD_S = 0.010, 0.3
_LAST_S, _NEARLY_AT_REST_M_S, _SHORT_M = 0.2, 0.2, 0.15
"""A ball as slow as this rolls on by 5 cm, and does not come to a hole so far away."""
_OVER_HOLE_M = HOLE_RADIUS_M - 0.001


@dataclass(frozen=True, slots=True)
class GateCall:
    """What the ball did at the gate."""

    result: GateResult
    through: bool
    confidence: float
    review: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class HoleCall:
    """What happened at the hole."""

    outcome: Outcome
    lipped: bool
    confidence: float
    review: tuple[str, ...]


NO_GATE = GateCall("none", through=False, confidence=1.0, review=())


def passes_gate(cut: CutRoll, gate: GateLine) -> bool:
    """Whether the sightings go over the gate's line between the posts."""
    meeting = cut.crossing
    if meeting is None or meeting.index >= cut.near_hole or meeting.index == 0:
        return False
    lateral = gate.lateral_m(cut.track.at_m, meeting.index)
    # between two sightings a knocked ball goes round a corner: half a ball's allowance
    return abs(lateral) < gate.opening_m / 2 + (BALL_RADIUS_M / 2 if cut.knocked else 0.002)


def call_gate(cut: CutRoll, gate: GateLine, offset_m: float | None, u_offset_m: float) -> GateCall:
    """Call the gate. ``offset_m``: of the ball's centre on the gate's line, None where it never came
    through."""
    if not passes_gate(cut, gate):
        sure = 0.97 if cut.knocked else 0.99
        return GateCall("outside", through=False, confidence=sure, review=())
    free = gate.opening_m / 2 - BALL_RADIUS_M
    if cut.knocked:
        return GateCall("touched", through=True, confidence=0.97, review=())
    if offset_m is None:
        return GateCall(
            "clear", through=True, confidence=0.8, review=("where it passed the gate is not seen",)
        )
    clearance = free - abs(offset_m)
    p_touch = float(ndtr(-clearance / max(u_offset_m, 1e-4)))
    side = "right" if offset_m > 0 else "left"
    review: tuple[str, ...] = ()
    if abs(clearance) < 2 * u_offset_m:
        review = (f"passed the {side} post by about {max(clearance, 0) * 1000:.0f} mm: touched or not?",)
    # a ball that meets a post is turned by degrees; this one ran on straight
    if clearance < -2.5 * u_offset_m:
        return GateCall("touched", through=True, confidence=0.7, review=review)
    return GateCall(
        "clear", through=True, confidence=float(np.clip(1 - 0.5 * p_touch, 0.5, 0.99)), review=review
    )


def call_hole(
    cut: CutRoll,
    hole_m: Floats,
    offset_m: float,
    u_offset_m: float,
    speed_m_s: float,
    arrival_s: float,
    found_later: bool,
    lens_m: Floats,
) -> HoleCall:
    """Call the outcome.

    Parameters
    ----------
    cut : the roll
    hole_m : shape (2,)
    offset_m, u_offset_m : of the fitted path at the hole; NaN where it stops short
    speed_m_s : of the fitted path at the hole
    arrival_s : when the fitted path comes to the hole; NaN where it does not
    found_later : the ball was found at rest after it had been lost
    lens_m : shape (3,), the camera's place
    """
    track = cut.track
    to_hole = np.hypot(*(track.at_m - hole_m).T)
    over = bool((to_hole < _OVER_HOLE_M).any())
    roll = cut.roll
    if roll.end == "rest" and over and _dropped(cut, hole_m):
        return HoleCall("holed", False, 0.95, ())
    if roll.end == "rest" and track.rest_m is not None:
        rest_m = track.rest_m - hole_m
        if np.hypot(*rest_m) < 0.8 * HOLE_RADIUS_M or (over and _shows_in_hole(rest_m, lens_m[:2] - hole_m)):
            return HoleCall("holed", False, 0.8, ("the ball was last seen at rest in the hole",))
        return HoleCall("missed", over, 0.99 if not over else 0.95, ())
    if found_later:
        return HoleCall("missed", over, 0.9, ("the ball was out of sight for a while",))
    last_s = float(track.time_s[-1])
    line = (hole_m - track.lie_m) / float(np.hypot(*(hole_m - track.lie_m)))
    if float((track.at_m[-1] - hole_m) @ line) > _beyond_m(hole_m, line, lens_m):
        why = "left the picture" if roll.end == "left" else "was lost from sight"
        return HoleCall("missed", over, 0.9, (f"the ball {why} beyond the hole",))
    misses = bool(np.isfinite(offset_m)) and abs(offset_m) > HOLE_RADIUS_M + max(0.02, 3 * u_offset_m)
    arrives = bool(np.isfinite(arrival_s)) and (
        over or to_hole[-1] < 0.10 or -0.05 < arrival_s - last_s < _ARRIVES_S
    )
    if arrives and not misses:
        if hole_covered(cut):
            return HoleCall("unseen", False, 0.5, ("something hid the hole when the ball came there",))
        fits = abs(offset_m) < HOLE_RADIUS_M and speed_m_s < 1.15 * capture_speed(offset_m) + 0.1
        review = () if fits or over else ("the ball is gone at the hole, though its path does not lead in",)
        return HoleCall("holed", False, 0.98 if fits else 0.85, review)
    slow = _last_speed_m_s(track.time_s, track.at_m) < _NEARLY_AT_REST_M_S
    if slow and not arrives and to_hole[-1] > _SHORT_M:
        return HoleCall("missed", False, 0.9, ("the ball was last seen as it came to rest",))
    if misses and arrives:
        return HoleCall("missed", False, 0.8, ("the ball was lost from sight beside the hole",))
    return HoleCall("unseen", False, 0.5, ("the ball was lost from sight before the hole",))


def _shows_in_hole(rest_m: Floats, to_lens_m: Floats) -> bool:
    """Whether a ball that lies down in the hole shows there, both from the hole: it seems to lie towards the
    lens, by less than would clear the rim."""
    towards = to_lens_m / float(np.hypot(*to_lens_m))
    aside = abs(float(rest_m @ np.array([-towards[1], towards[0]])))
    return (
        0 < float(rest_m @ towards) < HOLE_RADIUS_M + BALL_RADIUS_M and aside < HOLE_RADIUS_M - BALL_RADIUS_M
    )


def _beyond_m(hole_m: Floats, line: Floats, lens_m: Floats) -> float:
    """How far past the hole's middle a ball has to show to be past the hole.

    One that falls into it seems to come towards the lens, as far as a ball shows over the rim: a ray through
    the rim passes the level of balls' centres at a ball's radius over the tangent of its elevation.
    """
    towards = lens_m[:2] - hole_m
    nearing = float(towards @ line) / max(float(lens_m[2]), 1e-6)
    return HOLE_RADIUS_M + BALL_RADIUS_M + BALL_RADIUS_M * max(nearing, 0.0) + _STOPPED_M


def _last_speed_m_s(time_s: Floats, at_m: Floats) -> float:
    """Speed over the last moments seen; infinite where too little is seen."""
    last = time_s > time_s[-1] - _LAST_S
    if np.count_nonzero(last) < 3:
        return float("inf")
    velocity = np.polyfit(time_s[last] - time_s[-1], at_m[last], 1)[0]
    return float(np.hypot(*velocity))


def _dropped(cut: CutRoll, hole_m: Floats) -> bool:
    """Whether a ball that was over the hole stopped dead at it: what still shows there is in the hole.

    On the grass it would roll on: from walking pace a ball does not stop within a ball's width.
    """
    track = cut.track
    if track.rest_m is None:
        return False
    if np.hypot(*(track.rest_m - hole_m)) > HOLE_RADIUS_M + 2 * BALL_RADIUS_M:
        return False
    last_over = np.nonzero(np.hypot(*(track.at_m - hole_m).T) < _OVER_HOLE_M)[0][-1]
    moving = np.hypot(*(track.at_m - track.rest_m).T) > _STOPPED_M
    moved = np.nonzero(moving)[0]
    stopped_s = track.time_s[min(moved[-1] + 1, len(moving) - 1)] if len(moved) else track.time_s[0]
    return bool(stopped_s - track.time_s[last_over] < _STOPS_DEAD_S)


def hole_covered(cut: CutRoll) -> bool:
    """Whether something stood before the hole when the ball was last seen and just after."""
    last_s = float(cut.track.time_s[-1])
    shares = [share for t, share in cut.roll.hole_covered if last_s - 0.05 <= t <= last_s + _FREE_WITHIN_S]
    return not shares or float(np.median(shares)) > _COVERED
