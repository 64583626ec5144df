"""putts.json: the documented example, hand-entered files, broken ones, and every sheet there and back."""

import copy
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from puttvision.errors import PuttsFileError
from puttvision.putts import (
    FORMAT,
    ClipInfo,
    Figure,
    Gate,
    Green,
    Putt,
    PuttSheet,
    Rest,
    from_json,
    load,
    to_json,
)

# the example of the format's own document, section "putts.json", letter by letter
EXAMPLE = json.loads("""{
  "format": "puttvision-putts/1",
  "clip": {"file": "name.mp4", "duration_s": 61.4, "frames": 3684, "width": 1920, "height": 1080},
  "green": {"sheets": [0, 3], "reprojection_rms_px": 0.21, "hole_px": [1312.4, 655.0],
            "stimp_ft": {"value": 9.6, "u95": 0.4}},
  "gate": {"distance_m": {"value": 0.45, "u95": 0.004}, "width_mm": {"value": 65.0, "u95": 3.0},
           "square_deg": {"value": 1.2, "u95": 0.6}},
  "putts": [
    {
      "number": 1,
      "start_s": {"value": 4.318, "u95": 0.01},
      "hole_distance_m": {"value": 3.05, "u95": 0.01},
      "start_direction_to_hole_deg": {"value": 0.84, "u95": 0.14},
      "start_direction_to_gate_deg": {"value": 0.61, "u95": 0.15},
      "launch_speed_m_s": {"value": 2.04, "u95": 0.02},
      "gate_result": "clear",
      "gate_offset_mm": {"value": 4.8, "u95": 1.4},
      "hole_offset_mm": {"value": 12.0, "u95": 5.0},
      "speed_at_hole_m_s": {"value": 0.92, "u95": 0.05},
      "outcome": "holed",
      "lipped": false,
      "rest": null,
      "run_out_m": {"value": 0.41, "u95": 0.06},
      "confidence": 0.98,
      "review": []
    }
  ]
}""")


def example(**changes):
    """The example with changes to its one putt; None as a key's value takes the key away."""
    data = copy.deepcopy(EXAMPLE)
    data["putts"][0] |= changes
    return data


def test_the_documented_example_round_trips():
    assert to_json(from_json(EXAMPLE)) == EXAMPLE


def test_the_documented_example_is_understood():
    sheet = from_json(EXAMPLE)
    assert sheet.clip == ClipInfo(file="name.mp4", duration_s=61.4, frames=3684, width=1920, height=1080)
    assert sheet.green is not None
    assert sheet.green.sheets == (0, 3)
    assert sheet.green.hole_px == (1312.4, 655.0)
    assert sheet.gate is not None
    assert sheet.gate.width_mm == Figure(65.0, 3.0)
    (putt,) = sheet.putts
    assert (putt.number, putt.outcome, putt.gate_result, putt.lipped) == (1, "holed", "clear", False)
    assert putt.start_direction_to_hole_deg == Figure(0.84, 0.14)
    assert putt.run_out_m == Figure(0.41, 0.06)
    assert putt.rest is None
    assert putt.confidence == 0.98


def test_rest_is_an_object_of_two_figures():
    rest = {"along_m": {"value": 3.4, "u95": 0.01}, "right_m": {"value": -0.1, "u95": 0.01}}
    sheet = from_json(example(rest=rest, outcome="missed"))
    assert sheet.putts[0].rest == Rest(along_m=Figure(3.4, 0.01), right_m=Figure(-0.1, 0.01))
    assert to_json(sheet)["putts"][0]["rest"] == rest


def test_a_hand_entered_file_needs_number_and_outcome_only(tmp_path):
    path = tmp_path / "by-hand.json"
    path.write_text(
        '{"format": "puttvision-putts/1",'
        ' "putts": [{"number": 1, "outcome": "holed"},'
        ' {"number": 2, "outcome": "missed", "gate_result": "outside"},'
        ' {"number": 5, "outcome": "unseen"}]}'
    )
    sheet = load(path)
    assert [(p.number, p.outcome, p.gate_result) for p in sheet.putts] == [
        (1, "holed", "none"), (2, "missed", "outside"), (5, "unseen", "none"),
    ]  # fmt: skip
    assert (sheet.clip, sheet.green, sheet.gate) == (None, None, None)
    assert not sheet.putts[0].start_s
    assert sheet.putts[0].start_s.value is None


def test_a_plain_number_serves_for_a_figure_and_added_keys_are_left_alone():
    sheet = from_json(example(launch_speed_m_s=2.1, weather="dry"))
    assert sheet.putts[0].launch_speed_m_s == Figure(2.1, None)


def test_no_putts_is_a_file_too():
    assert from_json({"format": FORMAT, "putts": []}).putts == ()


PUTT = {"number": 1, "outcome": "holed"}


@pytest.mark.parametrize(
    ("putts", "says"),
    [
        ([{"outcome": "holed"}], ("putt 1", "number", "whole number")),
        ([PUTT | {"number": 0}], ("putt 1", "number", "from 1", "got 0")),
        ([PUTT | {"number": "1"}], ("putt 1", "number", 'got "1"')),
        ([PUTT | {"number": True}], ("putt 1", "number", "got true")),
        ([PUTT | {"number": 1.5}], ("putt 1", "number", "got 1.5")),
        ([{"number": 1}], ("putt 1", "outcome", "holed, missed, unseen")),
        ([PUTT | {"outcome": "made"}], ("putt 1", "outcome", "holed, missed, unseen", '"made"')),
        ([PUTT | {"outcome": ["holed"]}], ("putt 1", "outcome")),
        ([PUTT, {"number": 2, "outcome": "Holed"}], ("putt 2", "outcome", '"Holed"')),
        ([PUTT | {"gate_result": "yes"}], ("putt 1", "gate_result", "clear, touched, outside, none")),
        ([PUTT | {"start_s": "soon"}], ("putt 1", "start_s", '"soon"')),
        ([PUTT | {"start_s": True}], ("putt 1", "start_s", "true")),
        ([PUTT | {"run_out_m": {"value": "0.4"}}], ("putt 1", "run_out_m", "value")),
        ([PUTT | {"run_out_m": {"value": 0.4, "u95": [1]}}], ("putt 1", "run_out_m", "u95")),
        ([PUTT | {"hole_offset_mm": math.inf}], ("putt 1", "hole_offset_mm", "Infinity")),
        ([PUTT | {"gate_offset_mm": math.nan}], ("putt 1", "gate_offset_mm", "NaN")),
        ([PUTT | {"lipped": 1}], ("putt 1", "lipped", "true or false")),
        ([PUTT | {"rest": 3}], ("putt 1", "rest", "object")),
        ([PUTT | {"rest": {"along_m": "far"}}], ("putt 1", "rest", "along_m")),
        ([PUTT | {"review": "look"}], ("putt 1", "review", "list")),
        ([PUTT | {"confidence": "high"}], ("putt 1", "confidence")),
        ([PUTT | {"confidence": 7}], ("putt 1", "confidence", "from 0 to 1", "got 7")),
        ([PUTT | {"run_out_m": {"value": 0.4, "u95": -1}}], ("putt 1", "run_out_m", "u95 of 0 or more")),
        ([PUTT | {"start_s": 10**400}], ("putt 1", "start_s", "number")),
        ([PUTT | {"start_s": 10**5000}], ("putt 1", "start_s", "too large to show")),
        ([PUTT | {"miss_side": "up"}], ("putt 1", "miss_side", "left, right")),
        ([PUTT | {"player": 7}], ("putt 1", "player", "text")),
        ([{"number": 2, "outcome": "holed"}, PUTT], ("must rise", "1 comes after 2")),
        ([PUTT, PUTT], ("must rise", "1 comes after 1")),
        ([3], ("putt 1", "an object was due", "got 3")),
        ([PUTT, None], ("putt 2", "an object was due", "null")),
        ("none", ("putts", "a list of putts")),
        (None, ("putts", "a list of putts")),
    ],
)
def test_broken_putts_are_named_in_one_line(putts, says):
    with pytest.raises(PuttsFileError) as caught:
        from_json({"format": FORMAT, "putts": putts}, "mine.json")
    for word in ("mine.json", *says):
        assert word in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"format": "puttvision-putts/2"}, ("format", FORMAT)),
        ({"format": None}, ("format", FORMAT, "null")),
        ({"clip": "name.mp4"}, ("clip", "object")),
        ({"clip": {"frames": "many"}}, ("clip", "frames", "whole number")),
        ({"green": {"sheets": 3}}, ("green", "sheets", "list")),
        ({"green": {"sheets": ["x", None]}}, ("green", "sheets", "ids")),
        ({"green": {"stimp_ft": "fast"}}, ("green", "stimp_ft")),
        ({"green": {"hole_px": ["a", "b"]}}, ("green", "hole_px", "two numbers")),
        ({"green": {"hole_px": [1, 2, 3]}}, ("green", "hole_px", "two numbers", "[1, 2, 3]")),
        ({"green": {"hole_px": [math.inf, 2]}}, ("green", "hole_px", "two numbers")),
        ({"gate": {"width_mm": "65 mm"}}, ("gate", "width_mm", '"65 mm"')),
        ({"gate": [65]}, ("gate", "object")),
        ({"warnings": "none"}, ("warnings", "list")),
    ],
)
def test_broken_heads_are_named_in_one_line(changes, says):
    with pytest.raises(PuttsFileError) as caught:
        from_json(EXAMPLE | changes, "mine.json")
    for word in ("mine.json", *says):
        assert word in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("data", [[], 3, None, "putts", [EXAMPLE]])
def test_what_is_no_object_is_refused(data):
    with pytest.raises(PuttsFileError, match="object was due"):
        from_json(data)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "not JSON"),
        (b'{"format": "puttvision-putts/1", "putts": [', "not JSON"),  # cut off half-way
        (b'{"format": puttvision}', "not JSON"),
        (b"\x00\x01\xff\xfe", "not JSON"),
        (b"number;outcome\n1;holed\n", "not JSON"),
        (b"[" * 100_000, "brackets"),
        (b'{"format": "puttvision-putts/1", "putts": [{"number": ' + b"7" * 5000 + b"}]}", "not JSON"),
    ],
)
def test_files_that_are_no_json(tmp_path, raw, says):
    path = tmp_path / "mine.json"
    path.write_bytes(raw)
    with pytest.raises(PuttsFileError, match=says) as caught:
        load(path)
    assert "mine.json" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_byte_order_mark_before_the_text_is_no_fault(tmp_path):
    path = tmp_path / "mine.json"
    path.write_text(json.dumps(EXAMPLE), encoding="utf-8-sig")
    assert load(path) == from_json(EXAMPLE)


def test_files_that_are_not_there(tmp_path):
    with pytest.raises(PuttsFileError, match=r"cannot read .*nothing\.json"):
        load(tmp_path / "nothing.json")
    with pytest.raises(PuttsFileError, match="cannot read"):
        load(tmp_path)


def test_a_figure_is_finite_and_false_where_nothing_was_measured():
    with pytest.raises(ValueError, match="finite"):
        Figure(math.nan, 0.1)
    with pytest.raises(ValueError, match="finite"):
        Figure(1.0, math.inf)
    assert Figure(0.0, 0.1)  # nought is a measured value
    assert not Figure()


def test_numbers_rise_in_a_sheet_too():
    with pytest.raises(ValueError, match="rise"):
        PuttSheet(putts=(Putt(number=2, outcome="holed"), Putt(number=2, outcome="missed")))


numbers = st.floats(-1e6, 1e6)
figures = st.builds(Figure, numbers, st.none() | st.floats(0, 100)) | st.just(Figure())
putts = st.builds(
    Putt,
    number=st.just(1),
    outcome=st.sampled_from(["holed", "missed", "unseen"]),
    start_s=figures,
    hole_distance_m=figures,
    start_direction_to_hole_deg=figures,
    start_direction_to_gate_deg=figures,
    launch_speed_m_s=figures,
    gate_result=st.sampled_from(["clear", "touched", "outside", "none"]),
    gate_offset_mm=figures,
    hole_offset_mm=figures,
    speed_at_hole_m_s=figures,
    lipped=st.booleans(),
    rest=st.none() | st.builds(Rest, along_m=figures, right_m=figures),
    run_out_m=figures,
    confidence=st.none() | st.floats(0, 1),
    review=st.lists(st.text(max_size=20), max_size=2).map(tuple),
    miss_side=st.sampled_from([None, "left", "right"]),
    miss_length=st.sampled_from([None, "short", "long"]),
    player=st.none() | st.sampled_from(["Ines", "Oluf"]),
)
sheets = st.builds(
    PuttSheet,
    putts=st.none().map(lambda _: ()) | putts.map(lambda putt: (putt,)),
    clip=st.none()
    | st.builds(
        ClipInfo,
        file=st.text(min_size=1, max_size=12),
        duration_s=st.floats(0, 1e4),
        frames=st.integers(0, 10**6),
        width=st.integers(1, 9999),
        height=st.integers(1, 9999),
    ),
    green=st.none()
    | st.builds(
        Green,
        sheets=st.lists(st.integers(0, 9), max_size=3).map(tuple),
        reprojection_rms_px=st.none() | st.floats(0, 9),
        hole_px=st.none() | st.tuples(numbers, numbers),
        stimp_ft=figures,
    ),
    gate=st.none() | st.builds(Gate, distance_m=figures, width_mm=figures, square_deg=figures),
    warnings=st.lists(st.text(max_size=20), max_size=2).map(tuple),
)


@settings(max_examples=60, deadline=None)
@given(sheets)
def test_every_sheet_comes_back_from_its_text(sheet):
    # through real JSON text, as Python's own json module writes and reads it
    text = json.dumps(to_json(sheet), allow_nan=False)
    assert from_json(json.loads(text)) == sheet
