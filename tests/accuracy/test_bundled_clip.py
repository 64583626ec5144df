"""The bundled clip, measured and scored against its truth file."""

import json

import pytest

from puttvision.putt.measure import measure_clip
from puttvision.resources import shipped

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def pairs():
    truth = json.loads(shipped("sample_media", "quillow_ball_gate.truth.json").read_text())
    found = measure_clip(shipped("sample_media", "quillow_ball_gate.mp4")).sheet.putts
    assert len(found) == len(truth["putts"])
    return list(zip(truth["putts"], found, strict=True))


def test_calls_and_start_times(pairs):
    for true, putt in pairs:
        assert (putt.outcome, putt.gate_result) == (true["outcome"], true["gate_result"])
        assert putt.start_s.value == pytest.approx(true["start_s"], abs=0.01)


def test_start_lines_and_launch_speeds(pairs):
    for true, putt in pairs:
        line = putt.start_direction_to_hole_deg
        assert abs(line.value - true["start_direction_to_hole_deg"]) < 0.5
        assert putt.launch_speed_m_s.value == pytest.approx(true["launch_speed_m_s"], rel=0.02)
    covered = [
        abs(putt.start_direction_to_hole_deg.value - true["start_direction_to_hole_deg"])
        <= putt.start_direction_to_hole_deg.u95
        for true, putt in pairs
    ]
    assert sum(covered) >= 4
