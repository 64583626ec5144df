"""From a player's stroke to the chance of holing and of passing a gate; and back.

The models are those of A. Gelman, "Model building and expansion for golf putting" (Stan case study,
2019), after Gelman and Nolan (2002) and Broadie (2018):

- direction: the start angle is normal with standard deviation ``start_spread_deg``; the ball is on
  line where it is within asin((R - r)/x), R and r the radii of hole and ball, x the distance;
- pace: the player aims ``AIM_PAST_M`` past the hole, the length rolled is normal with a standard
  deviation of ``pace_spread`` times that, and the ball drops where it would have rolled to between
  the hole and ``PACE_WINDOW_M`` past it. Without a pace spread every ball on line drops.

What the models leave out: slope and break, the green's bumps, a hole that takes less at its edge.
Distances are metres, angles degrees, right of the line and past the hole positive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from puttvision.physics import BALL_RADIUS_M, FOOT_M

INCH_M = FOOT_M / 12
HOLE_GAP_M = (4.25 - 1.68) / 2 * INCH_M
"""R - r from the Rules of Golf in inches, which the published estimates used (metric: 32.665 mm)."""
AIM_PAST_M = 1 * FOOT_M
"""Broadie 2018, an input, not an estimate; so is the next."""
PACE_WINDOW_M = 3 * FOOT_M


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a player's putts scatter; standard deviations."""

    start_spread_deg: float
    pace_spread: float | None = None
    """Share of the length rolled (0.08: 8 %); None: pace is left out of the chance of holing."""
    start_bias_deg: float = 0.0
    """Mean start direction, right positive; 0 in the published models."""

    def __post_init__(self) -> None:
        if not 0 < self.start_spread_deg < 45:
            raise ValueError(
                f"a start-line spread is above 0 and under 45 degrees, got {self.start_spread_deg}"
            )
        if self.pace_spread is not None and not 0 < self.pace_spread < 1:
            raise ValueError(f"a pace spread is a share between 0 and 1, got {self.pace_spread}")
        if not abs(self.start_bias_deg) < 45:
            raise ValueError(f"a start-line bias is under 45 degrees, got {self.start_bias_deg}")


TOUR = Stroke(1.020, 0.080)
"""Gelman 2019, direction and pace, fitted to tour putts of 2016-2018; `stroke_fit.py` gives it again."""


def normal(z: float) -> float:
    """The standard normal distribution function."""
    return 0.5 * math.erfc(-z / math.sqrt(2))


def hole_half_angle_deg(distance_m: float) -> float:
    """Largest start angle of a ball on line; 90 where it starts inside the hole's reach."""
    if not distance_m > 0:
        raise ValueError(f"a putt's distance is above 0 m, got {distance_m}")
    return math.degrees(math.asin(min(1.0, HOLE_GAP_M / distance_m)))


def gate_half_angle_deg(ahead_m: float, width_mm: float) -> float:
    """Largest start angle of a ball that passes clear through a gate square to the line; 0: it cannot.

    ``ahead_m``: from the ball to the gate. ``width_mm``: the clear opening between the posts.
    """
    if not (ahead_m > 0 and width_mm > 0):
        raise ValueError(f"a gate lies ahead and is open, got {ahead_m} m ahead, {width_mm} mm wide")
    room_m = width_mm / 2000 - BALL_RADIUS_M
    return math.degrees(math.atan(room_m / ahead_m)) if room_m > 0 else 0.0


def within_chance(stroke: Stroke, half_angle_deg: float) -> float:
    """Chance that a putt starts within this angle of the line, either side."""
    if half_angle_deg >= 90:
        return 1.0
    left = (-half_angle_deg - stroke.start_bias_deg) / stroke.start_spread_deg
    right = (half_angle_deg - stroke.start_bias_deg) / stroke.start_spread_deg
    # from the nearer tail, so that small chances keep their digits
    return normal(right) - normal(left) if left + right < 0 else normal(-left) - normal(-right)


def pace_chance(stroke: Stroke, distance_m: float) -> float:
    """Chance that the pace lets a ball on line drop; 1 where the stroke has no pace spread."""
    if stroke.pace_spread is None:
        return 1.0
    spread_m = (distance_m + AIM_PAST_M) * stroke.pace_spread
    return normal((PACE_WINDOW_M - AIM_PAST_M) / spread_m) - normal(-AIM_PAST_M / spread_m)


def make_chance(stroke: Stroke, distance_m: float) -> float:
    """Chance of holing a straight, level putt from ``distance_m``."""
    return within_chance(stroke, hole_half_angle_deg(distance_m)) * pace_chance(stroke, distance_m)


def gate_chance(stroke: Stroke, ahead_m: float, width_mm: float) -> float:
    """Chance of passing clear through the gate.

    A ball that touches a post and gets through all the same is not in it, so it is a little low.
    """
    half_deg = gate_half_angle_deg(ahead_m, width_mm)
    return within_chance(stroke, half_deg) if half_deg > 0 else 0.0


def make_and_gate_chance(stroke: Stroke, distance_m: float, ahead_m: float, width_mm: float) -> float:
    """Chance of doing both with one putt: the smaller angle decides the line."""
    half_deg = min(hole_half_angle_deg(distance_m), gate_half_angle_deg(ahead_m, width_mm))
    return within_chance(stroke, half_deg) * pace_chance(stroke, distance_m) if half_deg > 0 else 0.0


def distance_for_chance(stroke: Stroke, chance: float) -> float:
    """Distance in metres from which a putt is holed with ``chance``; further off it is less."""
    if not 0 < chance < 1:
        raise ValueError(f"a chance between 0 and 1 was due, got {chance}")
    near, far = 1e-3, 1.0
    while make_chance(stroke, far) > chance:
        near, far = far, 2 * far
        if far > 1e6:
            raise ValueError(f"this stroke holes more than {chance} from any distance")
    for _ in range(100):
        middle = (near + far) / 2
        near, far = (middle, far) if make_chance(stroke, middle) > chance else (near, middle)
    return (near + far) / 2
