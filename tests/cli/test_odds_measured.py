"""Odds and targets of a player straight from a putts.json."""

import json
import random
import re

import pytest
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.errors import PuttvisionError
from puttvision.putts import PuttSheet, to_json
from sample_media.year import one_putt

TEN_FT_M = 3.048


@pytest.fixture
def measured(tmp_path):
    def write(n, line_deg=0.8, pace=0.06):
        chance = random.Random(5)
        putts = tuple(one_putt(chance, k + 1, TEN_FT_M, (line_deg, pace, 0.0)) for k in range(n))
        path = tmp_path / f"putts-{n}.json"
        path.write_text(json.dumps(to_json(PuttSheet(putts=putts))), encoding="utf-8")
        return str(path)

    return write


def run(*words):
    return CliRunner().invoke(app, list(words))


def test_odds_are_those_of_the_stroke_the_putts_were_rolled_with(measured):
    told = run("odds", "--drill", "one-miss-and-out", "--measured", measured(600), "--json")
    assert told.exit_code == 0, told.output
    spread = float(re.search(r"start-line spread ([\d.]+)°", told.stderr)[1])
    assert spread == pytest.approx(0.8, rel=0.1)  # 600 putts tell it to 6 % in 95 of 100
    found = json.loads(told.stdout)
    by_hand = run("odds", "--drill", "one-miss-and-out", "--start-spread", "0.8", "--pace-spread", "0.06",
                  "--json")  # fmt: skip
    assert found["expected_putts"] == pytest.approx(json.loads(by_hand.stdout)["expected_putts"], rel=0.1)


def test_target_takes_seconds_a_putt_from_the_film(measured):
    told = run("target", "break-pairs", "--minutes", "10", "--measured", measured(40))
    assert told.exit_code == 0, told.output
    assert "27 putts" in told.output  # ten minutes at the 22 s a putt of `one_putt`


def test_too_few_putts_or_two_strokes_are_refused(measured):
    few = run("odds", "--drill", "break-pairs", "--measured", measured(5))
    assert isinstance(few.exception, PuttvisionError)
    assert "5 putts: 20 with a start line are needed" in str(few.exception)
    both = run("odds", "--drill", "break-pairs", "--measured", measured(40), "--start-spread", "1")
    assert both.exit_code == 2
