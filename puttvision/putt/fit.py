"""All rolls of a clip fitted together: one green's deceleration, slope and friction, many strokes.

A piece is a stretch of one roll between knocks. The first piece of a putt starts at the ball's place
at rest and skids; a piece after a post starts anywhere and rolls. Its own unknowns are four; the
green's four are common to all pieces, so that direction at the start does not trade off against
curvature. Weighted least squares by Gauss-Newton; the pieces' own unknowns are eliminated one piece
at a time (Schur complement), so the cost grows linearly with the number of putts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from puttvision.physics import ROLL_SHARE, SLIDING_FRICTION
from puttvision.putt.motion import Green, Paths, paths

Floats = NDArray[np.float64]

_OWN_STEPS = np.array([2e-4, 2e-4, 1e-3, 2e-4])
_GREEN_STEPS = np.array([2e-3, 2e-3, 2e-3, 5e-3])
_HUBER = 2.5
_U_LEVEL_M_S2 = 0.01
_HELD_TURNS = 5
"""In so many turns the green is held level along the line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GreenPrior:
    """What is known of a green before a ball rolls: means and standard deviations."""

    deceleration_m_s2: float = 0.58
    u_deceleration_m_s2: float = 0.20
    """9.5 ft, give or take a third: greens run 7 to 14 ft (common practice)."""
    line_rad: float = 0.0
    """Heading of the line to the hole."""
    u_slope_side_m_s2: float = 0.14
    """2 % of fall: holes are cut where a green is fairly flat (common practice)."""
    u_slope_along_m_s2: float = 0.14
    """The same. Along the line slope and friction act nearly as one: putts to one hole tell them apart only
    by how those that start beside the line bend, and ``u_hidden_slope`` carries what is not known."""
    u_hidden_slope: float = 0.008
    """Fall along the line that a drill's green may have and such putts do not show."""
    friction: float = SLIDING_FRICTION
    u_friction: float = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Sightings of one free stretch of a roll, on the plane."""

    time_s: Floats
    """Shape (n,), each at the ball's own picture row."""
    at_m: Floats
    """Shape (n, 2)."""
    cov_m2: Floats
    """Shape (n, 2, 2)."""
    lie_m: Floats | None
    """Shape (2,): where it lay before; None for a piece that starts in motion."""
    u_lie_m: float = 0.0005
    """How far the place at rest may be off the path to the side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceFit:
    """A fitted piece. ``own`` is (side, heading, speed, time) for one that starts at rest: metres to
    the left of the place at rest, radians, m/s and seconds; (x, y, heading, speed) at ``clock_s``
    for one that starts in motion."""

    piece: Piece
    own: Floats
    cov: Floats
    """Shape (8, 8), of own and green together."""
    clock_s: float
    rms_sigma: float
    """Robust spread of the misfit in its own standard deviations."""
    response: Floats
    """Shape (4, 2n): change of own per metre of change of each sighting, the green held."""
    green_share: Floats
    """Shape (4, 2n): this piece's pull on the green per metre of change of each sighting."""
    coupling: Floats
    """Shape (4, 4): change of own per change of the green's unknowns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RollsFit:
    """The green and all pieces."""

    green: Floats
    """deceleration, slope x, slope y, friction."""
    green_cov: Floats
    pieces: tuple[PieceFit, ...]


def green_of(values: Floats) -> Green:
    """The green of a vector (4,) or of vectors (B, 4)."""
    return Green(values[..., 0], values[..., 1], values[..., 2], values[..., 3])


def piece_paths(piece: Piece, own: Floats, green: Floats) -> Paths:
    """Paths for parameter vectors, (B, 4) and (B, 4)."""
    if piece.lie_m is not None:
        heading = own[:, 1]
        side = np.stack([-np.sin(heading), np.cos(heading)], axis=1) * own[:, :1]
        return paths(piece.lie_m + side, heading, own[:, 2], green_of(green))
    return paths(own[:, :2], own[:, 2], own[:, 3], green_of(green), skids=False)


def _predicted(piece: Piece, own: Floats, green: Floats, clock_s: float) -> Floats:
    """Places at the sightings' times, (B, n, 2)."""
    start = own[:, 3] if piece.lie_m is not None else np.full(len(own), clock_s)
    return piece_paths(piece, own, green).at(piece.time_s[None, :] - start[:, None])[..., :2]


def first_guess(piece: Piece) -> tuple[Floats, float]:
    """Own unknowns from the first sightings, and the clock of the piece."""
    n = len(piece.time_s)
    if piece.lie_m is not None:
        away = piece.at_m - piece.lie_m
        distance = np.hypot(away[:, 0], away[:, 1])
        some = slice(0, max(3, min(n, int(np.searchsorted(distance, 0.35)))))
        slope, offset = np.polyfit(piece.time_s[some], distance[some], 1)
        heading = np.arctan2(*away[some].mean(axis=0)[::-1])
        speed = max(float(slope), 0.1)
        launch = speed + 0.4 * (1 - ROLL_SHARE) * speed
        return np.array([0.0, heading, launch, -offset / speed + 0.005]), 0.0
    clock_s = float(piece.time_s[0])
    some = slice(0, max(3, min(n, 12)))
    t = piece.time_s[some] - clock_s
    (vx, x0), (vy, y0) = (np.polyfit(t, piece.at_m[some, i], 1) for i in (0, 1))
    return np.array([x0, y0, np.arctan2(vy, vx), np.hypot(vx, vy)]), clock_s


def fit_rolls(pieces: list[Piece], prior: GreenPrior | None = None, n_turns: int = 16) -> RollsFit:
    """Fit every piece and the green they share; each piece needs three sightings or more."""
    prior = prior or GreenPrior()
    mean = np.array([prior.deceleration_m_s2, 0.0, 0.0, prior.friction])
    tight = _prior_weight(prior)
    held = _prior_weight(replace(prior, u_slope_along_m_s2=_U_LEVEL_M_S2))
    green = mean.copy()
    guesses = [first_guess(piece) for piece in pieces]
    owns = [own for own, _ in guesses]
    clocks = [clock for _, clock in guesses]
    damping = 1e-2
    for turn in range(n_turns):
        blocks = [_block(p, o, green, c) for p, o, c in zip(pieces, owns, clocks, strict=True)]
        solved = [np.linalg.inv(b.own + damping * np.diag(np.diag(b.own))) for b in blocks]
        # let go at once, slope and friction would run away together along the line
        known = held if turn < _HELD_TURNS else tight
        matrix, pull = known.copy(), known @ (mean - green)
        for b, s in zip(blocks, solved, strict=True):
            matrix += b.green - b.mixed.T @ s @ b.mixed
            pull += b.pull_green - b.mixed.T @ s @ b.pull_own
        step = np.clip(np.linalg.solve(matrix, pull), -0.2, 0.2)
        green = green + step
        green[0], green[3] = np.clip(green[0], 0.15, 2.0), np.clip(green[3], 0.1, 1.0)
        largest = float(np.abs(step).max())
        for i, (b, s) in enumerate(zip(blocks, solved, strict=True)):
            own_step = s @ (b.pull_own - b.mixed @ step)
            owns[i] = owns[i] + np.clip(own_step, -0.5, 0.5)
            largest = max(largest, float(np.abs(own_step).max()))
        damping *= 0.3
        if largest < 1e-5 and turn > _HELD_TURNS:
            break
    return _finish(pieces, owns, clocks, green, tight)


def _prior_weight(prior: GreenPrior) -> Floats:
    c, s = np.cos(prior.line_rad), np.sin(prior.line_rad)
    turn = np.array([[c, s], [-s, c]])
    weight = np.zeros((4, 4))
    weight[0, 0] = prior.u_deceleration_m_s2**-2
    weight[1:3, 1:3] = turn.T @ np.diag([prior.u_slope_along_m_s2**-2, prior.u_slope_side_m_s2**-2]) @ turn
    weight[3, 3] = prior.u_friction**-2
    return weight


@dataclass(frozen=True, slots=True)
class _Block:
    """Normal equations of one piece."""

    own: Floats
    mixed: Floats
    green: Floats
    pull_own: Floats
    pull_green: Floats
    weighted: Floats
    """Shape (8, 2n): J' W, what a change of the sightings pulls."""
    rms_sigma: float
    correlation: float


def _block(piece: Piece, own: Floats, green: Floats, clock_s: float) -> _Block:
    batch_own = np.vstack([own, own + np.diag(_OWN_STEPS), np.tile(own, (4, 1))])
    batch_green = np.vstack([np.tile(green, (5, 1)), green + np.diag(_GREEN_STEPS)])
    predicted = _predicted(piece, batch_own, batch_green, clock_s)
    steps = np.concatenate([_OWN_STEPS, _GREEN_STEPS])
    jacobian = ((predicted[1:] - predicted[0]) / steps[:, None, None]).transpose(1, 2, 0)  # (n, 2, 8)
    miss = piece.at_m - predicted[0]
    inverse = np.linalg.inv(piece.cov_m2)
    sigma = np.sqrt(np.einsum("ni,nij,nj->n", miss, inverse, miss) / 2)
    spread = max(1.0, 1.2 * float(np.median(sigma)))
    weight = 1.0 / spread**2 / np.maximum(1.0, sigma / (_HUBER * spread))
    weighted = np.einsum("nik,nij,n->knj", jacobian, inverse, weight)
    flat = weighted.reshape(8, -1)
    normal = flat @ jacobian.reshape(-1, 8)
    pull = flat @ miss.ravel()
    if piece.lie_m is not None:
        normal[0, 0] += 1 / piece.u_lie_m**2
        pull[0] -= own[0] / piece.u_lie_m**2
    return _Block(
        own=normal[:4, :4] + 1e-9 * np.eye(4),
        mixed=normal[:4, 4:],
        green=normal[4:, 4:],
        pull_own=pull[:4],
        pull_green=pull[4:],
        weighted=flat,
        rms_sigma=spread,
        correlation=_serial_correlation(miss, sigma, spread),
    )


def _serial_correlation(miss: Floats, sigma: Floats, spread: float) -> float:
    """Lag-one correlation of the misfits: neighbouring frames share part of their error."""
    good = miss * np.minimum(1.0, 3 * spread / np.maximum(sigma, 1e-9))[:, None]
    if len(good) < 8:
        return 0.3
    over = float(np.sum(good[1:] * good[:-1]))
    return float(np.clip(over / max(float(np.sum(good * good)), 1e-30), 0.0, 0.8))


def _finish(
    pieces: list[Piece], owns: list[Floats], clocks: list[float], green: Floats, tight: Floats
) -> RollsFit:
    blocks = [_block(p, o, green, c) for p, o, c in zip(pieces, owns, clocks, strict=True)]
    # errors that neighbouring frames share do not average out: (1 + r) / (1 - r) on the variance
    stretch = [(1 + b.correlation) / (1 - b.correlation) for b in blocks]
    inverse = [np.linalg.inv(b.own) for b in blocks]
    matrix = tight + sum(
        ((b.green - b.mixed.T @ s @ b.mixed) / k for b, s, k in zip(blocks, inverse, stretch, strict=True)),
        start=np.zeros((4, 4)),
    )
    green_cov = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    fits = []
    for piece, own, clock, b, s, k in zip(pieces, owns, clocks, blocks, inverse, stretch, strict=True):
        coupling = -s @ b.mixed
        cov = np.zeros((8, 8))
        cov[:4, :4] = s * k + coupling @ green_cov @ coupling.T
        cov[:4, 4:] = coupling @ green_cov
        cov[4:, :4] = cov[:4, 4:].T
        cov[4:, 4:] = green_cov
        fits.append(
            PieceFit(
                piece=piece,
                own=own,
                cov=cov,
                clock_s=clock,
                rms_sigma=b.rms_sigma,
                response=s @ b.weighted[:4],
                green_share=(b.weighted[4:] - b.mixed.T @ s @ b.weighted[:4]) / k,
                coupling=coupling,
            )
        )
    return RollsFit(green=green, green_cov=green_cov, pieces=tuple(fits))


def level_deceleration(fit: RollsFit, line_rad: float) -> tuple[float, float]:
    """Deceleration and its standard deviation, m/s2, were there no fall along the line: the posterior given
    that (Kalman's update with a slope of nothing as seen)."""
    along = np.array([0.0, np.cos(line_rad), np.sin(line_rad), 0.0])
    ties = fit.green_cov @ along
    gain = ties / (along @ ties + _U_LEVEL_M_S2**2)
    variance = fit.green_cov[0, 0] - gain[0] * ties[0]
    return float(fit.green[0] - gain[0] * (along @ fit.green)), float(np.sqrt(variance))


def respond(fit: RollsFit, moved_m: list[Floats]) -> RollsFit:
    """The fit as it would be had the sightings been moved a little: ``moved_m[i]`` shape (n, 2).

    First order; used to carry the camera's uncertainty through.
    """
    pull = sum(
        (p.green_share @ m.ravel() for p, m in zip(fit.pieces, moved_m, strict=True)), start=np.zeros(4)
    )
    d_green = fit.green_cov @ pull
    pieces = []
    for p, m in zip(fit.pieces, moved_m, strict=True):
        d_own = p.response @ m.ravel() + p.coupling @ d_green
        pieces.append(replace(p, own=p.own + d_own))
    return replace(fit, green=fit.green + d_green, pieces=tuple(pieces))
