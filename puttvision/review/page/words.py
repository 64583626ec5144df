"""A putt's figures in words, as the page shows them."""

from __future__ import annotations

from puttvision.physics import feet
from puttvision.putts import Figure, Putt

OUTCOMES = {"holed": "holed", "missed": "missed", "unseen": "end not seen"}
GATES = {"clear": "clear", "touched": "touched a post", "outside": "outside", "none": "no gate"}
FIELDS = {
    "outcome": "outcome",
    "gate_result": "gate",
    "is_putt": "is a putt",
    "start": "start",
    "looked_at": "looked at",
    "added": "added by hand",
    "lipped": "lipped out",
}
"""What corrections are called on the page; another field is called by its own name."""


def clock(seconds: float) -> str:
    """``83.254`` to ``1:23.25``."""
    hundredths = round(seconds * 100)
    return f"{hundredths // 6000}:{hundredths // 100 % 60:02}.{hundredths % 100:02}"


def figures(putt: Putt) -> list[tuple[str, str]]:
    """Label and words of every figure that was measured of a putt."""
    rows = [
        ("From", _distance(putt.hole_distance_m)),
        ("Start line", _sided(putt.start_direction_to_hole_deg, "°", "of the hole", 1.0, 2)),
        ("Start line", _sided(putt.start_direction_to_gate_deg, "°", "of the gate", 1.0, 2)),
        ("Start pace", _plain(putt.launch_speed_m_s, "m/s", 2)),
        ("At the gate", _sided(putt.gate_offset_mm, " mm", "of its middle", 1.0, 0)),
        ("At the hole", _sided(putt.hole_offset_mm, " cm", "of its middle", 0.1, 1)),
        ("Pace at the hole", _plain(putt.speed_at_hole_m_s, "m/s", 2)),
        ("Run-out", _run_out(putt)),
    ]
    return [(label, words) for label, words in rows if words]


def value(field: str, what: object) -> str:
    """A corrected value in words."""
    if field == "outcome":
        return OUTCOMES.get(str(what), str(what))
    if field == "gate_result":
        return GATES.get(str(what), str(what))
    if field == "start":
        return f"at {clock(what)}" if isinstance(what, int | float) else "as found"
    if field == "added":
        return "out" if what is None else "in"
    if what is None:
        return "nothing"
    return {True: "yes", False: "no"}.get(what, str(what)) if isinstance(what, bool) else str(what)


def _distance(figure: Figure) -> str:
    if figure.value is None:
        return ""
    return f"{feet(figure.value):.1f} ft ({figure.value:.2f} m)"


def _plain(figure: Figure, unit: str, digits: int) -> str:
    if figure.value is None:
        return ""
    return f"{figure.value:.{digits}f}{_give_or_take(figure, 1.0, digits)} {unit}"


def _sided(figure: Figure, unit: str, of: str, scale: float, digits: int) -> str:
    if figure.value is None:
        return ""
    side = "right" if figure.value > 0 else "left"
    return f"{abs(figure.value) * scale:.{digits}f}{_give_or_take(figure, scale, digits)}{unit} {side} {of}"


def _run_out(putt: Putt) -> str:
    figure = putt.run_out_m
    if figure.value is None:
        return ""
    way = "short" if figure.value < 0 else "past"
    would = "would have gone " if putt.outcome == "holed" else ""
    return f"{would}{abs(figure.value) * 100:.0f}{_give_or_take(figure, 100.0, 0)} cm {way}"


def _give_or_take(figure: Figure, scale: float, digits: int) -> str:
    if figure.u95 is None:
        return ""
    words = f"{figure.u95 * scale:.{digits}f}"
    # nothing is known without doubt
    return f" ± {words if float(words) else f'{figure.u95 * scale:.{digits + 1}f}'}"
