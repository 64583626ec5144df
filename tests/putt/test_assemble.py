"""From rolls to putts: a drill of known strokes comes out as it was played, with honest intervals.

The truth is read off the strokes' own dense paths by the definitions of the format of putts.json, not by the
library; the camera, hole and posts are the true ones with their own claimed uncertainty.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from make_rolls import (
    ALONG,
    CAMERA,
    GREEN,
    HOLE_M,
    LENGTH_M,
    LIE_M,
    LINE_RAD,
    READOUT_S,
    RIGHT,
    STRUCK_S,
    Path,
    arrives_s,
    gate,
    knocked,
    lie_of,
    seen,
    struck,
)

from puttvision.green.hole import Hole
from puttvision.green.pose import Pose
from puttvision.green.site import Site
from puttvision.green.still import StillPicture
from puttvision.putt.assemble import Readout, assemble
from puttvision.putt.ball_gate import gate_region
from puttvision.putt.motion import Green, paths

READOUT = Readout(seconds=READOUT_S, u_seconds=0.002)
GATE = gate(square_deg=4.0)


def site(u_camera=1e-4):
    """A place whose camera, hole and picture are known; the picture is bare."""
    bare = np.full((CAMERA.height, CAMERA.width), 100, np.uint8)
    half = np.full((CAMERA.height // 2, CAMERA.width // 2), 128, np.uint8)
    px = CAMERA.project([*HOLE_M, 0.0])
    hole = Hole(
        at_px=(float(px[0]), float(px[1])), cov_px2=np.eye(2) * 0.2**2, radius_ratio=1.0, u_radius_ratio=0.01,
        rim_seen=0.9,
    )  # fmt: skip
    scale = np.array([1, 1000, 1000, 1, 1, 1, 1, 1.0]) * u_camera
    return Site(
        still=StillPicture(bare, half, half, 9),
        sheets=(),
        pose=Pose(camera=CAMERA, cov=np.diag(scale**2), sheets={}, rms_px=0.1),
        hole=hole,
        gamma=2.5,
        warnings=(),
    )


def feet_px(gate_line=GATE):
    return tuple(tuple(CAMERA.project([*post, 0.0])) for post in (gate_line.left_m, gate_line.right_m))


def measured(rolls, found_later=(), **options):
    options = options or {"no_gate": True}
    return assemble(list(rolls), list(found_later), site(), READOUT, **options)


def later(roll, by_s):
    """The same roll ``by_s`` later in the clip."""

    def shifted(lie):
        return replace(lie, first_s=lie.first_s + by_s, last_s=lie.last_s + by_s)

    return replace(
        roll,
        start=shifted(roll.start),
        sightings=tuple(replace(s, time_s=s.time_s + by_s) for s in roll.sightings),
        rest=None if roll.rest is None else shifted(roll.rest),
        hole_covered=tuple((t + by_s, share) for t, share in roll.hole_covered),
    )


STROKES = [(2.42, 0.6), (2.45, -0.4), (2.6, 1.8), (1.9, -0.9), (2.5, 0.1), (2.9, -2.4)]
"""Speed at the start and degrees to the right of the hole."""


@cache
def drill():
    """Six putts: gone at the hole where the path comes within 35 mm of it, else seen to rest."""
    rolls, truths = [], []
    for k, (speed, right_deg) in enumerate(STROKES):
        path = struck(speed, right_deg)
        in_s = arrives_s(path, 0.035)
        film = {"until_s": arrives_s(path) + 0.03, "end": "lost"} if in_s else {}
        rolls.append(later(seen(path, seed=k, **film), 12.0 * k))
        times = np.arange(STRUCK_S, path.stops_s, 2e-4)
        states = path(times)
        away = np.hypot(*(states[:, :2] - HOLE_M).T)
        nearest, entry = int(np.argmin(away)), int(np.argmax(away < 0.054))
        travelled = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(states[:, :2], axis=0).T))])
        at_hole = entry if (away < 0.054).any() else nearest
        reaches = (states[-1, :2] - HOLE_M) @ ALONG > 0
        miss = states[nearest, :2] - HOLE_M
        way = states[nearest, 2:] / max(np.hypot(*states[nearest, 2:]), 1e-9)
        truths.append({
            "outcome": "holed" if in_s else "missed",
            "start_s": STRUCK_S + 12.0 * k,
            "start_direction_to_hole_deg": right_deg,
            "launch_speed_m_s": 0.2 / (np.interp(0.2, travelled, times) - STRUCK_S),
            "hole_offset_mm": 1000 * float(miss @ [way[1], -way[0]]) if reaches else None,
            "speed_at_hole_m_s": float(np.hypot(*states[at_hole, 2:])) if reaches else None,
            "run_out_m": float((path.rest_m - HOLE_M) @ ALONG),
            "hole_distance_m": LENGTH_M,
        })  # fmt: skip
    return rolls, truths


@pytest.fixture(scope="module")
def played():
    rolls, truths = drill()
    return [m.putt for m in measured(rolls).putts], truths


def test_every_putt_is_there_in_its_order(played):
    putts, truths = played
    assert [p.number for p in putts] == list(range(1, len(STROKES) + 1))
    assert [p.outcome for p in putts] == [t["outcome"] for t in truths]
    assert {"holed", "missed"} == {t["outcome"] for t in truths}
    assert [p.gate_result for p in putts] == ["none"] * len(putts)


@pytest.mark.parametrize(
    ("figure", "worst"),
    [
        ("start_s", 0.003), ("hole_distance_m", 0.003), ("start_direction_to_hole_deg", 0.15),
        ("launch_speed_m_s", 0.02), ("hole_offset_mm", 8.0), ("speed_at_hole_m_s", 0.04), ("run_out_m", 0.06),
    ],
)  # fmt: skip
def test_figures_are_those_of_the_strokes(played, figure, worst):
    putts, truths = played
    pulls = []
    for putt, truth in zip(putts, truths, strict=True):
        got = getattr(putt, figure)
        if truth[figure] is None:
            assert got.value is None, putt.number
            continue
        assert got.value == pytest.approx(truth[figure], abs=worst), putt.number
        assert got.u95 is not None
        pulls.append((got.value - truth[figure]) / got.u95)
    assert np.mean(np.abs(pulls) <= 1) >= 0.8  # of six; 95 in 100 in the long run
    assert max(np.abs(pulls)) < 2.5


def test_rest_of_missed_putts_and_of_no_others(played):
    putts, _ = played
    for putt, (speed, right_deg) in zip(putts, STROKES, strict=True):
        if putt.outcome == "holed":
            assert putt.rest is None
            continue
        away = struck(speed, right_deg).rest_m - LIE_M
        assert putt.rest is not None
        assert putt.rest.along_m.value == pytest.approx(away @ ALONG, abs=0.003)
        assert putt.rest.right_m.value == pytest.approx(away @ RIGHT, abs=0.003)
        # a missed ball's run-out is where it came to rest: along minus the hole's distance
        assert putt.run_out_m.value == pytest.approx(
            putt.rest.along_m.value - putt.hole_distance_m.value, abs=1e-6
        )


def test_green_speed_comes_from_the_rolls():
    rolls, _ = drill()
    stimp = measured(rolls).stimp_ft
    # 1.83 m/s (Holmes 1986) on a green of 0.58 m/s2: 9.47 ft
    assert stimp.value == pytest.approx(1.83**2 / (2 * 0.58) / 0.3048, abs=0.5)
    assert abs(stimp.value - 9.471) < stimp.u95


# --- the gate ------------------------------------------------------------------------------------


def test_a_gate_and_what_balls_do_at_it():
    free = struck(2.42, 0.5)
    touch = knocked(struck(3.0, 2.7), GATE, -5.0, before_m=0.012)
    stopped = knocked(struck(2.0, 4.2), GATE, 160.0, kept=0.15, before_m=0.02)
    wide = struck(2.42, 8.0)
    rolls = [later(seen(path, seed=k), 12.0 * k) for k, path in enumerate((free, touch, stopped, wide))]
    result = measured(rolls, gate_px=feet_px())
    putts = [m.putt for m in result.putts]
    assert [p.gate_result for p in putts] == ["clear", "touched", "outside", "outside"]
    # the gate as it stands: 75 mm clear, 0.45 m ahead, facing 4 degrees to the right
    assert result.gate is not None
    assert result.gate.distance_m.value == pytest.approx(0.45, abs=0.003)
    assert result.gate.width_mm.value == pytest.approx(75.0, abs=1.0)
    assert result.gate.square_deg.value == pytest.approx(4.0, abs=0.5)
    for figure, true in (("distance_m", 0.45), ("width_mm", 75.0), ("square_deg", 4.0)):
        got = getattr(result.gate, figure)
        assert abs(got.value - true) <= got.u95
    # the start direction is that before the post, also against the line to the gate's middle
    for putt, right_deg in zip(putts, (0.5, 2.7, 4.2, 8.0), strict=True):
        assert putt.start_direction_to_hole_deg.value == pytest.approx(right_deg, abs=0.25)
        assert putt.start_direction_to_gate_deg.value == pytest.approx(right_deg, abs=0.4)
    # law of sines on the gate's own line for the clear one; null where a post stopped the ball
    theta, phi = np.radians(0.5), np.radians(4.0)
    assert putts[0].gate_offset_mm.value == pytest.approx(450 * np.sin(theta) / np.cos(theta - phi), abs=2.0)
    assert putts[2].gate_offset_mm.value is None
    # a ball turned back by a post has no figures at the hole; one that was touched and goes on has
    assert putts[2].hole_offset_mm.value is None
    assert putts[2].speed_at_hole_m_s.value is None
    assert putts[2].outcome == "missed"
    assert putts[1].hole_offset_mm.value is not None
    passes = touch(np.arange(STRUCK_S, touch.stops_s, 1e-3))
    away = np.hypot(*(passes[:, :2] - HOLE_M).T).min()
    assert abs(putts[1].hole_offset_mm.value) == pytest.approx(1000 * away, abs=25)
    assert putts[1].hole_offset_mm.value < 0  # thrown to the left, it passes on the left


def test_posts_may_be_pointed_at_in_any_order():
    rolls, _ = drill()
    right_first = tuple(reversed(feet_px()))
    one, other = (measured(rolls, gate_px=feet).gate for feet in (feet_px(), right_first))
    assert one == other


def test_no_gate_means_none():
    rolls, _ = drill()
    assert measured(rolls, no_gate=True).gate is None
    assert measured(rolls, no_gate=True).posts is None


def test_posts_are_looked_for_ahead_of_the_ball_and_not_at_the_hole():
    region = gate_region(LIE_M, HOLE_M)
    along, right = (region - LIE_M) @ ALONG, (region - LIE_M) @ RIGHT
    assert along.min() > 0
    assert along.max() < LENGTH_M - 0.4
    assert right.min() < -0.1 < 0.1 < right.max()


# --- what is not measured ------------------------------------------------------------------------


def test_where_the_end_is_not_seen_the_holes_figures_are_null():
    path = struck(2.42, 0.3)
    (m,) = measured([seen(path, until_s=STRUCK_S + 0.8, end="lost")]).putts
    putt = m.putt
    assert putt.outcome == "unseen"
    for figure in (putt.hole_offset_mm, putt.speed_at_hole_m_s, putt.run_out_m):
        assert figure.value is None
    assert putt.rest is None
    assert not putt.lipped
    assert putt.review
    # what was seen is measured
    assert putt.start_direction_to_hole_deg.value == pytest.approx(0.3, abs=0.2)
    assert putt.launch_speed_m_s.value is not None


def test_a_ball_found_at_rest_where_its_path_led_is_missed_there():
    # lost behind the player's legs before the hole, then seen to lie beyond it
    path = struck(2.6, 2.0)
    lost_s = STRUCK_S + 1.2
    rest_m = path.rest_m
    found = lie_of(rest_m, lost_s + 2.0, lost_s + 2.5)
    (m,) = measured([seen(path, until_s=lost_s, end="lost")], [found]).putts
    assert m.putt.outcome == "missed"
    assert m.putt.rest is not None
    assert m.putt.rest.along_m.value == pytest.approx((rest_m - LIE_M) @ ALONG, abs=0.01)
    assert m.putt.rest.right_m.value == pytest.approx((rest_m - LIE_M) @ RIGHT, abs=0.01)


def test_a_ball_set_down_elsewhere_is_not_the_one_that_was_lost():
    path = struck(2.6, 2.0)
    lost_s = STRUCK_S + 1.2
    (m,) = measured([seen(path, until_s=lost_s, end="lost")], [lie_of(LIE_M, lost_s + 2.0)]).putts
    assert m.putt.outcome == "unseen"


def test_a_ball_that_lay_there_before_is_not_the_one_that_was_lost():
    # an earlier putt's ball lies on beyond the hole; this one is gone at the hole
    earlier = seen(struck(2.6, 2.0), seed=1)
    path = struck(2.42, 0.6)
    gone = later(seen(path, until_s=arrives_s(path) + 0.03, end="lost", seed=2), 12.0)
    again = lie_of(struck(2.6, 2.0).rest_m, 12.0 + arrives_s(path) + 1.0)
    first, second = (m.putt for m in measured([earlier, gone], [again]).putts)
    assert first.outcome == "missed"
    assert (second.outcome, second.rest) == ("holed", None)


def test_what_is_no_putt_is_left_out():
    back = Path((STRUCK_S, paths(LIE_M[None], LINE_RAD + np.pi, 1.5, GREEN)))
    rolls = [
        seen(back, until_s=STRUCK_S + 0.5, end="left"),
        later(seen(struck(2.4, 0.2)), 12.0),
        later(seen(struck(2.4), until_s=STRUCK_S + 0.05, end="lost"), 24.0),
    ]
    putts = measured(rolls).putts
    assert [m.putt.number for m in putts] == [1]
    assert putts[0].putt.start_s.value == pytest.approx(STRUCK_S + 12.0, abs=0.005)


def test_without_a_putt_nothing_is_invented():
    empty = measured([])
    assert (empty.putts, empty.gate, empty.fit) == ((), None, None)
    assert empty.stimp_ft.value is None


def test_a_camera_that_is_less_sure_makes_figures_less_sure():
    rolls, _ = drill()
    sure, unsure = (assemble(rolls, [], site(u), READOUT, no_gate=True).putts[0].putt for u in (1e-5, 1e-2))
    assert unsure.hole_distance_m.u95 > 3 * sure.hole_distance_m.u95
    assert unsure.launch_speed_m_s.u95 > 2 * sure.launch_speed_m_s.u95


def test_a_sloping_green_does_not_spoil_the_start_line():
    # 2 % across: putts start up to 3 degrees high and come back
    slope = Green(0.58, *(0.13 * -RIGHT), 0.4)
    rolls, rights = [], (3.2, 2.6, 3.8, 2.9)
    for k, right_deg in enumerate(rights):
        path = Path((STRUCK_S, paths(LIE_M[None], LINE_RAD - np.radians(right_deg), 2.5, slope)))
        rolls.append(later(seen(path, seed=k), 12.0 * k))
    for m, right_deg in zip(measured(rolls).putts, rights, strict=True):
        got = m.putt.start_direction_to_hole_deg
        assert got.value == pytest.approx(right_deg, abs=0.2)
        assert abs(got.value - right_deg) < 1.5 * got.u95
