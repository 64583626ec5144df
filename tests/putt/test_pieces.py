"""Cutting rolls into free stretches, and telling a putt from a ball that is moved in another way."""

from dataclasses import replace

import numpy as np
import pytest
from make_rolls import (
    ALONG,
    CAMERA,
    GREEN,
    HOLE_M,
    LIE_M,
    LINE_RAD,
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

from puttvision.physics import BALL_RADIUS_M, FOOT_M, HOLE_RADIUS_M
from puttvision.putt.motion import paths
from puttvision.putt.pieces import cut, is_putt
from puttvision.putt.track import PlaneTrack, on_plane

GATE = gate()


def cut_at(roll, gate_line=GATE):
    return cut(roll, CAMERA, READOUT_S, HOLE_M, gate_line)


def putts(roll, settled_s=2.0):
    return is_putt(on_plane(roll, CAMERA, READOUT_S), HOLE_M, settled_s)


# --- from pixels and rows to places and instants -------------------------------------------------


def test_places_are_those_at_the_instant_of_the_balls_own_row():
    # a row is exposed readout * row / height after the first one; taken as one with it, the ball would be
    # several millimetres further on than it was
    path = struck(2.0, 1.0)
    roll = seen(path, noise_px=0.0)
    track = on_plane(roll, CAMERA, READOUT_S)
    true = np.array([path(t)[:2] for t in track.time_s])
    np.testing.assert_allclose(track.at_m, true, atol=1e-5)
    late = on_plane(roll, CAMERA, 0.0)
    away = np.hypot(*(late.at_m - [path(t)[:2] for t in late.time_s]).T)
    assert away[:20].min() > 0.003
    assert track.lie_m == pytest.approx(LIE_M, abs=1e-6)
    assert track.rest_m == pytest.approx(path.rest_m, abs=1e-6)


def test_covariance_on_the_plane_is_that_of_moved_pixels():
    # by drawing: sightings moved by their own noise scatter on the plane as the covariance says
    path = struck(2.0)
    tracks = [on_plane(seen(path, noise_px=0.3, seed=seed), CAMERA, READOUT_S) for seed in range(200)]
    k = 25
    scatter = np.cov(np.array([track.at_m[k] for track in tracks]).T)
    claimed = tracks[0].cov_m2[k]
    np.testing.assert_allclose(np.linalg.eigvalsh(claimed), np.linalg.eigvalsh(scatter), rtol=0.35)


# --- cutting -------------------------------------------------------------------------------------


def test_a_clear_putt_is_one_piece_up_to_the_hole():
    path = struck(2.3, 0.2)
    piece = cut_at(seen(path, until_s=arrives_s(path) + 0.03, end="lost"))
    assert not piece.knocked
    assert piece.later is None
    assert piece.first.lie_m == pytest.approx(LIE_M, abs=1e-6)
    # what is used ends where the ball may already be over the rim
    to_hole = np.hypot(*(piece.first.at_m - HOLE_M).T)
    assert to_hole.min() > HOLE_RADIUS_M
    assert piece.near_hole == len(piece.first.time_s)
    assert len(piece.first.time_s) > 50


def test_without_a_gate_nothing_is_cut_there():
    piece = cut_at(seen(knocked(struck(2.3), GATE, 6.0)), gate_line=None)
    assert piece.crossing is None
    assert not piece.knocked
    assert piece.later is None


@pytest.mark.parametrize("turn_deg", [5.0, -12.0])
def test_a_touched_ball_is_two_pieces_and_neither_holds_the_knock(turn_deg):
    path = knocked(struck(2.3, 0.3), GATE, turn_deg, before_m=0.01)
    piece = cut_at(seen(path))
    assert piece.knocked
    assert piece.later is not None
    assert piece.later.lie_m is None
    ahead = (piece.first.at_m - GATE.centre_m) @ GATE.normal
    assert ahead.max() < -BALL_RADIUS_M  # it may have met the post from there on
    assert ((piece.later.at_m - GATE.centre_m) @ GATE.normal > 0).all()
    assert set(piece.first_used) & set(piece.later_used) == set()


def test_a_ball_that_a_post_stops_never_comes_through():
    # dead against a post: back by a tenth of its speed
    path = knocked(struck(1.8, 2.0), GATE, 170.0, kept=0.1, before_m=0.02)
    piece = cut_at(seen(path))
    assert piece.knocked
    ahead = (piece.first.at_m - GATE.centre_m) @ GATE.normal
    assert ahead.max() < 0
    assert len(piece.first.time_s) >= 4


def test_what_checks_a_ball_where_no_gate_is_known_cuts_its_roll():
    # the gate's posts were not told from what stands about: a fit across the knock would be wrong by degrees
    path = knocked(struck(2.3, 0.3), GATE, 12.0, kept=0.5, before_m=0.01)
    piece = cut_at(seen(path), gate_line=None)
    assert piece.knocked
    assert piece.crossing is None
    assert ((piece.first.at_m - GATE.centre_m) @ GATE.normal < 0).all()
    assert piece.later is not None
    assert ((piece.later.at_m - GATE.centre_m) @ GATE.normal > -BALL_RADIUS_M).all()
    assert len(piece.first.time_s) >= 4


def test_a_ball_that_both_posts_check_has_touched_though_it_runs_on_straight():
    piece = cut_at(seen(knocked(struck(2.3, 0.3), GATE, 0.4, kept=0.65, before_m=0.01)))
    assert piece.knocked
    assert ((piece.first.at_m - GATE.centre_m) @ GATE.normal < -BALL_RADIUS_M).all()


@pytest.mark.parametrize("launch_m_s", [1.0, 1.1, 1.3, 3.0])
def test_what_skid_and_grass_take_is_no_knock(launch_m_s):
    cuts = [cut_at(seen(struck(launch_m_s), noise_px=0.15, seed=seed)) for seed in range(20)]
    assert [c.knocked for c in cuts] == [False] * 20


@pytest.mark.parametrize("gate_line", [GATE, None], ids=["gate", "no gate"])
def test_grass_noise_is_no_knock(gate_line):
    # 40 clear putts as noisy as sightings are: not one of them is cut
    cuts = [cut_at(seen(struck(2.2, right), noise_px=0.15, seed=seed), gate_line)
            for seed, right in enumerate(np.linspace(-1.2, 1.2, 40))]  # fmt: skip
    assert [c.knocked for c in cuts] == [False] * 40


def test_a_small_turn_is_a_knock_only_beside_a_post():
    # the same two degrees: through the middle, where no post stands, and past one with 3 mm to spare
    middle = knocked(struck(2.3, 0.0), GATE, 2.0)
    assert not cut_at(seen(middle)).knocked
    side_deg = float(np.degrees(np.arctan2(GATE.opening_m / 2 - BALL_RADIUS_M - 0.003, 0.45)))
    grazed = knocked(struck(2.3, side_deg), GATE, -2.0)
    assert cut_at(seen(grazed)).knocked


def test_clearance_is_that_of_the_balls_edge_from_the_nearer_post():
    # 10 mm to the right of the middle of a gate 75 mm wide: 37.5 - 21.35 - 10 = 6.2 mm
    track = np.array([at(0.40, 0.010), at(0.48, 0.010)])
    assert gate(0.45, 0.075).lateral_m(track, 1) == pytest.approx(0.010, abs=1e-9)
    assert gate(0.45, 0.075).clearance_m(track, 1) == pytest.approx(0.0375 - BALL_RADIUS_M - 0.010, abs=1e-9)


def test_putts_seen_flat_from_afar_are_putts_though_they_seem_to_jump():
    # sightings good to 12 mm along the line, as of a ball of 4 pixels' radius seen from 8 m
    times = STRUCK_S + np.arange(1, 90) / 60.0
    path = struck(2.6)(times)[:, :2]
    taken = {"said to be exact": [], "known to jump": []}
    for seed in range(20):
        noise = np.random.default_rng(seed).normal(0.0, 0.012, (len(times), 1)) * ALONG
        for how, u_m in zip(taken, (1e-4, 0.012), strict=True):
            cov_m2 = np.tile(np.outer(ALONG, ALONG) * u_m**2, (len(times), 1, 1))
            track = PlaneTrack(time_s=times, at_m=path + noise, cov_m2=cov_m2, lie_m=LIE_M, rest_m=None)
            taken[how].append(is_putt(track, HOLE_M, 2.0))
    assert np.mean(taken["said to be exact"]) < 0.6
    assert np.mean(taken["known to jump"]) > 0.9


GRAVITY_M_S2 = 9.81


def into_hole(path, hole_m, until_s):
    """The roll of a ball that falls once its middle is over the rim, seen till ``until_s`` after that."""
    times = np.arange(STRUCK_S, STRUCK_S + 5, 5e-4)
    over_s = times[np.hypot(*(path(times)[:, :2] - hole_m).T) < HOLE_RADIUS_M][0]
    roll = seen(path, until_s=over_s + until_s, end="lost")

    def lower(sighting):
        time_s = sighting.time_s + READOUT_S * sighting.at_px[1] / CAMERA.height
        fallen_m = GRAVITY_M_S2 / 2 * max(time_s - over_s, 0.0) ** 2
        px = CAMERA.project([*path(time_s)[:2], BALL_RADIUS_M - fallen_m])
        return replace(sighting, at_px=(float(px[0]), float(px[1])))

    return replace(roll, sightings=tuple(lower(s) for s in roll.sightings))


@pytest.mark.parametrize("until_s", [0.06, 0.10])
@pytest.mark.parametrize("speed", [1.6, 2.1])
def test_the_fall_into_a_hole_close_behind_the_gate_is_no_knock(speed, until_s):
    # 3 ft, the gate half way: taken as on the plane, a ball that falls bends towards the camera
    hole_m = at(3 * FOOT_M)
    roll = into_hole(struck(speed, 0.3), hole_m, until_s)
    piece = cut(roll, CAMERA, READOUT_S, hole_m, GATE)
    assert piece.near_hole < len(roll.sightings) - 2  # the fall is seen
    assert not piece.knocked
    assert abs(piece.crossing.turn_rad) < np.radians(0.5)
    assert len(piece.first.time_s) == piece.near_hole


def test_a_knock_close_before_the_hole_is_one_all_the_same():
    hole_m = at(3 * FOOT_M)
    path = knocked(struck(1.8, 0.3), GATE, 5.0, before_m=0.01)
    assert cut(seen(path), CAMERA, READOUT_S, hole_m, GATE).knocked


# --- is it a putt? -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("speed", "right_deg"), [(2.2, 0.0), (1.2, -3.0), (3.2, 2.0), (0.8, 10.0)],
    ids=["to the hole", "short", "far past", "badly pushed"],
)  # fmt: skip
def test_strokes_are_putts(speed, right_deg):
    assert putts(seen(struck(speed, right_deg)))


def test_a_putt_whose_end_is_not_seen_is_one():
    assert putts(seen(struck(2.2), until_s=STRUCK_S + 0.7, end="lost"))


def test_a_putt_knocked_aside_by_a_post_is_one():
    assert putts(seen(knocked(struck(2.2, 1.5), GATE, 40.0, kept=0.5)))


def test_a_ball_that_rolls_the_other_way_is_none():
    # rolled back from the hole to the player, or kicked away
    back = Path((STRUCK_S, paths(LIE_M[None], LINE_RAD + np.pi, 1.5, GREEN)))
    aside = Path((STRUCK_S, paths(LIE_M[None], LINE_RAD + np.pi / 2, 1.5, GREEN)))
    assert not putts(seen(back, until_s=STRUCK_S + 0.5, end="left"))
    assert not putts(seen(aside, until_s=STRUCK_S + 0.5, end="left"))


def moved(way, n=90, rate_hz=60.0):
    """A track of a ball whose place along the line is ``way(t)``, right ``way2(t)``."""
    t = np.arange(n) / rate_hz
    along, right = way(t)
    places = LIE_M + along[:, None] * ALONG + right[:, None] * RIGHT
    cov = np.tile(np.eye(2) * 0.0005**2, (n, 1, 1))
    return PlaneTrack(time_s=t + 3.0, at_m=places, cov_m2=cov, lie_m=LIE_M, rest_m=None)


@pytest.mark.parametrize(
    "way",
    [
        pytest.param(lambda t: (0.5 * t**2, 0 * t), id="raked along, faster and faster"),
        pytest.param(
            lambda t: (0.4 * (1 - np.cos(2 * t)), 0.03 * np.sin(3 * t)), id="carried, slow at both ends"
        ),
        pytest.param(lambda t: (0.15 * t, 0 * t), id="pushed along at a crawl"),
        pytest.param(lambda t: (0.10 * (1 - np.exp(-t / 0.1)), 0 * t), id="nudged by 10 cm"),
    ],
)
def test_a_ball_moved_by_hand_or_club_is_none(way):
    assert not is_putt(moved(way), HOLE_M, 2.0)


@pytest.mark.parametrize(("speed", "free"), [(3.3, True), (1.5, False)])
def test_only_a_fast_ball_may_first_show_a_foot_from_its_lie(speed, free):
    # 0.3 m are 0.09 s at 3.3 m/s, behind a putter's head; at 1.5 m/s it was hidden for 0.2 s
    track = moved(lambda t: (0.3 + speed * t - 0.4 * t**2, 0 * t), n=36)
    assert is_putt(track, HOLE_M, 2.0) is free


@pytest.mark.parametrize(
    ("aside_m", "gone_s", "free"),
    [
        pytest.param(0.0, 0.3, True, id="straight from its lie"),
        pytest.param(0.05, 0.3, False, id="from beside it"),
        pytest.param(0.0, 0.1, False, id="though it was seen at rest later than that"),
    ],
)
def test_a_ball_hidden_while_it_is_struck_may_show_a_little_later(aside_m, gone_s, free):
    # 0.33 m at 2.2 m/s: the club hid it for 0.15 s
    track = moved(lambda t: (0.33 + 2.2 * t - 0.4 * t**2, aside_m + 0.02 * t), n=60)
    assert is_putt(track, HOLE_M, 2.0, gone_s=gone_s) is free


def test_what_is_half_a_metre_away_at_once_is_none():
    # a hand that was taken for a ball at rest: 0.3 m in 0.03 s would be 9 m/s, in 0.1 s it is a putt of 3 m/s
    track = moved(lambda t: (0.3 + 3.3 * t - 0.4 * t**2, 0 * t), n=36)
    assert is_putt(track, HOLE_M, 2.0, gone_s=0.1)
    assert not is_putt(track, HOLE_M, 2.0, gone_s=0.03)


def test_a_ball_that_was_not_at_rest_is_none():
    # one that rolls past is "at its place" for a frame or two
    roll = seen(struck(2.0))
    assert putts(roll, settled_s=1.0)
    assert not putts(roll, settled_s=0.03)


def test_too_little_of_a_roll_shows_no_putt():
    assert not putts(seen(struck(2.0), until_s=STRUCK_S + 0.06, end="lost"))


def test_a_tap_from_beside_the_hole_is_none():
    # a ball knocked in from 30 cm, or fetched out of the hole, is not the drill's putt
    near = PlaneTrack(
        time_s=np.arange(30) / 60, at_m=at(2.1) + np.arange(30)[:, None] / 60 * 0.8 * ALONG,
        cov_m2=np.tile(np.eye(2) * 1e-6, (30, 1, 1)), lie_m=at(2.1), rest_m=None,
    )  # fmt: skip
    assert np.hypot(*(HOLE_M - near.lie_m)) < 0.35
    assert not is_putt(near, HOLE_M, 2.0)
