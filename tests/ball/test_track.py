"""What a followed ball cannot have done, and what does not hide the hole."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from little_green import BALL_RADIUS_M, View

from puttvision.ball.disc import BallFit
from puttvision.ball.follow_settings import FollowSettings
from puttvision.ball.kalman import RollingFilter
from puttvision.ball.look import HoleView
from puttvision.ball.shading import USUAL_SHADING
from puttvision.ball.sightings import mean_lie
from puttvision.ball.track import Track

CAMERA = View().camera()
COV_M2 = 1e-6 * np.eye(2)
START_M, RATE_HZ, SPEED_M_S = (-0.3, 2.7), 60.0, 0.9
LUMA = np.zeros((360, 640), np.uint8)


def fit_at(at_m):
    u, v = CAMERA.project([*at_m, BALL_RADIUS_M]).tolist()
    return BallFit(
        at_px=(u, v), cov_px2=(0.01, 0.0, 0.01), size_ratio=1.0, seen=0.5, misfit_px=0.1, clear=True,
        at_m=at_m, shading=USUAL_SHADING,
    )  # fmt: skip


class Eyes(SimpleNamespace):
    """Sees one ball, wherever the test puts it."""

    camera, lying, ball = CAMERA, (), None

    def at(self, _luma, at_m, *_rest, **_more):
        near = self.ball is not None and np.hypot(*np.subtract(self.ball, at_m)) < 0.01
        return fit_at(self.ball) if near else None

    def newly_there(self, *_rest, **_more):
        return [] if self.ball is None else [fit_at(self.ball)]

    def cov_m2(self, _fit):
        return COV_M2


@pytest.fixture
def rolling():
    """A ball that has rolled 30 cm to the right at 0.9 m/s, the eyes on it and the time."""
    eyes, lie = Eyes(), mean_lie([(0.0, fit_at(START_M))])
    track = Track(
        lie, START_M, RollingFilter(0.0, np.array(START_M), COV_M2, u_speed_m_s=2.5), LUMA, 0.0,
        USUAL_SHADING, None,
    )  # fmt: skip
    for frame in range(1, 21):
        eyes.ball = (START_M[0] + SPEED_M_S * frame / RATE_HZ, START_M[1])
        assert track.step(eyes, FollowSettings(), LUMA, frame / RATE_HZ, ()) == "rolling"
    assert len(track.sightings) == 20
    return track, eyes, 20 / RATE_HZ


def test_a_post_may_send_it_back(rolling):
    track, eyes, time_s = rolling
    at_x = eyes.ball[0]
    for frame in range(1, 4):
        eyes.ball = (at_x - 0.5 * SPEED_M_S * frame / RATE_HZ, START_M[1])
        track.step(eyes, FollowSettings(), LUMA, time_s + frame / RATE_HZ, ())
    assert len(track.sightings) == 23


def test_it_is_not_faster_after_a_knock(rolling):
    track, eyes, time_s = rolling
    eyes.ball = (eyes.ball[0] - 3 * SPEED_M_S / RATE_HZ - 0.03, START_M[1])
    track.step(eyes, FollowSettings(), LUMA, time_s + 1 / RATE_HZ, ())
    assert len(track.sightings) == 20


def test_what_comes_by_after_it_was_lost_is_not_taken_for_it(rolling):
    track, eyes, time_s = rolling
    last_x = eyes.ball[0]
    eyes.ball = None
    for frame in range(1, 13):
        track.step(eyes, FollowSettings(), LUMA, time_s + frame / RATE_HZ, ())
    eyes.ball = (last_x - 0.36, START_M[1])  # 0.2 s later, farther back than it could have come
    track.step(eyes, FollowSettings(), LUMA, time_s + 13 / RATE_HZ, ())
    assert len(track.sightings) == 20


def test_far_from_start_and_hole_every_other_frame_of_sixty_a_second_is_measured(rolling):
    track, eyes, time_s = rolling
    far = FollowSettings(thorough_m=0.2)
    for frame in range(1, 9):
        eyes.ball = (START_M[0] + SPEED_M_S * (20 + frame) / RATE_HZ, START_M[1])
        track.step(eyes, far, LUMA, time_s + frame / RATE_HZ, ())
    assert len(track.sightings) == 24


def test_near_the_hole_every_frame_is_measured(rolling):
    track, eyes, time_s = rolling
    u, v = (int(value) for value in CAMERA.project([*eyes.ball, 0.0]))
    track.hole = HoleView((u - 15, v - 6, u + 45, v + 14), LUMA[v - 6 : v + 14, u - 15 : u + 45])
    for frame in range(1, 9):
        eyes.ball = (START_M[0] + SPEED_M_S * (20 + frame) / RATE_HZ, START_M[1])
        track.step(eyes, FollowSettings(thorough_m=0.2), LUMA, time_s + frame / RATE_HZ, ())
    assert len(track.sightings) == 28


def test_a_ball_that_lies_before_the_hole_does_not_cover_it():
    still = np.full((40, 60), 100, np.uint8)
    still[12:28, 15:45] = 20
    view = HoleView((200, 100, 260, 140), still)
    luma = np.full((360, 640), 100, np.uint8)
    luma[100:140, 200:260] = still
    assert view.covered(luma) < 0.01
    luma[122:140, 220:240] = 240  # a ball, before the hole
    assert view.covered(luma) > 0.45
    assert view.covered(luma, [(218, 120, 242, 142), (0, 0, 30, 30)]) < 0.05
    # something else that stands there hides it all the same
    luma[100:140, 240:260] = 240
    assert view.covered(luma, [(218, 120, 242, 142)]) > 0.2
    assert replace(view, box=(0, 0, 5, 5)).covered(luma) == 1.0
