"""Simulated rolls: what went in comes out, and the covariance says how well."""

import numpy as np

from puttvision.putt.fit import GreenPrior, Piece, fit_rolls
from puttvision.putt.motion import Green, paths

TRUE = {"brake": 0.58, "side": 0.06, "mu": 0.4}
NOISE_M = 0.0006


def pieces(rng, headings, speeds):
    out = []
    for heading, speed in zip(headings, speeds, strict=True):
        path = paths(np.zeros((1, 2)), heading, speed, Green(TRUE["brake"], 0.0, TRUE["side"], TRUE["mu"]))
        t = np.arange(0.02, 1.4, 1 / 60)
        at = path.at(t[None])[0, :, :2] + rng.normal(0, NOISE_M, (len(t), 2))
        cov = np.tile(np.eye(2) * NOISE_M**2, (len(t), 1, 1))
        out.append(Piece(time_s=t + 3.0, at_m=at, cov_m2=cov, lie_m=np.zeros(2)))
    return out


def test_direction_speed_and_green_are_recovered_within_their_covariance():
    rng = np.random.default_rng(11)
    pulls = []
    for _ in range(12):
        headings, speeds = rng.normal(0, 0.02, 4), rng.uniform(1.9, 2.4, 4)
        fit = fit_rolls(pieces(rng, headings, speeds), GreenPrior())
        for piece, heading, speed in zip(fit.pieces, headings, speeds, strict=True):
            assert abs(np.degrees(piece.own[1] - heading)) < 0.15
            assert abs(piece.own[2] / speed - 1) < 0.01
            assert abs(piece.own[3] - 3.0) < 0.003
            pulls.append((piece.own[1] - heading) / np.sqrt(piece.cov[1, 1]))
        assert abs(fit.green[0] - TRUE["brake"]) < 0.02
    # 48 pulls of unit spread: 95 % within 1.96, give or take
    assert 0.85 < np.mean(np.abs(pulls) < 1.96) <= 1.0
    assert 0.4 < np.std(pulls) < 1.4
