"""The truth of filmed putts, checked against its own trajectory and the team's definitions."""

import json
import math
import subprocess
import sys
from functools import lru_cache

import numpy as np
import pytest

from puttvision.physics import GRAVITY_M_S2, HOLE_RADIUS_M
from sample_media.film import play, truth
from sample_media.film.clips import BALL_GATE, CLIPS, HEAD_GATE, MISSES


@lru_cache
def script_of(name):
    return play.script(CLIPS[name])


@pytest.fixture(scope="module", params=list(CLIPS))
def told(request):
    script = script_of(request.param)
    return {"script": script, **truth.truth(script, 1)}


def path_of(putt):
    line = putt["trajectory_240hz"]
    return np.array(line["t"]), np.array(line["along"]), np.array(line["right"])


def test_launch_speed_is_that_of_a_skidding_ball(told):
    # mu g slows it over the first 0.20 m (it skids longer than that from 1.8 m/s on), so the mean speed is
    # the mean of the speeds at both ends.
    slopes = told["green"]["slope_along"]
    for putt in told["putts"]:
        v0 = putt["face_speed_m_s"]
        if 12 * v0**2 / (49 * 0.4 * GRAVITY_M_S2) < 0.2:
            continue
        v1 = math.sqrt(v0**2 - 2 * (0.4 - slopes) * GRAVITY_M_S2 * 0.20)
        assert putt["launch_speed_m_s"] == pytest.approx((v0 + v1) / 2, rel=1e-3)


def test_start_direction_is_the_tangent_at_the_start(told):
    for putt in told["putts"]:
        t, along, right = (a[:16] for a in path_of(putt))
        # Right of the line: the tangent's share of along, and the slope's pull, as time squared.
        fit, *_ = np.linalg.lstsq(np.stack([along, (t - t[0]) ** 2], axis=1), right, rcond=None)
        assert math.degrees(math.atan(fit[0])) == pytest.approx(putt["start_direction_to_hole_deg"], abs=0.02)


def test_gate_offset_lies_on_the_trajectory(told):
    gate = told["gate"]
    if gate is None:
        assert {p["gate_result"] for p in told["putts"]} == {"none"}
        return
    for putt in told["putts"]:
        if putt["gate_offset_mm"] is None:
            assert putt["gate_result"] == "outside"
            continue
        t, along, right = path_of(putt)
        at = np.array([np.interp(putt["gate_cross_s"], t, along), np.interp(putt["gate_cross_s"], t, right)])
        start, line = np.array(putt["start_world"][:2]), np.array(told["green"]["hole_world"][:2])
        forward = (line - start) / np.linalg.norm(line - start)
        world = start + at[0] * forward + at[1] * np.array([forward[1], -forward[0]])
        offset = world - gate["centre_world"]
        across = np.array(gate["right_post_world"]) - gate["left_post_world"]
        across /= np.linalg.norm(across)
        assert 1000 * offset @ across == pytest.approx(putt["gate_offset_mm"], abs=0.3)
        assert abs(offset @ [-across[1], across[0]]) < 2e-4


def test_gate_calls_follow_from_posts_and_place(told):
    for putt in told["putts"]:
        if putt["gate_result"] == "clear":
            assert not putt["post_hits"]
            room_mm = told["gate"]["width_mm"] / 2 - 21.335
            assert abs(putt["gate_offset_mm"]) < room_mm
        elif putt["gate_result"] == "touched":
            assert putt["post_hits"]


def test_hole_figures_follow_from_the_outcome(told):
    for putt in told["putts"]:
        if putt["outcome"] == "unseen":
            assert putt["hole_offset_mm"] is putt["speed_at_hole_m_s"] is putt["run_out_m"] is None
            assert putt["rest"] is None
            continue
        _, along, right = path_of(putt)
        gap_mm = 1000 * np.hypot(along - putt["hole_distance_m"], right)
        if putt["outcome"] == "holed":
            assert abs(putt["hole_offset_mm"]) < 1000 * HOLE_RADIUS_M
            assert putt["rest"] is None
            assert putt["holed_s"] > putt["start_s"]
            assert putt["trajectory_240hz"]["height"][-1] < 0
        elif putt["hole_offset_mm"] is not None and not putt["lipped"]:
            assert gap_mm.min() == pytest.approx(abs(putt["hole_offset_mm"]), abs=0.5)
        if putt["rest"] is not None:
            assert along[-1] == pytest.approx(putt["rest"]["along_m"], abs=2e-3)
            assert putt["run_out_m"] == pytest.approx(
                putt["rest"]["along_m"] - putt["hole_distance_m"], abs=1e-5
            )
        assert putt["lipped"] == (putt["rim_met"] and putt["outcome"] == "missed")


def test_the_gate_stands_as_described():
    posts = play.gate_posts(BALL_GATE)
    left, right = (np.array([p.x, p.y]) for p in posts)

    assert np.linalg.norm(left - right) - 2 * posts[0].radius_m == pytest.approx(
        BALL_GATE.gate.width_mm / 1000
    )
    assert left[1] > right[1]  # y is to the left
    normal = np.array([-(right - left)[1], (right - left)[0]])
    turned_right = -math.degrees(math.atan2(normal[1], normal[0]))
    assert turned_right == pytest.approx(BALL_GATE.gate.square_deg)


def test_clips_show_what_their_drills_need():
    def calls(scene, key):
        script = script_of(scene.name)
        return [truth.putt_truth(script, p, [])[key] for p in script.played]

    assert set(calls(BALL_GATE, "gate_result")) == {"clear", "touched", "outside"}
    assert calls(HEAD_GATE, "outcome") == ["missed"] + ["holed"] * 7
    outcomes = calls(MISSES, "outcome")
    assert outcomes == ["missed"] * 6 + ["unseen"]
    assert calls(MISSES, "lipped").count(True) == 1
    assert None in calls(MISSES, "hole_offset_mm")[:6]  # one stopped short


def test_the_evaluators_own_check_passes_on_our_truths(shared, told, tmp_path):
    script = told.pop("script")
    name = script.scene.name
    (tmp_path / f"{name}.truth.json").write_text(json.dumps(told))
    run = subprocess.run(
        [sys.executable, str(shared / "evaluate.py"), "--self-check", "--clips", str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
    )
    told["script"] = script

    assert run.returncode == 0, run.stdout
    assert f"{len(told['putts'])} putts of 1 clip(s)" in run.stdout


def test_no_ball_runs_into_another(told):
    # Balls do not push each other in the films: so they must not meet.
    script = told["script"]
    for life in script.balls:
        if life.rolled is None:
            continue
        begin, path = life.rolled
        times = np.arange(begin - 1.5, begin + path.t[-1], 0.005)
        for other in script.balls:
            seen = np.array([other.visible(t) for t in times])
            if other is not life and seen.any():
                gap = np.linalg.norm(life.place(times) - other.place(times), axis=1)[seen]
                assert gap.min() > 0.0427, (life.number, other.number)
