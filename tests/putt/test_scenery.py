"""What is drawn of a putt lies where the ball was: paths of known strokes, laid over their own pictures."""

import numpy as np
import pytest
from make_rolls import CAMERA, HOLE_M, LIE_M, READOUT_S, STRUCK_S, arrives_s, gate, knocked, seen, struck
from test_assemble import site

from puttvision.physics import BALL_RADIUS_M
from puttvision.putt.assemble import Readout, assemble
from puttvision.putt.scenery import scene_of

GATE = gate()


def feet_px(line):
    return tuple(tuple(CAMERA.project([*at, 0.0])) for at in (line.left_m, line.right_m))


def scene(*rolls):
    readout = Readout(seconds=READOUT_S, u_seconds=0.002)
    where = site()
    return scene_of(where, assemble(list(rolls), [], where, readout, gate_px=feet_px(GATE)), readout)


def misses_px(putt, truth):
    """Distance in the picture from the drawn way to where the ball really was, at each of its times."""
    steps = np.array(putt.path)
    raised = np.full(len(steps), BALL_RADIUS_M)
    drawn = CAMERA.project(np.column_stack([steps[:, 1:3], raised]))
    true = CAMERA.project(np.column_stack([truth(steps[:, 0])[:, :2], raised]))
    return np.hypot(*(drawn - true).T)


HOLED = struck(2.35, right_deg=0.3)
ROLL_HOLED = seen(HOLED, until_s=arrives_s(HOLED, 0.07), end="lost")
SHORT = struck(1.7, right_deg=-1.0)
POST = knocked(struck(2.4, right_deg=3.5), GATE, turn_right_deg=12.0, kept=0.75, before_m=0.02)


@pytest.mark.parametrize(
    ("path", "roll"),
    [(HOLED, ROLL_HOLED), (SHORT, seen(SHORT)), (POST, seen(POST))],
    ids=["holed", "short", "off a post"],
)
def test_path_is_drawn_within_a_pixel_of_the_ball(path, roll):
    (putt,) = scene(roll).putts
    miss = misses_px(putt, path)
    assert len(miss) > 60
    assert np.max(miss) < 1.0
    assert np.median(miss) < 0.4


def test_places_are_those_of_the_site():
    drawn = scene(ROLL_HOLED)
    np.testing.assert_allclose(drawn.hole_m, HOLE_M, atol=1e-6)
    np.testing.assert_allclose(drawn.posts_m, [GATE.left_m, GATE.right_m], atol=1e-6)
    (putt,) = drawn.putts
    np.testing.assert_allclose(putt.lie_m, LIE_M, atol=0.001)
    assert putt.start_s == pytest.approx(STRUCK_S, abs=0.01)
    assert (drawn.view.f_px, drawn.view.height_m) == (CAMERA.f_px, CAMERA.height_m)


def test_a_holed_path_ends_at_the_hole_and_says_where_it_crossed_it():
    (putt,) = scene(ROLL_HOLED).putts
    times = np.arange(STRUCK_S, HOLED.stops_s, 1e-4)
    away = np.hypot(*(HOLED(times)[:, :2] - HOLE_M).T)
    np.testing.assert_allclose(putt.at_hole.nearest_m, HOLED(times[np.argmin(away)])[:2], atol=0.006)
    heading = np.array([np.cos(putt.at_hole.heading_rad), np.sin(putt.at_hole.heading_rad)])
    assert abs((np.array(putt.at_hole.nearest_m) - HOLE_M) @ heading) < 0.003
    end = np.array(putt.path[-1][1:3])
    assert np.hypot(*(end - HOLE_M)) < 0.054
    assert putt.rest_m is None


def test_a_short_putt_has_no_crossing_and_a_rest():
    (putt,) = scene(seen(SHORT)).putts
    assert putt.at_hole is None
    np.testing.assert_allclose(putt.rest_m, SHORT.rest_m, atol=0.004)
    assert putt.path[-1].speed_m_s < 0.1


def test_speed_along_the_path_is_the_balls():
    (putt,) = scene(seen(SHORT)).putts
    steps = np.array([step for step in putt.path if step.time_s > STRUCK_S + 0.02])
    true = np.hypot(*SHORT(steps[:, 0])[:, 2:].T)
    assert np.max(np.abs(steps[:, 3] - true)) < 0.06


def test_no_putt_gives_an_empty_scene():
    assert scene().putts == ()


def test_radius_is_the_outlines():
    (putt,) = scene(ROLL_HOLED).putts
    sight = putt.seen[len(putt.seen) // 2]
    at = CAMERA.to_plane((sight.x_px, sight.y_px), BALL_RADIUS_M)
    assert sight.radius_px == pytest.approx(CAMERA.px_per_m([*at, BALL_RADIUS_M]) * BALL_RADIUS_M, rel=0.02)
