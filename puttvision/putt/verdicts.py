"""What a look at a set-up means for the coach, worst first, in plain words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from puttvision.clip.facts import WISHED_RATE_HZ
from puttvision.physics import BALL_RADIUS_M
from puttvision.putt.check_clip import SetUpCheck
from puttvision.putt.standing_gate import StandingGate
from puttvision.putts import Figure

Grade = Literal["mend", "could be better", "good"]
_ORDER: tuple[Grade, ...] = ("mend", "could be better", "good")

_SQUARE_DEG = 1.0
"""A gate turned by more teaches another line: elite starts spread by 0.4 degrees (Karlsen et al. 2008)."""
_TELLS_DEG = 1.5
_OFF_DEG = 0.6
_START_LINE_DEG = (0.2, 0.5)
"""Finer than this tells players apart; coarser tells no start line (elite spread 0.4 degrees)."""
_STEADY_PX = (0.5, 2.0)
_PAPER = (110.0, 236.0)
_BURNT_SHARE = 0.4
_BLUR_PX = 1.3
_RATIO = 0.05
_BALL_MM = 2000 * BALL_RADIUS_M


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One sentence about one thing."""

    about: str
    grade: Grade
    words: str


def verdicts(check: SetUpCheck, head_mm: float | None = None) -> list[Verdict]:
    """All verdicts on a set-up, what has to be mended first. ``head_mm``: width of the putter's head."""
    out = [_sheets(check), _hole(check), _ball(check), *_gate(check, head_mm), _rate(check)]
    out += [_light(check), *_sharp(check), *_steady(check), *_start_line(check)]
    return sorted(out, key=lambda verdict: _ORDER.index(verdict.grade))


def _sheets(check: SetUpCheck) -> Verdict:
    pose = check.site.pose
    ids = sorted(pose.sheets)
    named = " and ".join(str(i) for i in ids)
    fit = (
        f"they fit one plane to {pose.rms_px:.2f} px" if len(ids) > 1 else f"it fits to {pose.rms_px:.2f} px"
    )
    lens = f"the phone is {pose.camera.height_m:.2f} m up"
    if pose.lean_rad:
        lean = f"{np.degrees(pose.lean_rad):.1f}°"
        words = f"sheet {named} seen, but one leans by {lean}: lay it flat, held by tees"
        return Verdict(about="sheets", grade="mend", words=words)
    if len(ids) == 1:
        words = f"sheet {named} seen; {fit}; {lens}: a second sheet makes start lines more certain"
        return Verdict(about="sheets", grade="could be better", words=words)
    left_out = [text for text in check.site.warnings if "left out" in text]
    if left_out:
        return Verdict(about="sheets", grade="mend", words=left_out[0])
    return Verdict(about="sheets", grade="good", words=f"sheets {named} seen; {fit}; {lens}")


def _hole(check: SetUpCheck) -> Verdict:
    if not check.hole_found:
        words = "no hole found: it must be in the picture, empty and free, or point at it with --hole U,V"
        return Verdict(about="hole", grade="mend", words=words)
    hole = check.site.hole
    off = hole.radius_ratio - 1
    if abs(off) > _RATIO and not hole.by_hand:
        size = "wide" if off > 0 else "narrow"
        words = (
            f"the hole looks {100 * abs(off):.0f} % too {size} for the sheets: "
            "were they printed at 100 % (bar 100.0 mm)?"
        )
        return Verdict(about="hole", grade="could be better", words=words)
    return Verdict(about="hole", grade="good", words="hole found")


def _ball(check: SetUpCheck) -> Verdict:
    if check.lie_m is None:
        words = "no ball seen at rest on the line: lay one on its spot, so that gate and line can be judged"
        return Verdict(about="ball", grade="could be better", words=words)
    hole = check.site.pose.camera.to_plane(check.site.hole.at_px)
    away = float(np.hypot(*(hole - np.array(check.lie_m))))
    return Verdict(
        about="ball", grade="good", words=f"ball {away / 0.3048:.1f} ft ({away:.2f} m) from the hole"
    )


def _gate(check: SetUpCheck, head_mm: float | None) -> list[Verdict]:
    gate = check.gate
    if gate is None:
        if check.lie_m is None:
            return []
        return [Verdict(about="gate", grade="good", words="no gate stands on the line")]
    return [_square(gate), *_central(gate), _gap(gate, head_mm)]


def _square(gate: StandingGate) -> Verdict:
    turned, u95 = gate.square_deg.value or 0.0, gate.square_deg.u95 or 0.0
    side, stroke = ("right", "push") if turned > 0 else ("left", "pull")
    size = f"{abs(turned):.1f} ± {u95:.1f}° to the {side} of the line"
    if abs(turned) <= _SQUARE_DEG:
        told = "square" if u95 <= _TELLS_DEG else "square, as far as can be told from here"
        return Verdict(about="gate square", grade="good", words=f"{gate.kind} {told}: turned {size}")
    if abs(turned) - u95 > _SQUARE_DEG:
        words = f"the {gate.kind} is turned {size}: turn it back, or the drill teaches a {stroke}"
        return Verdict(about="gate square", grade="mend", words=words)
    words = (
        f"the {gate.kind} seems to be turned {size}: not sure; film it from nearer or from behind the ball"
    )
    return Verdict(about="gate square", grade="could be better", words=words)


def _central(gate: StandingGate) -> list[Verdict]:
    off, u95 = gate.off_mm.value or 0.0, gate.off_mm.u95 or 0.0
    side = "right" if off > 0 else "left"
    if gate.kind == "head gate":
        words = f"the ball lies {abs(off):.0f} ± {u95:.0f} mm off the middle of the head gate"
        return [Verdict(about="gate place", grade="good", words=words)]
    angle = float(np.degrees(np.arctan2(off, 1000 * (gate.distance_m.value or 1.0))))
    u_angle = float(np.degrees(np.arctan2(u95, 1000 * (gate.distance_m.value or 1.0))))
    words = (
        f"the gate's middle stands {abs(off):.0f} ± {u95:.0f} mm {side} of the line to the hole "
        f"({abs(angle):.1f}°)"
    )
    if abs(angle) - u_angle > _OFF_DEG:
        words += ": right for a putt that breaks, else move it onto the line"
        return [Verdict(about="gate place", grade="could be better", words=words)]
    return [Verdict(about="gate place", grade="good", words=words)]


def _gap(gate: StandingGate, head_mm: float | None) -> Verdict:
    if gate.kind == "head gate":
        if head_mm is None:
            words = (
                f"head gate {_pm(gate.gap_mm)} mm wide; give --head MM to compare it with the putter's head"
            )
            return Verdict(about="gate gap", grade="good", words=words)
        return _room("the head", gate, head_mm)
    return _room("the ball", gate, _BALL_MM)


def _room(what: str, gate: StandingGate, wide_mm: float) -> Verdict:
    room = (gate.gap_mm.value or 0.0) - wide_mm
    words = f"{gate.kind} {room:.0f} ± {gate.gap_mm.u95 or 0:.0f} mm wider than {what}"
    if room <= 0:
        words += f": {what} does not go through"
        return Verdict(about="gate gap", grade="mend", words=words)
    return Verdict(about="gate gap", grade="good", words=words)


def _rate(check: SetUpCheck) -> Verdict:
    rate = check.facts.nominal_rate_hz
    said = [text for text in check.facts.warnings if "slow motion" in text]
    if said:
        return Verdict(about="frame rate", grade="mend", words=said[0])
    words = f"{rate:.0f} frames a second at {check.facts.width}x{check.facts.height}"
    if rate < 0.8 * WISHED_RATE_HZ:
        words += f": film at {WISHED_RATE_HZ} or more"
        return Verdict(about="frame rate", grade="could be better", words=words)
    return Verdict(about="frame rate", grade="good", words=words)


def _light(check: SetUpCheck) -> Verdict:
    light = check.light
    if light.burnt is not None and light.burnt > _BURNT_SHARE:
        words = "the ball is burnt out: lock the exposure on it and turn it down a little"
        return Verdict(about="exposure", grade="could be better", words=words)
    if light.paper > _PAPER[1]:
        words = "the sheets' white is burnt out: turn the exposure down a little"
        return Verdict(about="exposure", grade="could be better", words=words)
    if light.paper < _PAPER[0]:
        words = "the picture is dark: turn the exposure up, or wait for better light"
        return Verdict(about="exposure", grade="could be better", words=words)
    return Verdict(about="exposure", grade="good", words="exposure good")


def _sharp(check: SetUpCheck) -> list[Verdict]:
    if check.light.blur_px <= _BLUR_PX:
        return []
    words = "the sheets' edges are soft: wipe the lens and lock the focus on the line"
    return [Verdict(about="focus", grade="could be better", words=words)]


def _steady(check: SetUpCheck) -> list[Verdict]:
    steady = check.steady
    if steady is None:
        return []
    minutes, seconds = divmod(steady.at_s, 60)
    when = f"at {int(minutes)}:{seconds:04.1f}"
    if steady.most_px > _STEADY_PX[1]:
        words = f"the phone moved by {steady.most_px:.1f} px ({when}): fix the tripod, keep hands off"
        return [Verdict(about="steady", grade="mend", words=words)]
    if steady.most_px > _STEADY_PX[0]:
        words = f"the phone sways by {steady.most_px:.1f} px ({when}): weigh the tripod down, out of the wind"
        return [Verdict(about="steady", grade="could be better", words=words)]
    return [
        Verdict(about="steady", grade="good", words=f"the phone stands still, to {steady.most_px:.1f} px")
    ]


def _start_line(check: SetUpCheck) -> list[Verdict]:
    u95 = check.start_line_u95_deg
    if u95 is None:
        return []
    words = f"start lines will be known to ± {u95:.2f}°"
    fine, coarse = _START_LINE_DEG
    grade: Grade = "good" if u95 <= fine else "could be better" if u95 <= coarse else "mend"
    if check.change is not None:
        words += f"; what would help most: {check.change.words} (± {check.change.u95_deg:.2f}°)"
    return [Verdict(about="start line", grade=grade, words=words)]


def _pm(figure: Figure) -> str:
    return f"{figure.value or 0:.0f} ± {figure.u95 or 0:.0f}"
