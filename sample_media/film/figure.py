"""The player's body as rounded cones and ellipsoids, and the joints that the arms hang from.

Figure frame for a right-handed player: origin at the ball, x to the target, y from the ball to the player; a
left-handed player is its mirror.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_media.film.scene import Golfer, Point3, Rgb


@dataclass(frozen=True, slots=True)
class Cone:
    """Rounded cone from ``a`` (radius ``ra``) to ``b`` (radius ``rb``)."""

    a: Point3
    b: Point3
    ra: float
    rb: float


@dataclass(frozen=True, slots=True)
class Egg:
    """Ellipsoid, turned about z."""

    centre: Point3
    radii: Point3
    turn_rad: float = 0.0


@dataclass(frozen=True, slots=True)
class Part:
    """Primitives of one material, blended over ``blend_m``."""

    name: str
    colour: Rgb
    shapes: tuple[Cone | Egg, ...]
    blend_m: float
    crease_m: float = 0.0
    above_m: float | None = None
    """Cut off below this height (the hem)."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Joints that arms need, in the world."""

    lead_shoulder: NDArray[np.float64]
    trail_shoulder: NDArray[np.float64]
    mirror: float
    """-1 for a left-handed player: world y = mirror * figure y."""
    scale: float


def joints(golfer: Golfer) -> Frame:
    """Shoulders in the world."""
    s, m = golfer.height_m / 1.75, -1.0 if golfer.left_handed else 1.0
    x0 = -0.055 - golfer.stance_back_m
    lead = np.array([x0 + 0.185 * s, m * 0.27, 1.36 * s])
    trail = np.array([x0 - 0.185 * s, m * 0.27, 1.33 * s])
    return Frame(lead, trail, m, s)


def parts(golfer: Golfer) -> tuple[Part, ...]:
    """The body's parts in the world."""
    s, m = golfer.height_m / 1.75, -1.0 if golfer.left_handed else 1.0
    x0 = -0.07 - golfer.stance_back_m

    def p(x: float, y: float, z: float) -> Point3:
        return (x0 + x * s, m * y, z * s)

    legs: list[Cone | Egg] = []
    shins: list[Cone | Egg] = []
    uppers: list[Cone | Egg] = []
    soles: list[Cone | Egg] = []
    socks: list[Cone | Egg] = []
    for side in (-1.0, 1.0):
        hip, knee, ankle = (
            p(side * 0.095, 0.56, 0.88),
            p(side * 0.155, 0.42, 0.48),
            p(side * 0.17, 0.475, 0.085),
        )
        legs += [Cone(hip, knee, 0.102 * s, 0.078 * s)]
        if golfer.shorts:
            below = p(side * 0.157, 0.425, 0.42)
            legs += [Cone(knee, below, 0.083 * s, 0.086 * s)]
            calf = p(side * 0.162, 0.462, 0.33)
            shins += [Cone(knee, calf, 0.056 * s, 0.058 * s), Cone(calf, ankle, 0.057 * s, 0.037 * s)]
            socks += [Cone(p(side * 0.17, 0.475, 0.15), p(side * 0.17, 0.475, 0.06), 0.044 * s, 0.044 * s)]
        else:
            legs += [Cone(knee, ankle, 0.078 * s, 0.064 * s)]
        turn = side * 0.20
        dx, dy = np.sin(turn), -np.cos(turn)  # the toe points from the player to the ball, a little out

        def foot(along: float, z: float, dx: float = dx, dy: float = dy, side: float = side) -> Point3:
            return p(side * 0.17 + along * dx, 0.475 + along * dy, z)

        angle = float(np.arctan2(m * dy, dx))
        uppers += [
            Egg(foot(0.125, 0.036), (0.098 * s, 0.047 * s, 0.036 * s), angle),
            Cone(foot(-0.035, 0.045), foot(0.06, 0.050), 0.036 * s, 0.039 * s),
            Cone(foot(0.0, 0.06), foot(0.045, 0.058), 0.040 * s, 0.033 * s),
        ]
        soles += [
            Egg(foot(0.13, 0.010), (0.103 * s, 0.051 * s, 0.014 * s), angle),
            Egg(foot(-0.005, 0.010), (0.085 * s, 0.043 * s, 0.014 * s), angle),
        ]
    legs += [Egg(p(0, 0.57, 0.93), (0.175 * s, 0.125 * s, 0.115 * s))]
    trunk = [
        Cone(p(-0.045, 0.57, 0.86), p(-0.02, 0.42, 1.20), 0.142 * s, 0.148 * s),
        Cone(p(0.045, 0.57, 0.86), p(0.03, 0.42, 1.20), 0.142 * s, 0.148 * s),
        Cone(p(0.005, 0.42, 1.20), p(0.01, 0.32, 1.34), 0.150 * s, 0.115 * s),
        Cone(p(-0.155, 0.30, 1.335), p(0.17, 0.30, 1.365), 0.075 * s, 0.075 * s),
    ]
    head = [
        Cone(p(0.01, 0.27, 1.42), p(0.01, 0.15, 1.50), 0.06 * s, 0.062 * s),
        Egg(p(0.015, 0.09, 1.53), (0.082 * s, 0.10 * s, 0.105 * s)),
    ]
    cap = [
        Egg(p(0.015, 0.085, 1.575), (0.090 * s, 0.108 * s, 0.080 * s)),
        Egg(p(0.015, -0.02, 1.55), (0.07, 0.09, 0.012)),
    ]
    out = [
        Part("trousers", golfer.trousers, tuple(legs), 0.030, 0.0055, 0.40 * s if golfer.shorts else 0.045),
        Part("shirt", golfer.shirt, tuple(trunk), 0.05, 0.005, 0.88 * s),
        Part("head", golfer.skin, tuple(head), 0.02),
        Part("cap", (0.62, 0.62, 0.60), tuple(cap), 0.02),
        Part("shoes", golfer.shoes, tuple(uppers), 0.018, 0.0008),
        Part("soles", (0.16, 0.16, 0.16), tuple(soles), 0.010),
    ]
    if golfer.shorts:
        out += [
            Part("shins", golfer.skin, tuple(shins), 0.03),
            Part("socks", (0.70, 0.70, 0.70), tuple(socks), 0.01),
        ]
    return tuple(out)
