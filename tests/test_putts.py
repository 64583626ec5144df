"""putts.json: the documented example, hand-entered files and broken ones."""

import pytest

from puttvision.errors import PuttsFileError
from puttvision.putts import FORMAT, from_json, to_json

EXAMPLE = {
    "format": FORMAT,
    "clip": {"file": "name.mp4", "duration_s": 61.4, "frames": 3684, "width": 1920, "height": 1080},
    "green": {"sheets": [0, 3], "reprojection_rms_px": 0.21, "hole_px": [1312.4, 655.0],
              "stimp_ft": {"value": 9.6, "u95": 0.4}},
    "gate": {"distance_m": {"value": 0.45, "u95": 0.004}, "width_mm": {"value": 65.0, "u95": 3.0},
             "square_deg": {"value": 1.2, "u95": 0.6}},
    "putts": [{
        "number": 1, "start_s": {"value": 4.318, "u95": 0.01},
        "hole_distance_m": {"value": 3.05, "u95": 0.01},
        "start_direction_to_hole_deg": {"value": 0.84, "u95": 0.14},
        "start_direction_to_gate_deg": {"value": 0.61, "u95": 0.15},
        "launch_speed_m_s": {"value": 2.04, "u95": 0.02}, "gate_result": "clear",
        "gate_offset_mm": {"value": 4.8, "u95": 1.4}, "hole_offset_mm": {"value": 12.0, "u95": 5.0},
        "speed_at_hole_m_s": {"value": 0.92, "u95": 0.05}, "outcome": "holed", "lipped": False, "rest": None,
        "run_out_m": {"value": 0.41, "u95": 0.06}, "confidence": 0.98, "review": [],
    }],
}  # fmt: skip


def test_the_documented_example_round_trips():
    assert to_json(from_json(EXAMPLE)) == EXAMPLE


def test_a_hand_entered_file_needs_number_and_outcome_only():
    sheet = from_json({"format": FORMAT, "putts": [{"number": 1, "outcome": "holed"}]})
    assert sheet.putts[0].outcome == "holed"
    assert not sheet.putts[0].start_s


@pytest.mark.parametrize(
    ("putts", "says"),
    [
        ([{"outcome": "holed"}], "number"),
        ([{"number": 0, "outcome": "holed"}], "number"),
        ([{"number": 1}], "outcome"),
        ([{"number": 1, "outcome": "made"}], "holed, missed, unseen"),
        ([{"number": 1, "outcome": "holed", "gate_result": "yes"}], "gate_result"),
        ([{"number": 1, "outcome": "holed", "start_s": "soon"}], "start_s"),
        ([{"number": 1, "outcome": "holed", "lipped": 1}], "lipped"),
        ([{"number": 2, "outcome": "holed"}, {"number": 1, "outcome": "holed"}], "must rise"),
        ([3], "an object was due"),
        ("none", "a list of putts"),
    ],
)
def test_broken_files_are_named_in_one_line(putts, says):
    with pytest.raises(PuttsFileError) as caught:
        from_json({"format": FORMAT, "putts": putts}, "mine.json")
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
