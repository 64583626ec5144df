"""Drawing on a clip costs little beside encoding it, and memory does not grow with its length."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from puttvision.cli.measure import measure_to
from puttvision.resources import shipped

SCRIPT = Path(__file__).with_name("clip_speed.py")


def told(*words):
    """CPU seconds and peak megabytes by way; in processes of their own, not traced for coverage."""
    clean = {key: value for key, value in os.environ.items() if not key.startswith("COV_")}
    out = subprocess.run(
        [sys.executable, str(SCRIPT), *map(str, words)], capture_output=True, text=True, check=True, env=clean
    ).stdout
    rows = re.findall(r"^(\w+) .*cpu ([\d.]+) s, peak (\d+) MB", out, re.M)
    return {way: (float(cpu), float(peak)) for way, cpu, peak in rows}


@pytest.mark.slow
def test_annotated_clip_costs_at_most_half_more_than_plain_encoding(tmp_path):
    clip = shipped("sample_media", "quillow_ball_gate.mp4")
    measure_to(clip, tmp_path, quiet=True)
    short = told(clip, tmp_path, "--seconds", 6)
    long = told(clip, tmp_path, "--seconds", 6, "--repeat", 3)
    # CPU time, not the clock's: other work on the machine does not count
    assert long["annotated"][0] <= 1.5 * long["plain"][0]
    assert long["annotated"][1] <= short["annotated"][1] + 30
