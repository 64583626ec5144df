"""Rendered clips with exact truth, measured and scored by the evaluator that comes with them."""

import importlib.util
import json

import pytest

from puttvision.files import write_json
from puttvision.putt.measure import measure_clip
from puttvision.putts import to_json

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def scores(shared, tmp_path_factory):
    spec = importlib.util.spec_from_file_location("evaluate", shared / "evaluate.py")
    evaluate = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(evaluate)
    results = tmp_path_factory.mktemp("results")
    for clip in sorted((shared / "clips").glob("*.mp4")):
        write_json(results / clip.stem / "putts.json", to_json(measure_clip(clip).sheet))
    truths = evaluate.load_truths([str(shared / "clips")])
    return json.loads(json.dumps(evaluate.evaluate(truths, evaluate.reader(str(results)))["all"]))


def test_every_putt_is_found_and_none_invented(scores):
    assert scores["putts"]["missed"] == 0
    assert scores["putts"]["extra"] == 0


def test_calls(scores):
    assert scores["calls"]["outcome"]["share"] >= 0.95
    assert scores["calls"]["gate_result"]["share"] >= 0.90


def test_start_direction(scores):
    figure = scores["figures"]["start_direction_to_hole_deg"]
    assert figure["median_abs"] <= 0.15
    assert figure["p95_abs"] <= 0.5
    assert 0.85 <= figure["coverage"] <= 1.0


def test_launch_speed(scores):
    figure = scores["figures"]["launch_speed_m_s"]
    assert figure["p95_abs"] <= 2.0
    assert 0.85 <= figure["coverage"] <= 1.0
