"""How good the set-up of a filmed session was, in sentences."""

from __future__ import annotations

from dataclasses import dataclass

from puttvision.drill.scorecard import Scorecard
from puttvision.putts import PuttSheet
from puttvision.review import putt_words


@dataclass(frozen=True, slots=True)
class Check:
    """One thing about the set-up and whether it is as it should be."""

    good: bool
    text: str


_BALL_MM = 42.67
_SQUARE_DEG, _SHARP_PX, _SURE_DEG = 2.0, 0.6, 0.3
"""Turned further a gate lets a pushed ball through as a straight one (geometry: 2 degrees shift its middle
by 2 mm over a 65 mm gate); a sharper fit than this many pixels is usual on sharp film; start lines surer
than this tell players apart (elite players' own spread is 0.4 degrees)."""


def setup(sheet: PuttSheet, card: Scorecard | None) -> list[Check]:
    """How good the set-up was, worst first."""
    out: list[Check] = []
    green, gate = sheet.green, sheet.gate
    if green is None:
        return [Check(True, "Scored by hand: outcomes only, nothing was measured.")]
    n = len(green.sheets)
    out.append(
        Check(n >= 2, f"{n} sheets in the picture." if n >= 2 else
              "One sheet in the picture: a second one near the hole makes start lines surer.")
    )  # fmt: skip
    rms = green.reprojection_rms_px
    if rms is not None:
        sharp = rms <= _SHARP_PX
        said = (
            "The sheets are read well" if sharp else "The sheets are read badly: do they lie flat and sharp?"
        )
        out.append(Check(sharp, f"{said} (their corners fit to {rms:.2f} of a pixel)."))
    if gate is not None and gate.square_deg.value is not None:
        turn, u95 = gate.square_deg.value, gate.square_deg.u95 or 0.0
        turned = abs(turn) > max(_SQUARE_DEG, u95)
        said = f"turned {abs(turn):.1f} ± {u95:.1f}° to the {putt_words.side(turn)} of the line"
        ending = ": turn it back." if turned else ", square enough."
        out.append(Check(not turned, f"The gate is {said}{ending}"))
    if gate is not None and gate.width_mm.value is not None and gate.distance_m.value is not None:
        wide, room = gate.width_mm.value, (gate.width_mm.value - _BALL_MM) / 2
        said = f"{wide:.0f} mm wide, {gate.distance_m.value:.2f} m ahead"
        out.append(Check(room > 0, f"The gate is {said}: {room:.0f} mm of room on each side of the ball."))
    errors = [putt_words.aim_error(putt)[0].u95 for putt in sheet.putts]
    known = [u95 for u95 in errors if u95 is not None]
    if known:
        middle = sorted(known)[len(known) // 2]
        sure = middle <= _SURE_DEG
        more = (
            "" if sure else ": film from nearer or from behind" + (", with a second sheet" if n < 2 else "")
        )
        out.append(Check(sure, f"Start lines are known to ± {middle:.2f}°{more}."))
    if green.stimp_ft.value is not None:
        out.append(
            Check(
                True,
                f"Green speed {green.stimp_ft.value:.1f}{putt_words.give_or_take(green.stimp_ft, 1)} ft.",
            )
        )
    if card is not None and card.elsewhere:
        asked = card.lines[0].step.setting.distance if card.lines else None
        where = f" than the {asked} the drill asks" if asked else " than the drill asks"
        out.append(Check(False, f"{len(card.elsewhere)} putts were played from another distance{where}."))
    out += [Check(False, text[:1].upper() + text[1:] + ".") for text in sheet.warnings]
    return sorted(out, key=lambda check: check.good)
