"""Following where one ball may be taken for another, or is not yet clear: whose roll it is.

Frames as in ``test_follow``; here two balls move.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from little_green import BALL_RADIUS_M, Reel, Scene, View

from puttvision.ball.colour import FrameColour, GrassHue
from puttvision.ball.finder import ball_radius_px
from puttvision.ball.follow import BallFollower
from puttvision.ball.look import Look
from puttvision.green.edges import linear_light

VIEW = View()
RATE_HZ = 60
BRAKE_M_S2 = 0.7
FIRST_M = np.array([-0.5, 2.6])
ALONG = np.array([1.0, 0.05]) / np.hypot(1.0, 0.05)


def rolling(from_m, heading, struck_s, launch_m_s):
    """Where a ball is at a time: at rest, rolling, at rest again."""

    def place(time_s):
        t = np.clip(time_s - struck_s, 0, launch_m_s / BRAKE_M_S2)
        return from_m + heading * (launch_m_s * t - BRAKE_M_S2 * t * t / 2)

    return place


def pixel(at_m):
    return VIEW.project([*at_m, BALL_RADIUS_M])


def shot(reel, places, until_s):
    """(time, luma) of a clip in which balls are where ``places`` say."""
    frames = []
    for k in range(round(until_s * RATE_HZ)):
        at_m = [place(k / RATE_HZ) for place in places]
        frames.append((k / RATE_HZ, reel.frame([Scene(balls_m=tuple(map(tuple, at_m)))], at_m)))
    return frames


@pytest.fixture(scope="module")
def reel():
    return Reel(VIEW, Scene(), n=2)


def follow(frames, **options):
    follower = BallFollower(VIEW.camera(), linear_light(2.5), **options)
    for time_s, luma in frames:
        follower.feed(luma, time_s)
    return follower.finish(), follower.take_found()


def starts_at(roll, place):
    return np.hypot(*(np.array(roll.start.at_px) - pixel(place(0.0)))) < 0.5


def test_a_ball_that_comes_to_where_another_was_just_struck_leaves_that_ones_roll(reel):
    # the second stops where the first lay, 0.45 s after that one was struck
    gone = rolling(FIRST_M, ALONG, 0.8, 0.8)
    launch = np.sqrt(2 * BRAKE_M_S2 * 0.20)
    comes = rolling(FIRST_M + np.array([0.0, 0.2]), np.array([0.0, -1.0]), 1.25 - launch / BRAKE_M_S2, launch)
    rolls, _ = follow(shot(reel, (gone, comes), 2.5))
    assert [roll.end for roll in rolls] == ["rest", "rest"]
    assert starts_at(rolls[0], comes)
    assert starts_at(rolls[1], gone)
    assert np.hypot(*(np.array(rolls[1].rest.at_px) - pixel(gone(99)))) < 0.3


def test_a_ball_that_leaves_from_elsewhere_is_not_the_one_that_is_hidden(reel):
    # a shoe hides the first ball; 0.3 s later the second, 25 cm farther along, is struck the same way
    hidden = rolling(FIRST_M, ALONG, 99.0, 1.0)
    struck = rolling(FIRST_M + 0.25 * ALONG, ALONG, 0.8, 0.8)
    x, y = np.round(pixel(FIRST_M)).astype(int)
    frames = []
    for time_s, luma in shot(reel, (hidden, struck), 2.5):
        if time_s >= 0.5:
            luma = cv2.rectangle(luma.copy(), (x - 25, y - 14), (x + 15, y + 14), 35, -1)
        frames.append((time_s, luma))
    rolls, _ = follow(frames)
    assert len(rolls) == 1
    assert starts_at(rolls[0], struck)


def test_what_is_nearly_a_ball_is_looked_at_again(reel, monkeypatch):
    # its edges are not clear at first, as in a shadow's edge, but its patch hardly changes when they are
    looked_s, now = [], [0.0]
    at = Look.at

    def unclear_at_first(self, *where, **how):
        looked_s.append(now[0])
        fit = at(self, *where, **how)
        return fit and replace(fit, clear=fit.clear and now[0] > 0.7)

    monkeypatch.setattr(Look, "at", unclear_at_first)
    follower = BallFollower(VIEW.camera(), linear_light(2.5), luma_shows=True)
    for time_s, luma in shot(reel, (rolling(FIRST_M, ALONG, 99.0, 1.0),), 1.8):
        now[0] = time_s
        follower.feed(luma, time_s)
    (found,) = follower.take_found()
    assert np.hypot(*(np.array(found.at_px) - pixel(FIRST_M))) < 0.3
    # and not in every scan: three a second are made
    assert len([s for s in looked_s if s <= 0.7]) == 2


def test_what_has_to_wait_its_turn_is_looked_at_in_the_next_search(reel):
    # more bright things than are looked at in one search, all nearer and so likelier than the ball
    far_m = np.array([0.0, 3.4])
    frames = []
    for time_s, luma in shot(reel, (rolling(far_m, ALONG, 99.0, 1.0),), 1.3):
        for k in range(30):
            x, y = 35 + 60 * (k % 10), 200 + 55 * (k // 10)
            cv2.rectangle(luma, (x, y), (x + 5, y + 29), 220, -1)
        frames.append((time_s, cv2.GaussianBlur(luma, (0, 0), 0.7)))
    _, (found,) = follow(frames)
    assert np.hypot(*(np.array(found.at_px) - pixel(far_m))) < 0.3
    assert found.first_s < 1.0  # and not when the whole picture is searched anew


def test_grass_in_the_sun_is_not_the_ball_that_lay_there_in_the_shade(reel):
    # the player's shadow moves off as the ball is struck: the grass is then as bright as the ball was
    struck_s = 0.9
    place = rolling(FIRST_M, ALONG, struck_s, 1.1)
    at_px = pixel(FIRST_M)
    radius_px = ball_radius_px(VIEW.camera(), at_px)
    grass = GrassHue(-0.22, -0.05)
    follower = BallFollower(VIEW.camera(), linear_light(2.5))
    for time_s, luma in shot(reel, (place,), 2.2):
        x, y = np.round(at_px).astype(int).tolist()
        if time_s < struck_s:
            near = (slice(y - 60, y + 60), slice(x - 60, x + 60))
            sun = float(np.median(luma[near])) - 16
            ball = float(luma[y - 2 : y + 3, x - 2 : x + 3].mean()) - 16
            luma[near] = (16 + (luma[near].astype(float) - 16) * (sun / ball)).astype(np.uint8)
        light = cv2.resize(luma, (320, 180), interpolation=cv2.INTER_AREA).astype(float) - 16
        cb, cr = (np.clip(128 + share * light, 0, 255).astype(np.uint8) for share in (grass.cb, grass.cr))
        for plane in (cb, cr):
            u, v = np.round(pixel(place(time_s)) / 2).astype(int).tolist()
            cv2.circle(plane, (u, v), round(radius_px / 2), 128, -1)
        follower.feed(luma, time_s, FrameColour(luma, lambda planes=(cb, cr): planes, grass))
    (roll,) = follower.finish()
    assert roll.sightings[0].time_s < struck_s + 0.2
    assert np.hypot(*(np.array(roll.start.at_px) - at_px)) < 0.5
