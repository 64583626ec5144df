"""Putts rolled by brute force: Newton's law in small steps, nothing shared with the package's formulas."""

import math

import numpy as np

from puttvision.coaching.attempts import Attempt
from puttvision.putts import Figure, Putt

G = 9.80665
HOLE_M = 0.054


def roll(distance_m, stimp_ft, slope, angle_rad, run_out_m, dt=0.005):
    """(offset, speed) at the hole's distance of each ball; nan where it stops before.

    Launch speed is what rolls to distance + run-out on this green when started straight at the hole.
    Friction 1.83^2 / (2 stimp) against the motion, 5/7 g sin(slope) to the right; midpoint rule.
    """
    a = 1.83**2 / (2 * stimp_ft * 0.3048)
    c = 5 / 7 * G * math.sin(math.atan(slope))
    speed = np.sqrt(2 * a * (distance_m + run_out_m))
    v = np.stack([speed * np.cos(angle_rad), speed * np.sin(angle_rad)])
    at = np.zeros_like(v)
    offset, arrive = np.full(len(speed), np.nan), np.full(len(speed), np.nan)
    pull = np.array([[0.0], [c]])
    going = np.ones(len(speed), dtype=bool)
    while going.any():
        size = np.hypot(*v)
        half = v + dt / 2 * (pull - a * v / np.maximum(size, 1e-9))
        size_half = np.maximum(np.hypot(*half), 1e-9)
        new_v = v + dt * (pull - a * half / size_half)
        new = at + dt * half
        crossed = going & (new[0] >= distance_m)
        share = (distance_m - at[0, crossed]) / (new[0, crossed] - at[0, crossed])
        offset[crossed] = at[1, crossed] + share * (new[1, crossed] - at[1, crossed])
        arrive[crossed] = np.hypot(*new_v)[crossed]
        going &= ~crossed & (new_v[0] > 0) & (np.hypot(*new_v) > 0.5 * a * dt)
        at, v = new, new_v
    return offset, arrive


def is_holed(offset_m, speed_m_s):
    """Penner 2002, Eq. 23, on what arrives."""
    with np.errstate(invalid="ignore"):
        return (np.abs(offset_m) < HOLE_M) & (speed_m_s < 1.63 * (1 - (offset_m / HOLE_M) ** 2))


def as_attempts(day, distance_m, stimp_ft, angle_rad, run_out_m, offset_m, speed, session=1, u95=0.0):
    """The rolled balls as the journal would give them; of one that stopped short no more is known."""
    out = []
    rows = zip(angle_rad, run_out_m, offset_m, speed, is_holed(offset_m, speed), strict=True)
    for number, (angle, run, offset, arrive, holed) in enumerate(rows, start=1):
        short = math.isnan(offset)
        out.append(
            Attempt(
                session=session,
                day=day,
                stimp_ft=stimp_ft,
                putt=Putt(
                    number=number,
                    outcome="holed" if holed else "missed",
                    hole_distance_m=Figure(distance_m, u95),
                    start_direction_to_hole_deg=Figure(math.degrees(angle), u95),
                    run_out_m=Figure(min(run, -0.01) if short else max(run, 0.0), u95),
                    hole_offset_mm=Figure() if short else Figure(1000 * offset, u95),
                    speed_at_hole_m_s=Figure() if short else Figure(arrive, u95),
                ),
            )
        )
    return out
