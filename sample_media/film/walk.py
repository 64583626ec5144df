"""Somebody walking past: legs, shoes and trunk at any time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sample_media.film.limbs import Stick, bent_limb, cone
from sample_media.film.scene import Walker

Array = NDArray[np.float64]

STRIDE_M = 1.30
"""Two steps."""
SWING_SHARE = 0.45
"""Share of the stride in which a foot is in the air."""


def walker_sticks(walker: Walker, t: float) -> list[Stick]:
    """The walker as rounded cones; empty before the first and after the last moment of the way."""
    at, x, y = (np.array(c) for c in zip(*walker.way, strict=True))
    if not at[0] <= t <= at[-1]:
        return []
    place = np.array([np.interp(t, at, x), np.interp(t, at, y)])
    legs = np.hypot(np.diff(x), np.diff(y))
    walked = _walked(walker, t)
    k = int(np.clip(np.searchsorted(at, t, side="right") - 1, 0, len(legs) - 1))
    while k > 0 and legs[k] == 0:  # standing: still facing the way that was walked
        k -= 1
    way = np.array([x[k + 1] - x[k], y[k + 1] - y[k]])
    way /= max(float(np.hypot(*way)), 1e-9)
    ahead = np.array([way[0], way[1], 0.0])
    left = np.array([-way[1], way[0], 0.0])
    s = walker.height_m / 1.8
    bob = 0.015 * np.cos(4 * np.pi * walked / STRIDE_M)
    pace = _walked(walker, t + 0.35) - _walked(walker, t - 0.35)
    step = min(1.0, 0.12 + pace / 0.6)  # feet come together where the walk ends
    hips = np.array([place[0], place[1], (0.955 + bob) * s])
    sticks: list[Stick] = []
    for side, phase in ((1.0, 0.0), (-1.0, 0.5)):
        p = walked / STRIDE_M + phase
        air = max((p % 1.0 - (1 - SWING_SHARE)) / SWING_SHARE, 0.0)
        ahead_m = (np.floor(p) + air * air * (3 - 2 * air) - p + 0.28) * STRIDE_M * step
        ankle = hips + ahead_m * ahead + side * 0.09 * left
        ankle[2] = 0.09 + 0.09 * np.sin(np.pi * air) * step
        hip = hips + side * 0.09 * left
        thigh, shin = bent_limb(hip, ankle, ahead, 0.45 * s, 0.43 * s)
        cuff = ankle + np.array([0, 0, -0.035])
        heel, toe = (
            ankle + (-0.04 * ahead) + (0, 0, -0.045),
            ankle + 0.15 * ahead + (0, 0, -0.055 - 0.02 * air),
        )
        sticks += [
            Stick(cone(hip, thigh, 0.105 * s, 0.078 * s), walker.trousers),
            Stick(cone(thigh, shin, 0.078 * s, 0.062 * s), walker.trousers),
            Stick(cone(shin, cuff, 0.062 * s, 0.070 * s), walker.trousers, 0.0, True),
            Stick(cone(heel, toe, 0.042, 0.038), walker.shoes),
        ]
    waist, chest = hips + np.array([0, 0, -0.06]), hips + 0.03 * ahead + np.array([0, 0, 0.42 * s])
    sticks += [
        Stick(
            cone(chest + 0.07 * left, waist + 0.045 * left, 0.145 * s, 0.150 * s), walker.jacket, 0.0, True
        ),
        Stick(
            cone(chest - 0.07 * left, waist - 0.045 * left, 0.145 * s, 0.150 * s), walker.jacket, 0.0, True
        ),
    ]
    for side, phase in ((1.0, 0.5), (-1.0, 0.0)):
        swing = 0.22 * step * np.sin(2 * np.pi * (walked / STRIDE_M + phase))
        shoulder = chest + side * 0.20 * left
        hand = hips + side * 0.25 * left + swing * ahead + np.array([0, 0, -0.05])
        elbow, _ = bent_limb(shoulder, hand, -ahead, 0.29 * s, 0.27 * s)
        sticks += [
            Stick(cone(shoulder, elbow, 0.068, 0.055), walker.jacket),
            Stick(cone(elbow, hand, 0.055, 0.042), walker.jacket),
            Stick(cone(hand, hand + np.array([0, 0, -0.09]), 0.036, 0.028), (0.36, 0.22, 0.15)),
        ]
    return sticks


def is_walking(walker: Walker, t: float) -> bool:
    """Whether the walker moves at about this time."""
    return _walked(walker, t + 0.4) > _walked(walker, t - 0.4)


def _walked(walker: Walker, t: float) -> float:
    """Metres walked by a time."""
    at, x, y = (np.array(c) for c in zip(*walker.way, strict=True))
    legs = np.hypot(np.diff(x), np.diff(y))
    return float(np.interp(t, at, np.concatenate([[0.0], np.cumsum(legs)])))
