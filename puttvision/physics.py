"""Ball, hole and rolling: pure formulas, SI units, each with its source.

Constants and sources: Rules of Golf, Definition "Hole", and Equipment Rules (ball size);
Holmes 1991, Am. J. Phys. 59, 129-136; Penner 2002, Can. J. Phys. 80, 83-96; USGA, Stimpmeter
Instruction Booklet. The release speed of the Stimpmeter is Holmes's 6.00 ft/s.
"""

from __future__ import annotations

import math

GRAVITY_M_S2 = 9.80665
"""Standard gravity, exact by definition."""
FOOT_M = 0.3048
BALL_RADIUS_M = 0.021335
"""Half of 42.67 mm, the smallest diameter the Equipment Rules allow."""
HOLE_RADIUS_M = 0.054
"""Half of 108 mm, Rules of Golf, Definition "Hole"."""
LINER_DEPTH_M = 0.0254
"""A lining is sunk at least 1 in below the surface, Rules of Golf, Definition "Hole"."""
STIMP_RELEASE_M_S = 1.83
ROLL_SHARE = 5.0 / 7.0
"""Share of launch speed left when a solid sphere that started without spin begins to roll."""
SLIDING_FRICTION = 0.4
"""Ball on grass, about 0.3-0.5 (Penner 2002, from memory)."""
CAPTURE_SPEED_M_S = 1.63
"""Fastest ball, dead centre, that a hole takes (Holmes 1991)."""


def feet(metres: float) -> float:
    """Metres to feet."""
    return metres / FOOT_M


def metres(feet_: float) -> float:
    """Feet to metres."""
    return feet_ * FOOT_M


def deceleration_from_stimp(stimp_ft: float) -> float:
    """Rolling deceleration in m/s2 on the level: a = v0^2 / (2 d), d the Stimpmeter reading."""
    if not stimp_ft > 0:
        raise ValueError(f"a Stimpmeter reading is above 0 ft, got {stimp_ft}")
    return STIMP_RELEASE_M_S**2 / (2 * metres(stimp_ft))


def stimp_from_deceleration(deceleration_m_s2: float) -> float:
    """Stimpmeter reading in feet of a level green with this rolling deceleration in m/s2."""
    if not deceleration_m_s2 > 0:
        raise ValueError(f"a rolling ball slows down, got {deceleration_m_s2} m/s2")
    return feet(STIMP_RELEASE_M_S**2 / (2 * deceleration_m_s2))


def slope_acceleration(slope: float) -> float:
    """Acceleration in m/s2 of a rolling solid sphere down a plane that falls ``slope`` (0.01 = 1 %).

    (5/7) g sin(phi), textbook mechanics; Penner 2002, Eq. 36.
    """
    return ROLL_SHARE * GRAVITY_M_S2 * math.sin(math.atan(slope))


def level_stimp(up_ft: float, down_ft: float) -> float:
    """Level reading from one up and one down the slope: 2 Su Sd / (Su + Sd) (Brede 1990)."""
    return 2 * up_ft * down_ft / (up_ft + down_ft)


def skid_time(launch_m_s: float, friction: float = SLIDING_FRICTION) -> float:
    """Seconds until a sphere launched without spin rolls: 2 v0 / (7 mu g)."""
    return 2 * launch_m_s / (7 * friction * GRAVITY_M_S2)


def skid_length(launch_m_s: float, friction: float = SLIDING_FRICTION) -> float:
    """Metres covered while it skids: 12 v0^2 / (49 mu g)."""
    return 12 * launch_m_s**2 / (49 * friction * GRAVITY_M_S2)


def capture_speed(offset_m: float) -> float:
    """Fastest speed in m/s at which the hole takes a ball whose path passes ``offset_m`` from its
    centre: 1.63 (1 - (d/R)^2), Penner 2002, Eq. 23; 0 outside the hole."""
    return CAPTURE_SPEED_M_S * max(0.0, 1 - (offset_m / HOLE_RADIUS_M) ** 2)


def capture_offset(speed_m_s: float) -> float:
    """Largest offset in metres at which a ball at this speed is taken: R sqrt(1 - v/1.63)."""
    return HOLE_RADIUS_M * math.sqrt(max(0.0, 1 - speed_m_s / CAPTURE_SPEED_M_S))


def rolling_speed_for(run_m: float, deceleration_m_s2: float) -> float:
    """Speed in m/s that rolls ``run_m`` further on the level: sqrt(2 a s)."""
    return math.sqrt(2 * deceleration_m_s2 * run_m)
