"""The project's own clips, measured and held against their truth files."""

import json
from pathlib import Path

import numpy as np
import pytest

from puttvision.putt.measure import measure_clip

pytestmark = pytest.mark.slow

CLIPS = Path(__file__).resolve().parents[2] / "sample_media"
NAMES = ("quillow_ball_gate", "quillow_head_gate", "quillow_misses")


@pytest.fixture(scope="module")
def measured():
    """(clip, truth of a putt, putt as measured) of every putt."""
    out = []
    for name in NAMES:
        truth = json.loads((CLIPS / f"{name}.truth.json").read_text())
        found = measure_clip(CLIPS / f"{name}.mp4").sheet.putts
        assert [p["start_s"] for p in truth["putts"]] == pytest.approx(
            [putt.start_s.value for putt in found], abs=0.05
        ), f"{name}: putts lost or invented"
        out += [(name, true, putt) for true, putt in zip(truth["putts"], found, strict=True)]
    return out


def test_every_putt_is_called_right(measured):
    wrong = [
        (name, true["number"])
        for name, true, putt in measured
        if (putt.outcome, putt.gate_result, putt.lipped)
        != (true["outcome"], true["gate_result"], true["lipped"])
    ]
    assert wrong == []


def test_a_putt_hidden_at_the_hole_has_no_figures_there(measured):
    (hidden,) = [putt for _, true, putt in measured if true["outcome"] == "unseen"]
    assert hidden.hole_offset_mm.value is None
    assert hidden.run_out_m.value is None
    assert hidden.start_direction_to_hole_deg.value is not None


def errors(measured, name):
    pairs = [(getattr(putt, name), true[name]) for _, true, putt in measured]
    error = np.array([figure.value - true for figure, true in pairs])
    covered = np.mean(np.abs(error) <= [figure.u95 for figure, _ in pairs])
    return error, np.array([true for _, true in pairs]), covered


def test_start_lines(measured):
    error, _, covered = errors(measured, "start_direction_to_hole_deg")
    assert np.median(np.abs(error)) <= 0.15
    assert np.percentile(np.abs(error), 95) <= 0.5
    assert covered >= 0.85


def test_launch_speeds(measured):
    error, true, covered = errors(measured, "launch_speed_m_s")
    assert np.percentile(np.abs(error / true), 95) <= 0.02
    assert covered >= 0.85
