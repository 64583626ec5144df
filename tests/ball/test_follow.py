"""Following balls through small ray-traced sequences: what rolls is followed, what does not move stays.

Frames of 640 x 360 at 60 a second; the ball moves by the test's own kinematics (constant deceleration) and is
drawn by ``little_green``. Things that come in between are painted over the frames.
"""

import cv2
import numpy as np
import pytest
from little_green import BALL_RADIUS_M, Reel, Scene, View

from puttvision.ball.follow import BallFollower
from puttvision.ball.look import HoleView
from puttvision.green.edges import linear_light

VIEW = View()
RATE_HZ = 60
START_M = np.array([-0.5, 2.6])
HEADING = np.array([1.0, 0.05]) / np.hypot(1.0, 0.05)
STRUCK_S, LAUNCH_M_S, BRAKE_M_S2 = 0.6, 1.1, 0.7
STOPS_S = STRUCK_S + LAUNCH_M_S / BRAKE_M_S2


def place(time_s, launch=LAUNCH_M_S):
    """Where the ball is: at rest, rolling, at rest again."""
    t = np.clip(time_s - STRUCK_S, 0, launch / BRAKE_M_S2)
    return START_M + HEADING * (launch * t - BRAKE_M_S2 * t * t / 2)


def pixel(at_m):
    return VIEW.project([*at_m, BALL_RADIUS_M])


def shot(reel, until_s, *, launch=LAUNCH_M_S, gone_s=np.inf, others=()):
    """(time, luma) of a clip in which the ball is struck; from ``gone_s`` on it is not seen again."""
    frames = []
    for k in range(round(until_s * RATE_HZ)):
        t = k / RATE_HZ
        if t >= gone_s:
            frames.append((t, reel.frame()))
            continue
        at = place(t, launch)
        frames.append((t, reel.frame([Scene(balls_m=(tuple(at), *others))], [at])))
    return frames


@pytest.fixture(scope="module")
def reel():
    return Reel(VIEW, Scene())


@pytest.fixture(scope="module")
def rolled(reel):
    return shot(reel, STOPS_S + 0.7)


def follow(frames, **options):
    follower = BallFollower(VIEW.camera(), linear_light(2.5), **options)
    for time_s, luma in frames:
        follower.feed(luma, time_s)
    return follower.finish(), follower.take_found()


def covered(frames, since_s, until_s, box, shade=35):
    """The same frames with a dark box in the way for a while."""
    out = []
    for time_s, luma in frames:
        if since_s <= time_s < until_s:
            luma = cv2.rectangle(luma.copy(), box[:2], box[2:], shade, -1)
        out.append((time_s, luma))
    return out


def test_a_ball_is_followed_from_rest_to_rest(rolled):
    (roll,), found = follow(rolled)
    assert roll.end == "rest"
    assert np.hypot(*(np.array(roll.start.at_px) - pixel(START_M))) < 0.2
    assert roll.start.n_fits >= 2
    assert roll.start.first_s <= 0.3
    assert roll.rest is not None
    assert np.hypot(*(np.array(roll.rest.at_px) - pixel(place(99)))) < 0.2
    # every frame of the roll, to a few hundredths of a pixel in the mean, none made up
    rolling = [s for s in roll.sightings if STRUCK_S < s.time_s < STOPS_S]
    assert len(rolling) > 0.95 * (STOPS_S - STRUCK_S) * RATE_HZ
    misses = np.array([np.array(s.at_px) - pixel(place(s.time_s)) for s in roll.sightings])
    assert np.sqrt(np.mean(misses**2)) < 0.1
    assert np.abs(misses).max() < 0.4
    times = [s.time_s for s in roll.sightings]
    assert times == sorted(set(times))
    assert times[0] < STRUCK_S + 0.06
    assert len(found) == 1  # the ball at the start; where it came to rest it is no new one


def test_uneven_times_are_the_frames_own(rolled):
    # a phone drops one frame in five: what is seen is seen at the right time and place
    kept = [frame for k, frame in enumerate(rolled) if k % 5 != 3]
    (roll,), _ = follow(kept)
    assert roll.end == "rest"
    misses = [np.array(s.at_px) - pixel(place(s.time_s)) for s in roll.sightings]
    assert np.abs(misses).max() < 0.4


def test_a_ball_that_something_hides_for_a_moment_stays(rolled):
    # a putter's head or a shoe before the ball, then away again: no roll; and the stroke later is one
    x, y = np.round(pixel(START_M)).astype(int)
    head = (x - 25, y - 14, x + 15, y + 14)
    still = [(k / RATE_HZ, rolled[k % 30][1]) for k in range(90)]
    rolls, _ = follow(covered(still, 0.6, 0.9, head))
    assert rolls == []
    later = still + [(t + 1.5, luma) for t, luma in rolled]
    (roll,), _ = follow(covered(later, 0.6, 0.9, head))
    assert roll.end == "rest"
    assert roll.sightings[0].time_s == pytest.approx(1.5 + STRUCK_S, abs=0.06)
    assert np.hypot(*(np.array(roll.start.at_px) - pixel(START_M))) < 0.2


def test_a_leg_before_the_rolling_ball_does_not_end_the_roll(rolled):
    x, _ = np.round(pixel(place(STRUCK_S + 0.4))).astype(int)
    leg = (x - 20, 0, x + 20, 359)
    (roll,), _ = follow(covered(rolled, 0.0, 9.0, leg))
    assert roll.end == "rest"
    seen = [s for s in roll.sightings if abs(s.at_px[0] - x) < 15]
    assert seen == []  # behind the leg nothing is made up
    beyond = [s for s in roll.sightings if s.at_px[0] > x + 40]
    assert np.abs([np.array(s.at_px) - pixel(place(s.time_s)) for s in beyond]).max() < 0.4


def test_a_ball_that_drops_is_lost_at_the_hole(reel):
    gone_s = STRUCK_S + 0.9
    box = (380, 180, 440, 215)
    frames = shot(reel, gone_s + 1.3, gone_s=gone_s)
    view = HoleView(box, frames[0][1][180:215, 380:440])
    (roll,), _ = follow(frames, hole=view)
    assert roll.end == "lost"
    assert roll.rest is None
    assert roll.sightings[-1].time_s == pytest.approx(gone_s, abs=0.03)
    times = [t for t, _ in roll.hole_covered]
    assert times == sorted(times)
    assert times[-1] > gone_s + 0.3
    assert all(0 <= share <= 1 for _, share in roll.hole_covered)
    # the view of the hole's surroundings was free; with a leg before it, it says so
    assert max(share for t, share in roll.hole_covered if t > gone_s) < 0.3
    (hidden,), _ = follow(covered(frames, gone_s - 0.3, 9.0, (375, 0, 445, 359)), hole=view)
    assert np.median([share for t, share in hidden.hole_covered if t > gone_s]) > 0.7


def test_a_ball_that_rolls_out_of_the_picture_has_left(reel):
    (roll,), _ = follow(shot(reel, STRUCK_S + 0.9, launch=2.2))
    assert roll.end == "left"
    assert roll.rest is None
    assert roll.sightings[-1].at_px[0] > 600


def test_two_balls_at_rest_are_found_and_one_of_them_rolls():
    other = (0.2, 2.45)
    still = Reel(VIEW, Scene(balls_m=(other,)))
    frames = shot(still, STRUCK_S + 0.6, others=(other,))
    (roll,), found = follow(frames)
    assert np.hypot(*(np.array(roll.start.at_px) - pixel(START_M))) < 0.2
    places = sorted(tuple(np.round(lie.at_px, 1)) for lie in found)
    assert np.abs(np.array(places) - sorted(map(tuple, (pixel(START_M), pixel(other))))).max() < 0.3


def test_empty_grass_gives_nothing(reel):
    assert follow([(k / RATE_HZ, reel.frame()) for k in range(90)]) == ([], [])


def test_shoes_legs_and_shadows_are_no_balls(reel):
    # a pair of white shoes and dark legs walk through, a shadow follows, a putter's head flashes
    frames = []
    for k in range(120):
        luma = reel.frame()
        x = 40 + 4 * k
        luma[:, x + 60 : x + 110] = (luma[:, x + 60 : x + 110] * 0.55).astype(np.uint8)
        for step in (0, 45):
            cv2.rectangle(luma, (x + step, 0), (x + step + 22, 190), 45, -1)
            cv2.ellipse(luma, (x + step + 16, 196), (26, 11), 0, 0, 360, 215, -1, cv2.LINE_AA)
        cv2.rectangle(luma, (x + 80, 200), (x + 96, 207), 225 if k % 3 else 120, -1)
        frames.append((k / RATE_HZ, cv2.GaussianBlur(luma, (0, 0), 0.6)))
    rolls, _ = follow(frames)
    assert rolls == []


def test_the_next_ball_put_there_at_once_does_not_take_the_first_ones_roll(reel):
    # a friend rolls the next ball to the tee within half a second; its way there is not seen
    frames = []
    for time_s, luma in shot(reel, STOPS_S + 0.7):
        if time_s > STRUCK_S + 0.35:
            at = place(time_s)
            luma = reel.frame([Scene(balls_m=(tuple(at), tuple(START_M)))], [at, START_M])
        frames.append((time_s, luma))
    rolls, _ = follow(frames)
    assert len(rolls) == 1
    assert rolls[0].end == "rest"
    assert rolls[0].sightings[0].time_s < STRUCK_S + 0.06


def test_a_nudge_is_no_roll(reel):
    # 5 cm: a ball that is set right with the putter's head
    rolls, _ = follow(shot(reel, STRUCK_S + 0.8, launch=np.sqrt(2 * BRAKE_M_S2 * 0.05)))
    assert rolls == []


def test_rolls_can_be_taken_while_it_runs(rolled):
    follower = BallFollower(VIEW.camera(), linear_light(2.5))
    taken = []
    for time_s, luma in rolled:
        follower.feed(luma, time_s)
        taken += follower.take()
    assert [roll.end for roll in taken] == ["rest"]
    assert follower.take() == []
    assert follower.finish() == []
