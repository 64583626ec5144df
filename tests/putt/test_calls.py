"""The calls at the gate and at the hole: each word of the format, and never a guess.

The words are the format's own: ``clear``; ``touched`` (it hit a post and went through); ``outside`` (it went
past or was stopped); ``holed``, ``missed``, ``unseen`` (the clip does not show it); ``lipped`` only where the
ball met the rim and did not drop.
"""

import numpy as np
import pytest
from make_rolls import (
    ALONG,
    CAMERA,
    HOLE_M,
    READOUT_S,
    RIGHT,
    STRUCK_S,
    Path,
    arrives_s,
    at,
    gate,
    knocked,
    seen,
    struck,
)

from puttvision.physics import BALL_RADIUS_M
from puttvision.putt.calls import call_gate, call_hole, passes_gate
from puttvision.putt.motion import Green, paths
from puttvision.putt.pieces import cut

GATE = gate()
NAN = float("nan")


def cut_at(roll, gate_line=GATE):
    return cut(roll, CAMERA, READOUT_S, HOLE_M, gate_line)


def crossing_offset(path):
    """Where a path's centre crosses the gate's line, metres to the right of the gate's middle."""
    times = np.arange(STRUCK_S, STRUCK_S + 3, 5e-4)
    places = path(times)[:, :2] - GATE.centre_m
    k = int(np.nonzero(places @ GATE.normal > 0)[0][0])
    return float(places[k] @ GATE.across)


# --- at the gate ---------------------------------------------------------------------------------


@pytest.mark.parametrize("right_deg", [-1.0, 0.0, 0.8])
def test_a_ball_through_the_middle_is_clear(right_deg):
    path = struck(2.2, right_deg)
    call = call_gate(cut_at(seen(path)), GATE, crossing_offset(path), 0.0015)
    assert (call.result, call.through, call.review) == ("clear", True, ())
    assert call.confidence > 0.95


@pytest.mark.parametrize("right_deg", [6.5, -8.0, 14.0])
def test_a_ball_past_the_gate_is_outside(right_deg):
    # at 0.45 m the posts' outer sides are 43 mm from the middle; 6.5 degrees is 51 mm
    piece = cut_at(seen(struck(2.2, right_deg)))
    assert not passes_gate(piece, GATE)
    call = call_gate(piece, GATE, None, NAN)
    assert (call.result, call.through) == ("outside", False)
    assert call.confidence > 0.9


@pytest.mark.parametrize(("right_deg", "turn_deg"), [(2.6, -8.0), (-2.6, 8.0)])
def test_a_ball_that_a_post_turns_and_lets_through_is_touched(right_deg, turn_deg):
    # 2.6 degrees are 20.4 mm at the gate: a ball's edge 4 mm into the post, thrown back to the middle
    path = knocked(struck(2.2, right_deg), GATE, turn_deg, before_m=0.015)
    piece = cut_at(seen(path))
    assert passes_gate(piece, GATE)
    call = call_gate(piece, GATE, crossing_offset(path), 0.002)
    assert (call.result, call.through) == ("touched", True)
    assert call.confidence > 0.9


@pytest.mark.parametrize(("turn_deg", "kept"), [(165.0, 0.2), (75.0, 0.4)], ids=["back", "away to the side"])
def test_a_ball_that_a_post_stops_or_throws_out_is_outside(turn_deg, kept):
    path = knocked(struck(2.0, 4.3), GATE, turn_deg, kept=kept, before_m=0.02)
    call = call_gate(cut_at(seen(path)), GATE, None, NAN)
    assert (call.result, call.through) == ("outside", False)


def test_a_ball_that_stops_short_of_the_gate_is_outside():
    # 0.6 m/s rolls 0.3 m
    call = call_gate(cut_at(seen(struck(0.6))), GATE, None, NAN)
    assert (call.result, call.through) == ("outside", False)


def test_a_near_thing_is_called_with_doubt_and_shown_to_a_person():
    # half a millimetre between ball and post, known to one millimetre
    free_m = GATE.opening_m / 2 - BALL_RADIUS_M
    piece = cut_at(seen(struck(2.2, 1.9)))
    near = call_gate(piece, GATE, free_m - 0.0005, 0.001)
    wide = call_gate(piece, GATE, 0.0, 0.001)
    assert near.confidence < 0.9 < wide.confidence
    assert len(near.review) == 1
    assert "right post" in near.review[0]
    assert "left post" in call_gate(piece, GATE, -free_m + 0.0005, 0.001).review[0]
    assert wide.review == ()


# --- at the hole ---------------------------------------------------------------------------------


LENS_M = np.array([*(HOLE_M / 2 + 3.0 * RIGHT), 1.5])
"""Beside the line."""


def outcome(
    path, *, offset_m=0.0, u_m=0.004, speed=0.8, arrival_s=None, found_later=False, lens_m=LENS_M, **film
):
    """Call the outcome of a path as seen; ``arrival_s`` as fitted, else the path's own."""
    arrival_s = arrives_s(path) if arrival_s is None else arrival_s
    piece = cut_at(seen(path, **film), None)
    arrival_s = NAN if arrival_s is None else arrival_s
    return call_hole(piece, HOLE_M, offset_m, u_m, speed, arrival_s, found_later, lens_m)


IN = struck(2.25, 0.1)
"""A putt that comes to the hole with some 0.8 m/s."""
PUSHED = struck(2.25, 3.0)
"""Passes the hole 13 cm to the right."""


def test_the_paths_are_what_they_are_said_to_be():
    there = arrives_s(IN)
    assert there is not None
    assert 0.4 < np.hypot(*IN(there)[2:]) < 1.2
    assert arrives_s(PUSHED) is None


def test_a_ball_gone_at_the_hole_in_free_view_is_holed():
    call = outcome(IN, until_s=arrives_s(IN) + 0.05, end="lost")
    assert (call.outcome, call.lipped, call.review) == ("holed", False, ())
    assert call.confidence > 0.95


def test_with_the_hole_hidden_it_is_unseen():
    call = outcome(IN, until_s=arrives_s(IN) + 0.05, end="lost", covered=0.8)
    assert call.outcome == "unseen"
    assert not call.lipped
    assert call.confidence <= 0.5
    assert "hid the hole" in call.review[0]


def test_a_ball_lost_half_way_is_unseen():
    call = outcome(IN, until_s=STRUCK_S + 0.5, end="lost", arrival_s=arrives_s(IN))
    assert call.outcome == "unseen"
    assert "before the hole" in call.review[0]


def test_a_ball_that_leaves_the_picture_before_the_hole_is_unseen():
    assert outcome(IN, until_s=STRUCK_S + 0.5, end="left", arrival_s=arrives_s(IN)).outcome == "unseen"


def test_a_ball_at_rest_beyond_the_hole_is_missed():
    call = outcome(PUSHED, offset_m=0.13)
    assert (call.outcome, call.lipped, call.review) == ("missed", False, ())
    assert call.confidence > 0.95


def test_a_ball_at_rest_before_the_hole_is_missed():
    short = struck(1.6)
    assert np.hypot(*(short.rest_m - HOLE_M)) > 0.5
    call = outcome(short, offset_m=NAN, speed=NAN)
    assert (call.outcome, call.lipped) == ("missed", False)


def test_a_ball_lost_beyond_the_hole_is_missed_and_to_be_looked_at():
    past = struck(3.2, 3.0)
    beyond_s = STRUCK_S + 1.45
    assert (past(beyond_s)[:2] - HOLE_M) @ ALONG > 0.1
    for end, word in (("lost", "lost from sight"), ("left", "left the picture")):
        call = outcome(past, until_s=beyond_s, end=end, offset_m=0.13, speed=1.6)
        assert call.outcome == "missed"
        assert word in call.review[0]


def test_a_ball_that_falls_towards_a_lens_behind_the_hole_is_holed():
    # in the hole it shows nearer to the lens than it is: by the tangent, up to 3 cm past the far rim
    past = struck(3.2, 0.0)
    times_s = np.arange(STRUCK_S, STRUCK_S + 3, 0.001)
    beyond_m = np.array([(past(t)[:2] - HOLE_M) @ ALONG for t in times_s])
    film = {"until_s": float(times_s[np.argmax(beyond_m > 0.105)]), "end": "lost", "speed": 0.8}
    behind = np.array([*(HOLE_M + 1.8 * ALONG), 1.5])
    assert outcome(past, lens_m=behind, **film).outcome == "holed"
    assert outcome(past, **film).outcome == "missed"


def test_a_ball_last_seen_almost_at_rest_short_of_the_hole_is_missed():
    short = struck(1.6)
    slow_s = next(t for t in np.arange(STRUCK_S, STRUCK_S + 5, 0.01) if np.hypot(*short(t)[2:]) < 0.1)
    call = outcome(short, until_s=slow_s, end="lost", offset_m=NAN, speed=NAN)
    assert call.outcome == "missed"
    assert "came to rest" in call.review[0]
    rolling = outcome(short, until_s=slow_s - 1.0, end="lost", offset_m=NAN, speed=NAN)
    assert rolling.outcome == "unseen"


def test_a_ball_found_later_beyond_is_missed():
    call = outcome(IN, until_s=arrives_s(IN) + 0.02, end="lost", found_later=True)
    assert call.outcome == "missed"
    assert "out of sight" in call.review[0]


def test_a_ball_that_meets_the_rim_and_stays_out_is_lipped():
    # comes in off-centre, turns on the rim and rolls out to the right
    come = struck(2.3, 0.85)
    there = arrives_s(come, 0.050)
    assert there is not None
    x, y, vx, vy = come(there)
    heading = np.arctan2(vy, vx) - np.radians(60)
    out = paths(np.array([[x, y]]), heading, 0.7 * np.hypot(vx, vy), Green(0.58, 0, 0, 0.4), skids=False)
    lipped = Path(*come.pieces, (there, out))
    call = outcome(lipped, offset_m=0.035)
    assert (call.outcome, call.lipped) == ("missed", True)
    assert outcome(PUSHED, offset_m=0.13).lipped is False


def test_a_ball_that_shows_at_rest_in_the_hole_is_holed():
    # the follower sees it lie on the lining's edge for a moment, right in the hole
    call = outcome(IN, until_s=arrives_s(IN) + 0.15, end="rest", rest_m=HOLE_M + 0.01 * RIGHT)
    assert (call.outcome, call.lipped) == ("holed", False)


@pytest.mark.parametrize(("towards_lens_m", "called"), [(0.07, "holed"), (0.10, "missed")])
def test_a_ball_down_in_the_hole_seems_to_lie_before_its_rim(towards_lens_m, called):
    # a hand's breadth below the green, it shows where the line of sight over the rim meets the balls' level
    to_lens = (LENS_M[:2] - HOLE_M) / np.hypot(*(LENS_M[:2] - HOLE_M))
    rest_m = HOLE_M + towards_lens_m * to_lens
    call = outcome(IN, until_s=arrives_s(IN) + 0.05, end="rest", rest_m=rest_m)
    assert (call.outcome, call.lipped) == (called, called == "missed")


def test_a_ball_lost_beside_the_hole_is_not_holed():
    near = struck(2.25, 2.2)
    beside_s = arrives_s(near, 0.11)
    assert beside_s is not None
    assert arrives_s(near, 0.06) is None
    call = outcome(near, until_s=beside_s, end="lost", offset_m=0.095, arrival_s=beside_s + 0.1)
    assert call.outcome != "holed"


def test_a_ball_too_fast_for_the_hole_is_looked_at():
    # Holmes 1991: no hole takes more than 1.63 m/s; gone all the same, so a person is asked
    fast = struck(3.3, 0.0)
    there = arrives_s(fast)
    call = outcome(fast, until_s=there - 0.05, end="lost", speed=2.2)
    assert call.outcome in ("holed", "unseen")
    assert call.confidence < 0.9
    assert call.review


@pytest.mark.parametrize("covered", [0.0, 0.2])
@pytest.mark.parametrize("until", [-0.15, -0.05, 0.0, 0.1])
def test_whenever_it_vanishes_at_the_hole_it_is_holed(covered, until):
    # a ball drops out of sight anywhere from before the near rim (a low camera) to the far one
    call = outcome(IN, until_s=arrives_s(IN) + until, end="lost", covered=covered)
    assert call.outcome == "holed"


def test_places_in_these_tests():
    assert at(0.45) == pytest.approx(GATE.centre_m)
