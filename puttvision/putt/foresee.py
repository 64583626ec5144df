"""How sure start lines will be with a set-up, before a ball is struck: by its covariance, not by rules.

A few putts are laid out under the camera, seen with the usual noise at the clip's frame rate, and go
through the same pose, fit and figures as measured ones. What comes out as the half-width of the start line's
95 % interval is what this set-up can resolve. A changed set-up goes the same way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.common_error import U_CENTRES_PX
from puttvision.ball.sightings import Lie, Roll, Sighting
from puttvision.green.camera import Camera
from puttvision.green.corners import SheetCorners
from puttvision.green.hole import Hole
from puttvision.green.pose import LensPrior, Pose, solve_pose
from puttvision.green.sheet import sheet_corners
from puttvision.physics import BALL_RADIUS_M, ROLL_SHARE, deceleration_from_stimp, skid_length
from puttvision.putt.assemble import K95
from puttvision.putt.fit import GreenPrior, fit_rolls
from puttvision.putt.measures import read_off
from puttvision.putt.motion import Green, paths
from puttvision.putt.pieces import cut
from puttvision.putt.vary import variations, worlds

Floats = NDArray[np.float64]
Place = tuple[float, float, float]

_STIMP_FT = 9.5
_PAST_M = 0.30
_STARTS_DEG = (-1.0, -0.3, 0.4, 1.1)
"""A few putts that do not all start alike: what a drill has after some minutes."""
_BALL_PX = 0.25
"""Standard uncertainty of a ball's centre in one frame, for a radius of ``_BALL_RADIUS_PX``; as fitted on
the sample clips. It grows as the outline gets shorter."""
_BALL_RADIUS_PX = 9.0
_LIE_PX = 0.13
_NEIGHBOURS_AGREE = 0.5
"""Correlation of the error of one frame with that of the next, as in the sample clips."""
_CORNER_PX = 0.045
"""Of a sheet's corner where the sheet is ``_SHEET_PX`` wide; it grows as the print's edges get shorter."""
_SHEET_PX = 60.0
_MARGIN = 0.02
"""What must stay in the picture keeps this share of it from the edges."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUp:
    """A phone, its sheets and a putt; places in the frame of the green under ``camera``."""

    camera: Camera
    sheets: dict[int, Place]
    """By id: x, y and turn."""
    lie_m: Floats
    hole_m: Floats
    hole_cov_px2: Floats
    rate_hz: float
    readout_s: float
    prior: LensPrior | None = None
    """What is known of the lens; None for a phone's main camera."""

    def shows_all(self) -> bool:
        """Whether ball, hole and the sheets are in the picture."""
        places = [self.lie_m, self.hole_m, *(np.array(at[:2]) for at in self.sheets.values())]
        px = self.camera.project(np.array([[*at, 0.0] for at in places]))
        size = np.array([self.camera.width, self.camera.height])
        return bool(
            np.isfinite(px).all() and (px > _MARGIN * size).all() and (px < (1 - _MARGIN) * size).all()
        )


def start_line_u95_deg(setup: SetUp, pose: Pose | None = None) -> float:
    """Half-width of the 95 % interval of a start line against the hole, degrees.

    ``pose``: as solved from the clip; None to foresee it from where the sheets lie.

    Raises GreenError where the sheets cannot carry a pose.
    """
    pose = pose or foreseen_pose(setup)
    camera = pose.camera
    rolls = [_roll(setup, np.radians(turn)) for turn in _STARTS_DEG]
    cuts = [cut(roll, camera, setup.readout_s, setup.hole_m, None) for roll in rolls]
    line = setup.hole_m - setup.lie_m
    prior = GreenPrior(line_rad=float(np.arctan2(line[1], line[0])))
    fit = fit_rolls([item.first for item in cuts], prior)
    hole_px = camera.project([*setup.hole_m, 0.0])
    hole = Hole(
        at_px=(float(hole_px[0]), float(hole_px[1])), cov_px2=setup.hole_cov_px2, radius_ratio=1.0,
        u_radius_ratio=0.01, rim_seen=1.0,
    )  # fmt: skip
    every = worlds(pose, hole, None, cuts, [(i, False) for i in range(len(cuts))], fit, U_CENTRES_PX)
    spread = []
    for i, item in enumerate(cuts):
        rows = read_off(variations(i, every, item, i, None, pose, hole, None), through=False).to_hole_deg
        spread.append(float(np.sqrt(np.nansum((rows[1:] - rows[0]) ** 2))))
    return K95 * float(np.median(spread))


def foreseen_pose(setup: SetUp) -> Pose:
    """The pose that the sheets will give, with its covariance: their corners as the camera would see them."""
    camera = setup.camera
    long_side = max(camera.width, camera.height)
    prior = replace(
        setup.prior or LensPrior(),
        f_over_long_side=camera.f_px / long_side,
        k1=camera.k1,
        k2=camera.k2,
        centre_share=(
            (camera.cx_px - (camera.width - 1) / 2) / long_side,
            (camera.cy_px - (camera.height - 1) / 2) / long_side,
        ),
        more=(camera.p1, camera.p2, camera.k3, camera.k4, camera.k5, camera.k6),
    )
    seen = [_seen(camera, sheet_id, at) for sheet_id, at in setup.sheets.items()]
    return solve_pose(seen, camera.width, camera.height, prior)


def _seen(camera: Camera, sheet_id: int, place: Place) -> SheetCorners:
    x, y, turn = place
    corner = sheet_corners()
    c, s = np.cos(turn), np.sin(turn)
    px = camera.project(
        np.column_stack(
            [x + c * corner[:, 0] - s * corner[:, 1], y + s * corner[:, 0] + c * corner[:, 1], np.zeros(4)]
        )
    )
    side = float(np.sqrt(abs(_area(px))))
    u = _CORNER_PX * np.sqrt(max(1.0, _SHEET_PX / max(side, 1.0)))
    return SheetCorners(
        id=sheet_id, corners_px=px, cov_px2=np.eye(8) * u**2, residual=0.0, blur_px=0.7, gamma=2.2
    )


def _area(px: Floats) -> float:
    x, y = px.T
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2


def _roll(setup: SetUp, right_rad: float) -> Roll:
    """A putt that would roll a little past the hole, as the camera sees it."""
    camera, lie, hole = setup.camera, setup.lie_m, setup.hole_m
    line = hole - lie
    brake = deceleration_from_stimp(_STIMP_FT)
    length = float(np.hypot(*line)) + _PAST_M
    speed = 1.5
    for _ in range(20):  # skid and roll together are as long as the putt
        speed = np.sqrt(2 * brake * max(0.05, length - skid_length(speed))) / ROLL_SHARE
    heading = np.arctan2(line[1], line[0]) - right_rad
    path = paths(lie[None], heading, speed, Green(brake, 0.0, 0.0, GreenPrior().friction))
    frames = np.arange(0.5 / setup.rate_hz, float(path.time_s[0, -1]), 1 / setup.rate_hz)
    instants = frames
    for _ in range(3):
        at = path.at(instants[None])[0, :, :2]
        px = camera.project(np.column_stack([at, np.full(len(at), BALL_RADIUS_M)]))
        instants = frames + setup.readout_s * (px[:, 1] / camera.height - 0.5)
    radius = np.array([BALL_RADIUS_M * camera.px_per_m([*p, BALL_RADIUS_M]) for p in at])
    u = _BALL_PX * np.sqrt(np.maximum(1.0, _BALL_RADIUS_PX / np.maximum(radius, 1.0)))
    # a little noise whose neighbours agree as in real clips: the fit looks at that too
    phase = np.arccos(_NEIGHBOURS_AGREE) * np.arange(len(px))
    px = px + 0.5 * u[:, None] * np.column_stack([np.cos(phase), np.sin(phase)])
    size = np.array([camera.width, camera.height])
    inside = [bool(np.isfinite(at_px).all() and (at_px > 0).all() and (at_px < size).all()) for at_px in px]
    lie_px = camera.project([*lie, BALL_RADIUS_M])
    begin = -0.5 * setup.readout_s
    return Roll(
        start=Lie(
            at_px=(float(lie_px[0]), float(lie_px[1])), cov_px2=(_LIE_PX**2, 0.0, _LIE_PX**2), size_ratio=1.0,
            n_fits=8, first_s=-3.0, last_s=-0.1,
        ),
        sightings=tuple(
            Sighting(float(t) + begin, (float(x), float(y)), (float(s) ** 2, 0.0, float(s) ** 2), 1.0, 0.6)
            for t, (x, y), s, there in zip(frames, px, u, inside, strict=True)
            if there
        ),
        end="lost",
        rest=None,
        hole_covered=(),
    )  # fmt: skip
