"""Twenty putts of an invented session with everything that may happen in one, for tests of the report."""

import math
import random

from puttvision.physics import capture_offset
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet

BIAS_DEG = 0.6


def putts(n=20, seed=4, bias_deg=BIAS_DEG):
    """Putts from 10 ft through a gate; number 7 is in doubt, 15 not seen, 11 short."""
    rng = random.Random(seed)
    out = []
    for number in range(1, n + 1):
        error = rng.gauss(bias_deg, 0.5)
        speed = abs(rng.gauss(0.8, 0.3))
        offset = 1000 * 3.05 * math.tan(math.radians(error - bias_deg)) + rng.gauss(0, 8)
        holed = abs(offset) / 1000 < capture_offset(speed)
        outside = abs(error) > 1.3
        putt = {
            "number": number, "outcome": "holed" if holed else "missed",
            "start_s": Figure(10 + 25 * number, 0.01),
            "hole_distance_m": Figure(3.05, 0.01), "start_direction_to_hole_deg": Figure(error, 0.15),
            "start_direction_to_gate_deg": Figure(error, 0.17), "launch_speed_m_s": Figure(2.2, 0.02),
            "gate_result": "outside" if outside else "clear",
            "gate_offset_mm": Figure() if outside else Figure(7.8 * error, 1.4),
            "hole_offset_mm": Figure(offset, 5.0), "speed_at_hole_m_s": Figure(speed, 0.05),
            "run_out_m": Figure(speed * speed / 1.1, 0.06), "confidence": 0.98,
        }  # fmt: skip
        nothing = {key: Figure() for key in ("hole_offset_mm", "speed_at_hole_m_s", "run_out_m")}
        if number == 7:
            putt["review"] = ("passed the left post by about 1 mm: touched or not?",)
        if number == 11:
            putt |= {**nothing, "outcome": "missed", "run_out_m": Figure(-0.35, 0.02)}
        if number == 15:
            putt |= {**nothing, "outcome": "unseen", "review": ("something hid the hole when the ball came",)}
        out.append(Putt(**putt))
    return tuple(out)


def sheet(**changes):
    return PuttSheet(
        putts=putts(**changes),
        clip=ClipInfo(file="ines_gate.mp4", duration_s=520.0, frames=31200, width=1920, height=1080),
        green=Green(
            sheets=(0, 3), reprojection_rms_px=0.21, hole_px=(1312.0, 655.0), stimp_ft=Figure(9.6, 0.4)
        ),
        gate=Gate(distance_m=Figure(0.45, 0.004), width_mm=Figure(65.0, 3.0), square_deg=Figure(3.1, 0.6)),
    )
