"""One putt in plain words: the call, why it was called so, the gate and the start line."""

from __future__ import annotations

from puttvision.physics import BALL_RADIUS_M, capture_offset
from puttvision.putts import Figure, Gate, Putt

_BALL_MM = BALL_RADIUS_M * 1000
_NO_START = "the start line was not measured"


def side(value: float) -> str:
    """``right`` or ``left`` by the sign."""
    return "right" if value > 0 else "left"


def length(mm: float) -> str:
    """``8 mm``, ``42 cm``, ``2.4 m``: as exact as it matters at that length."""
    size = abs(mm)
    if size < 99.5:
        return f"{size:.0f} mm"
    return f"{size / 10:.0f} cm" if size < 995 else f"{size / 1000:.1f} m"


def give_or_take(figure: Figure, digits: int) -> str:
    """`` ± 0.14``, or nothing where no interval is known."""
    return "" if figure.u95 is None else f" ± {figure.u95:.{digits}f}"


def call(putt: Putt) -> str:
    """The outcome as a coach would call it out: ``Holed``, ``Missed left``, ``Short``, ``Lipped out``."""
    if putt.outcome == "holed":
        return "Holed"
    if putt.outcome == "unseen":
        return "End not seen"
    if putt.lipped:
        return "Lipped out"
    offset, run_out = putt.hole_offset_mm.value, putt.run_out_m.value
    if offset is None and run_out is not None and run_out < 0:
        return "Short"
    if offset is not None:
        return f"Missed {side(offset)}"
    if putt.miss_side or putt.miss_length:
        return "Missed " + " and ".join(part for part in (putt.miss_side, putt.miss_length) if part)
    return "Missed"


def reason(putt: Putt) -> str:
    """Why: where it crossed the hole's line and how fast, and what the hole takes at that pace."""
    if putt.outcome == "unseen":
        return putt.review[0] if putt.review else "the clip does not show where it ended"
    offset, speed, run_out = putt.hole_offset_mm.value, putt.speed_at_hole_m_s.value, putt.run_out_m.value
    parts = []
    if offset is not None:
        where = "over the middle" if abs(offset) < 1.5 else f"{length(offset)} {side(offset)} of the middle"
        pace = f" at {speed:.2f} m/s" if speed is not None else ""
        parts.append(f"{where}{pace}")
        if speed is not None:
            takes = 1000 * capture_offset(speed)
            parts.append(
                f"the hole takes {length(takes)} either side at that pace"
                if takes > 1
                else "too fast for the hole to take"
            )
    if putt.outcome == "missed" and run_out is not None:
        parts.append(f"came to rest {length(run_out * 1000)} {'past' if run_out > 0 else 'short'}")
    elif putt.outcome == "holed" and run_out is not None and run_out > 0:
        parts.append(f"would have run {length(run_out * 1000)} past")
    return "; ".join(parts)


def crossing(putt: Putt) -> str:
    """Where it crossed the hole's line, short: ``12 mm right, 0.92 m/s``."""
    offset, speed = putt.hole_offset_mm.value, putt.speed_at_hole_m_s.value
    if offset is None:
        return "–"
    where = "the middle" if abs(offset) < 1.5 else f"{length(offset)} {side(offset)}"
    return where if speed is None else f"{where}, {speed:.2f} m/s"


def run_out(putt: Putt) -> str:
    """How far past or short; ``(41 cm past)`` in brackets where it would have been."""
    value = putt.run_out_m.value
    if value is None:
        return "–"
    text = f"{length(1000 * value)} {'past' if value >= 0 else 'short'}"
    return f"({text})" if putt.outcome == "holed" else text


def clearances_mm(putt: Putt, gate: Gate | None) -> tuple[float, float] | None:
    """Room between ball and post, left and right; below 0 it would have touched. None: not measured."""
    offset = putt.gate_offset_mm.value
    if gate is None or gate.width_mm.value is None or offset is None:
        return None
    half = gate.width_mm.value / 2
    return half + offset - _BALL_MM, half - offset - _BALL_MM


def gate_call(putt: Putt, gate: Gate | None) -> str:
    """What the ball did at the gate; empty where there is none."""
    if putt.gate_result == "none":
        return ""
    if putt.gate_result == "outside":
        return "outside the gate"
    room = clearances_mm(putt, gate)
    offset = putt.gate_offset_mm.value
    if putt.gate_result == "touched":
        return "touched a post" if offset is None else f"touched the {side(offset)} post"
    if room is None or offset is None:
        return "through the gate"
    least = min(room)
    if least < 1:
        return f"through the gate, {side(offset)} post missed by a hair"
    return f"through the gate, {least:.0f} mm inside the {side(offset)} post"


def start_line(putt: Putt) -> str:
    """Start direction against the gate where there is one, else against the hole."""
    figure, mark = aim_error(putt)
    if figure.value is None:
        return _NO_START
    return f"{degrees(figure)} of the {mark}"


def aim_error(putt: Putt) -> tuple[Figure, str]:
    """The start direction that the drill is about, and what it is taken against."""
    if putt.start_direction_to_gate_deg:
        return putt.start_direction_to_gate_deg, "gate"
    return putt.start_direction_to_hole_deg, "hole"


def degrees(figure: Figure) -> str:
    """``0.84 ± 0.14° right``; ``2.4 ± 1.0° right`` where it is not known so well."""
    if figure.value is None:
        return "–"
    digits = 2 if figure.u95 is not None and figure.u95 < 0.3 else 1
    return f"{abs(figure.value):.{digits}f}{give_or_take(figure, digits)}° {side(figure.value)}"
