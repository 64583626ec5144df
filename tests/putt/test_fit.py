"""Simulated rolls: what went in comes out, and the covariance says how well.

Rolls are made by the library's own motion (checked in test_motion against an independent integration) with
seeded noise; what is tested here is the estimator.
"""

import numpy as np
import pytest

from puttvision.putt.fit import GreenPrior, Piece, fit_rolls, level_deceleration, piece_paths, respond
from puttvision.putt.motion import Green, paths

NOISE_M = 0.0006
BRAKE, SIDE, MU = 0.58, 0.06, 0.4


def piece(rng, heading, speed, *, green=(BRAKE, 0.0, SIDE, MU), noise_m=NOISE_M, until_s=1.4, start_s=3.0,
          lie_m=(0.0, 0.0), rate_hz=60.0):  # fmt: skip
    """A struck ball as seen from 0.02 s after the start on, at a frame rate that does not meet the start."""
    path = paths(np.array([lie_m]), heading, speed, Green(*green))
    t = np.arange(0.02, until_s, 1 / rate_hz)
    at = path.at(t[None])[0, :, :2] + rng.normal(0, noise_m, (len(t), 2))
    cov = np.tile(np.eye(2) * noise_m**2, (len(t), 1, 1))
    return Piece(time_s=t + start_s, at_m=at, cov_m2=cov, lie_m=np.array(lie_m))


def rolling_piece(rng, start_m, heading, speed, *, noise_m=NOISE_M, until_s=1.0, start_s=5.0):
    """A ball that rolls on after it met a post."""
    path = paths(np.array([start_m]), heading, speed, Green(BRAKE, 0.0, SIDE, MU), skids=False)
    t = np.arange(0.0, until_s, 1 / 60)
    at = path.at(t[None])[0, :, :2] + rng.normal(0, noise_m, (len(t), 2))
    cov = np.tile(np.eye(2) * noise_m**2, (len(t), 1, 1))
    return Piece(time_s=t + start_s, at_m=at, cov_m2=cov, lie_m=None)


def test_without_noise_a_roll_is_given_back():
    # the prior's middle is the true green, so nothing pulls away: exact to what a millimetre is to a putt
    rng = np.random.default_rng(0)
    prior = GreenPrior(deceleration_m_s2=BRAKE, friction=MU)
    rolls = [piece(rng, h, v, noise_m=1e-7) for h, v in ((0.02, 2.2), (-0.03, 1.8), (0.0, 2.6))]
    fit = fit_rolls(rolls, prior)
    np.testing.assert_allclose(fit.green, [BRAKE, 0.0, SIDE, MU], atol=2e-3)
    for found, (heading, speed) in zip(fit.pieces, ((0.02, 2.2), (-0.03, 1.8), (0.0, 2.6)), strict=True):
        assert found.own == pytest.approx([0.0, heading, speed, 3.0], abs=3e-4)


@pytest.mark.parametrize("turn_deg", [0, 65, 170, -100])
def test_the_line_may_point_anywhere(turn_deg):
    rng = np.random.default_rng(1)
    turn = np.radians(turn_deg)
    slope = SIDE * np.array([-np.sin(turn), np.cos(turn)])
    rolls = [
        piece(rng, turn + h, v, green=(BRAKE, *slope, MU), lie_m=(0.3, 2.1))
        for h, v in ((0.02, 2.2), (-0.03, 1.9), (0.01, 2.4))
    ]
    fit = fit_rolls(rolls, GreenPrior(line_rad=turn))
    for found, heading in zip(fit.pieces, (0.02, -0.03, 0.01), strict=True):
        assert np.degrees(found.own[1] - turn - heading) == pytest.approx(0, abs=0.15)
    side = fit.green[1:3] @ [-np.sin(turn), np.cos(turn)]
    assert side == pytest.approx(SIDE, abs=0.02)


def trials(n, seed, n_rolls=4):
    """Errors and claimed standard uncertainties of start direction, speed, time and deceleration."""
    rng = np.random.default_rng(seed)
    prior = GreenPrior()
    errors, claims = {k: [] for k in "dvtb"}, {k: [] for k in "dvtb"}
    for _ in range(n):
        green = (
            float(np.clip(rng.normal(prior.deceleration_m_s2, 0.1), 0.35, 0.9)),
            rng.normal(0, 0.01),
            rng.normal(0, 0.07),
            float(np.clip(rng.normal(prior.friction, prior.u_friction), 0.25, 0.55)),
        )
        truth = [(rng.normal(0, 0.02), rng.uniform(1.7, 2.5)) for _ in range(n_rolls)]
        fit = fit_rolls([piece(rng, h, v, green=green) for h, v in truth], prior)
        for found, (heading, speed) in zip(fit.pieces, truth, strict=True):
            errors["d"].append(np.degrees(found.own[1] - heading))
            claims["d"].append(np.degrees(np.sqrt(found.cov[1, 1])))
            errors["v"].append(found.own[2] / speed - 1)
            claims["v"].append(np.sqrt(found.cov[2, 2]) / speed)
            errors["t"].append(found.own[3] - 3.0)
            claims["t"].append(np.sqrt(found.cov[3, 3]))
        level, u_level = level_deceleration(fit, 0.0)
        errors["b"].append(level - green[0])
        claims["b"].append(u_level)
    return {k: (np.array(errors[k]), np.array(claims[k])) for k in "dvtb"}


@pytest.fixture(scope="module")
def drills():
    return trials(20, seed=12)


@pytest.mark.parametrize(
    ("figure", "worst", "typical"),
    [
        # The design's simulation: 0.2 px or 0.6 mm of noise, own curvature over 1.2 m, gives 0.08 degrees and
        # 0.09 % of speed; a green in common is better, friction that is not known makes speed worse.
        pytest.param("d", 0.15, 0.04, id="direction, deg"),
        pytest.param("v", 0.010, 0.003, id="speed, share"),
        pytest.param("t", 0.002, 0.0005, id="time, s"),
        pytest.param("b", 0.05, 0.02, id="deceleration, m/s2"),
    ],
)
def test_drills_of_four_putts_are_recovered(drills, figure, worst, typical):
    errors, _ = drills[figure]
    assert np.abs(errors).max() < worst
    assert np.sqrt(np.mean(errors**2)) < typical


@pytest.mark.parametrize("figure", ["d", "v", "t", "b"])
def test_the_covariance_is_honest(drills, figure):
    # 95 % of the errors within 1.96 standard uncertainties, as JCGM 100:2008 (GUM) G.1.3 has it for a normal
    # error; 80 figures (20 of the green) leave room for chance
    errors, claims = drills[figure]
    assert 0.85 <= np.mean(np.abs(errors) < 1.96 * claims) <= 1.0
    assert np.std(errors / claims) > 0.35  # and it is not so wide that it says nothing


@pytest.mark.parametrize("along", [-0.2, 0.2])
def test_a_fall_along_the_line_shows_in_how_putts_beside_it_bend(along):
    # 2.9 % up or down the line: taken as level, putts three degrees off it would start 0.1 degrees wrong
    rng = np.random.default_rng(6)
    headings = (0.03, 0.05, -0.04, 0.01, 0.06)
    rolls = [piece(rng, h, 2.2, green=(BRAKE, along, 0.03, MU)) for h in headings]
    fit = fit_rolls(rolls)
    assert fit.green[1] == pytest.approx(along, abs=0.03)
    assert fit.green[0] == pytest.approx(BRAKE, abs=0.03)
    off_deg = [np.degrees(found.own[1] - h) for found, h in zip(fit.pieces, headings, strict=True)]
    assert np.abs(off_deg).max() < 0.06


def test_one_putt_alone_is_less_certain_than_one_of_many():
    rng = np.random.default_rng(4)
    rolls = [piece(rng, 0.01 * k, 2.0 + 0.1 * k) for k in range(6)]
    alone, many = fit_rolls(rolls[:1]), fit_rolls(rolls)
    assert many.pieces[0].cov[1, 1] < 0.8 * alone.pieces[0].cov[1, 1]
    assert many.green_cov[2, 2] < 0.5 * alone.green_cov[2, 2]  # the slope across
    assert many.green_cov[0, 0] < alone.green_cov[0, 0]
    assert abs(np.degrees(alone.pieces[0].own[1])) < 4 * np.degrees(np.sqrt(alone.pieces[0].cov[1, 1]))


def test_more_noise_is_less_certain():
    rng = np.random.default_rng(5)
    fine, coarse = (
        fit_rolls([piece(rng, 0.0, 2.0, noise_m=noise_m)]).pieces[0] for noise_m in (0.0003, 0.003)
    )
    assert coarse.cov[1, 1] > 9 * fine.cov[1, 1]


def test_a_few_wild_sightings_do_no_harm():
    # a leaf or a glint taken for the ball in three frames of 84
    rng = np.random.default_rng(6)
    clean = piece(rng, 0.01, 2.1)
    at = clean.at_m.copy()
    at[[10, 11, 40]] += [[0.02, 0.03], [0.0, -0.04], [0.05, 0.0]]
    wild = Piece(time_s=clean.time_s, at_m=at, cov_m2=clean.cov_m2, lie_m=clean.lie_m)
    others = [piece(rng, h, 2.0) for h in (-0.02, 0.0, 0.02)]
    found = fit_rolls([wild, *others]).pieces[0]
    assert np.degrees(found.own[1] - 0.01) == pytest.approx(0, abs=0.3)
    assert found.own[2] == pytest.approx(2.1, rel=0.015)


def test_a_piece_after_a_knock_starts_anywhere():
    rng = np.random.default_rng(7)
    others = [piece(rng, h, 2.1) for h in (-0.02, 0.01, 0.02)]
    later = rolling_piece(rng, (0.45, 0.02), 0.12, 1.1)
    found = fit_rolls([*others, later]).pieces[-1]
    x, y, heading, speed = found.own
    assert (x, y) == pytest.approx((0.45, 0.02), abs=0.001)
    assert np.degrees(heading - 0.12) == pytest.approx(0, abs=0.4)
    assert speed == pytest.approx(1.1, rel=0.02)
    assert found.clock_s == pytest.approx(5.0)
    path = piece_paths(found.piece, found.own[None], fit_rolls([*others, later]).green[None])
    assert path.at(np.array([[0.0]]))[0, 0, :2] == pytest.approx((0.45, 0.02), abs=0.001)


def test_three_sightings_are_enough_to_answer():
    rng = np.random.default_rng(8)
    short = piece(rng, 0.0, 2.0, until_s=0.06)
    assert len(short.time_s) == 3
    (found,) = fit_rolls([short]).pieces
    assert np.isfinite(found.own).all()
    assert np.degrees(np.sqrt(found.cov[1, 1])) > 0.2  # and it knows that it knows little


def test_response_to_moved_sightings_is_that_of_a_new_fit():
    # ``respond`` is first order; a fit of sightings moved by a twentieth of a millimetre is its reference
    rng = np.random.default_rng(9)
    rolls = [piece(rng, h, v) for h, v in ((0.02, 2.2), (-0.02, 1.9), (0.0, 2.4))]
    shifts = [rng.normal(0, 5e-5) * np.column_stack([0.3 + r.at_m[:, 0], 1 - r.at_m[:, 0]]) for r in rolls]
    moved = [
        Piece(time_s=r.time_s, at_m=r.at_m + s, cov_m2=r.cov_m2, lie_m=r.lie_m)
        for r, s in zip(rolls, shifts, strict=True)
    ]
    before = fit_rolls(rolls)
    predicted, again = respond(before, shifts), fit_rolls(moved)
    for old, ours, true in zip(before.pieces, predicted.pieces, again.pieces, strict=True):
        step = true.own - old.own
        assert (np.abs(ours.own - true.own) < 0.1 * np.abs(step) + 2e-6).all()
