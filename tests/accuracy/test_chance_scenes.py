"""Scenes of chance can be filmed, and no two afternoons are alike."""

import chance_scenes
import pytest
from run_chance import words
from scoring import Scored

from sample_media.film import play


@pytest.mark.parametrize("seed", range(1, 13))
def test_a_scene_has_its_putts(seed):
    scene = chance_scenes.scene(seed)
    assert scene == chance_scenes.scene(seed)
    rolled = [life.rolled for life in play.script(scene).balls if life.rolled is not None]
    assert len(rolled) == chance_scenes.N_PUTTS
    assert scene.duration_s > chance_scenes.FIRST_S + (chance_scenes.N_PUTTS - 1) * chance_scenes.EVERY_S


def test_scenes_differ_in_what_matters():
    scenes = [chance_scenes.scene(seed) for seed in range(1, 40)]
    for what in (
        lambda s: s.ball, lambda s: len(s.sheets), lambda s: s.golfer is None, lambda s: s.camera.fps,
        lambda s: s.light.sun, lambda s: s.gate is None, lambda s: s.green.colour, lambda s: s.ball_line_m,
    ):  # fmt: skip
        assert len({what(s) for s in scenes}) > 1


def test_a_putt_that_was_not_found_says_nothing_wrong():
    truth = {"number": 1, "outcome": "holed", "gate_result": "none", "lipped": False}
    truth |= dict.fromkeys(
        [
            "start_direction_to_hole_deg", "launch_speed_m_s", "gate_offset_mm", "hole_offset_mm",
            "speed_at_hole_m_s", "run_out_m", "hole_distance_m",
        ]
    )  # fmt: skip
    assert words([Scored(conditions={}, truth=truth, putt=None)]) == []
