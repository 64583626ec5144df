"""A year of weekly sessions of an invented player, kept in a journal through the public functions.

    python -m sample_media.year --store year.db [--player Ines] [--seed 7] [--weeks 52]

Each week 20 putts through a ball gate from 10 ft on a green that falls 0.8 % across; every second week the
9-6-3 as well. The start-line spread falls from 0.95 to 0.65 degrees over the year, the pace spread from 10
to 7.5 % of the length; each day's read is off by its own 0.25 degrees or so. Break, capture and the film's
noise are modelled: the pages made of it show what real ones would. Nothing is measured from a real person.
"""

from __future__ import annotations

import argparse
import math
import random
from datetime import date, timedelta

from puttvision.coaching.causes import break_shape
from puttvision.drill import catalogue, play
from puttvision.drill.scorecard import score
from puttvision.journal.people import add_player
from puttvision.journal.record import record
from puttvision.journal.store import opened
from puttvision.physics import BALL_RADIUS_M, capture_offset, deceleration_from_stimp, slope_acceleration
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet

STIMP_FT, FALL = 9.5, 0.008
GATE_M, GATE_MM = 0.457, 65.0
NOISE_DEG, NOISE_MM, NOISE_M = 0.06, 3.0, 0.02
FIRST_DAY = date(2025, 1, 5)


def one_putt(
    chance: random.Random, number: int, distance_m: float, spread: tuple[float, float, float]
) -> Putt:
    """One putt; ``spread``: start-line spread (degrees), pace spread (share), this day's read (degrees)."""
    line_deg, pace, read_deg = spread
    deceleration = deceleration_from_stimp(STIMP_FT)
    k = slope_acceleration(FALL) / (2 * deceleration)
    aim_deg = -math.degrees(math.atan(k * break_shape(distance_m, 0.35) / distance_m)) + read_deg
    start_deg = aim_deg + chance.gauss(0, line_deg)
    run_m = (distance_m + 0.35) * (1 + chance.gauss(0, pace)) - distance_m
    offset_m = distance_m * math.sin(math.radians(start_deg)) + k * break_shape(distance_m, max(run_m, 0))
    speed = math.sqrt(2 * deceleration * max(run_m, 0))
    holed = run_m >= 0 and abs(offset_m) < capture_offset(speed)
    at_gate_mm = 1000 * GATE_M * math.tan(math.radians(start_deg - aim_deg))
    through = abs(at_gate_mm) < GATE_MM / 2 - 1000 * BALL_RADIUS_M
    short = run_m < 0

    def seen(value: float, noise: float) -> Figure:
        return Figure(value + chance.gauss(0, noise), 1.96 * noise)

    return Putt(
        number=number,
        outcome="holed" if holed else "missed",
        start_s=Figure(10.0 + 22 * number, 0.01),
        hole_distance_m=seen(distance_m, 0.005),
        start_direction_to_hole_deg=seen(start_deg, NOISE_DEG),
        gate_result="clear" if through else "outside",
        hole_offset_mm=Figure() if short else seen(1000 * offset_m, NOISE_MM),
        speed_at_hole_m_s=Figure() if short else Figure(speed, 0.05),
        run_out_m=seen(run_m, NOISE_M),
    )


def make_year(store_file: str, player: str, seed: int, weeks: int) -> None:
    """Add the player and keep every session."""
    chance = random.Random(seed)
    with opened(store_file) as store:
        add_player(store, player, consent=True)
        for week in range(weeks):
            gone = week / max(weeks - 1, 1)
            spread = (0.95 - 0.30 * gone, 0.10 - 0.025 * gone, chance.gauss(0.1, 0.25))
            for name in ("ball-gate-points", "nine-six-three")[: 1 + week % 2]:
                rules = catalogue.load(name)
                state, putts = play.start(rules), list[Putt]()
                while state.status == "running" and len(putts) < 60:
                    distance = play.setting(rules, state).distance
                    assert distance is not None
                    putts.append(one_putt(chance, len(putts) + 1, distance.metres, spread))
                    state, _ = play.step(rules, state, putts[-1])
                clip = ClipInfo(file=f"week-{week + 1:02}-{name}.mp4", duration_s=30.0 + 22 * len(putts),
                                frames=60 * (30 + 22 * len(putts)), width=1920, height=1080)  # fmt: skip
                gate = Gate(distance_m=Figure(GATE_M, 0.004), width_mm=Figure(GATE_MM, 3.0),
                            square_deg=Figure(0.5, 0.6))  # fmt: skip
                sheet = PuttSheet(
                    putts=tuple(putts),
                    clip=clip,
                    green=Green(
                        sheets=(0, 3), reprojection_rms_px=0.2, hole_px=None, stimp_ft=Figure(STIMP_FT, 0.4)
                    ),
                    gate=gate if name == "ball-gate-points" else None,
                )
                record(store, player, sheet, day=FIRST_DAY + timedelta(weeks=week),
                       card=score(rules, putts), rules_text=catalogue.text(name))  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--store", required=True)
    parser.add_argument("--player", default="Ines")
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--weeks", type=int, default=52)
    given = parser.parse_args()
    make_year(given.store, given.player, given.seed, given.weeks)
