"""What is said of a set-up: the figures at hand in, the sentence a coach reads out."""

# ruff: noqa: E501 - a table reads best with one case a line

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest

from puttvision.green.camera import Camera
from puttvision.putt.advice import Change
from puttvision.putt.check_clip import Light, SetUpCheck, Steadiness
from puttvision.putt.standing_gate import StandingGate
from puttvision.putt.verdicts import verdicts
from puttvision.putts import Figure

CAMERA = Camera(
    width=1920, height=1080, f_px=1400, cx_px=959.5, cy_px=539.5, height_m=1.42, tilt_rad=0.42, roll_rad=0.0
)


@dataclass
class Facts:
    nominal_rate_hz: float = 59.94
    width: int = 1920
    height: int = 1080
    warnings: tuple = ()


def gate(kind="ball gate", **figures):
    values = {
        "distance_m": Figure(0.45, 0.003), "gap_mm": Figure(64.0, 2.0), "square_deg": Figure(0.2, 0.5),
        "off_mm": Figure(1.0, 2.0),
    }  # fmt: skip
    return StandingGate(kind=kind, posts=(None, None), **values | figures)


def check(*, sheets=(0, 3), lean=0.0, ratio=1.0, warnings=(), **changes):
    hole_px = CAMERA.project([1.5, 3.2, 0.0])
    pose = SimpleNamespace(camera=CAMERA, sheets=dict.fromkeys(sheets, (0, 0, 0)), rms_px=0.03, lean_rad=lean)
    hole = SimpleNamespace(at_px=tuple(hole_px), radius_ratio=ratio, by_hand=False)
    values = {
        "facts": Facts(), "site": SimpleNamespace(pose=pose, hole=hole, warnings=warnings), "hole_found": True,
        "steady": Steadiness(most_px=0.1, at_s=0.0, n_frames=9), "balls_m": ((-1.4, 3.2),),
        "light": Light(paper=220, ink=50, burnt=0.0, blur_px=0.7), "lie_m": (-1.4, 3.2), "gate": gate(),
        "start_line_u95_deg": 0.12, "change": None,
    }  # fmt: skip
    return SetUpCheck(**values | changes)


def said(about, found, **more):
    (one,) = [verdict for verdict in verdicts(found, **more) if verdict.about == about]
    return one


def test_a_good_set_up_is_good_throughout():
    assert {verdict.grade for verdict in verdicts(check())} == {"good"}
    assert said("ball", check()).words == "ball 9.5 ft (2.90 m) from the hole"
    assert said("sheets", check()).words.startswith("sheets 0 and 3 seen; they fit one plane to 0.03 px")


def test_the_worst_comes_first():
    grades = [v.grade for v in verdicts(check(sheets=(0,), gate=gate(square_deg=Figure(3.1, 0.5))))]
    assert grades[:2] == ["mend", "could be better"]
    assert grades == sorted(grades, key=["mend", "could be better", "good"].index)


@pytest.mark.parametrize(
    ("about", "grade", "words", "changes"),
    [
        ("gate square", "mend",
         "the ball gate is turned 3.1 ± 0.5° to the right of the line: turn it back, or the drill teaches a push",
         {"gate": gate(square_deg=Figure(3.1, 0.5))}),
        ("gate square", "mend", "3.1 ± 0.5° to the left of the line: turn it back, or the drill teaches a pull",
         {"gate": gate(square_deg=Figure(-3.1, 0.5))}),
        ("gate square", "could be better", "seems to be turned 2.0 ± 3.0°", {"gate": gate(square_deg=Figure(2.0, 3.0))}),
        ("gate square", "good", "as far as can be told from here", {"gate": gate(square_deg=Figure(0.5, 3.0))}),
        ("gate gap", "good", "21 ± 2 mm wider than the ball", {}),
        ("gate gap", "mend", "does not go through", {"gate": gate(gap_mm=Figure(40.0, 2.0))}),
        ("gate place", "could be better", "20 ± 2 mm right of the line to the hole (2.5°)",
         {"gate": gate(off_mm=Figure(20.0, 2.0))}),
        ("sheets", "could be better", "a second sheet", {"sheets": (0,)}),
        ("sheets", "mend", "one leans by 2.0°", {"lean": np.radians(2)}),
        ("sheets", "mend", "sheet 5 does not lie", {"warnings": ("sheet 5 does not lie on the others' plane and was left out",)}),
        ("hole", "mend", "--hole U,V", {"hole_found": False, "lie_m": None, "gate": None}),
        ("hole", "could be better", "7 % too wide for the sheets", {"ratio": 1.07}),
        ("ball", "could be better", "lay one on its spot", {"lie_m": None, "gate": None}),
        ("gate", "good", "no gate stands", {"gate": None}),
        ("frame rate", "could be better", "30 frames a second at 1920x1080: film at 60",
         {"facts": Facts(nominal_rate_hz=29.97)}),
        ("frame rate", "mend", "slow motion", {"facts": Facts(warnings=("slow motion: it plays slower",))}),
        ("exposure", "could be better", "the ball is burnt out", {"light": Light(paper=220, ink=50, burnt=0.7, blur_px=0.7)}),
        ("exposure", "could be better", "white is burnt out", {"light": Light(paper=250, ink=50, burnt=0.0, blur_px=0.7)}),
        ("exposure", "could be better", "dark", {"light": Light(paper=90, ink=30, burnt=None, blur_px=0.7)}),
        ("focus", "could be better", "wipe the lens", {"light": Light(paper=220, ink=50, burnt=0.0, blur_px=2.2)}),
        ("steady", "mend", "moved by 4.0 px (at 1:05.0)", {"steady": Steadiness(most_px=4.0, at_s=65.0, n_frames=9)}),
        ("steady", "could be better", "sways by 1.0 px", {"steady": Steadiness(most_px=1.0, at_s=5.0, n_frames=9)}),
        ("start line", "good", "known to ± 0.12°; what would help most: raise the phone by 0.3 m (± 0.10°)",
         {"change": Change(words="raise the phone by 0.3 m", u95_deg=0.10)}),
        ("start line", "mend", "± 0.60°", {"start_line_u95_deg": 0.6}),
    ],
)  # fmt: skip
def test_what_is_said(about, grade, words, changes):
    verdict = said(about, check(**changes))
    assert verdict.grade == grade
    assert words in verdict.words


def test_a_head_gate_is_compared_with_the_head():
    found = check(gate=gate("head gate", gap_mm=Figure(118.0, 3.0), distance_m=Figure(-0.03, 0.002)))
    assert "--head MM" in said("gate gap", found).words
    assert "8 ± 3 mm wider than the head" in said("gate gap", found, head_mm=110.0).words
    assert said("gate gap", found, head_mm=120.0).grade == "mend"


def test_without_a_ball_nothing_is_said_of_its_line():
    found = replace(check(), lie_m=None, gate=None, start_line_u95_deg=None)
    assert {v.about for v in verdicts(found)} & {"gate", "gate square", "start line"} == set()
