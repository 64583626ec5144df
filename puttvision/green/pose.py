"""Lens, camera pose and every sheet's place on the common plane, solved together.

The unknowns: focal length, principal point, two distortion terms, the camera's height, tilt and
roll, and each sheet's place and turn on the plane. The knowns: the sheets' corners in the picture
with their covariance, and weak priors of the lens. The answer
carries its covariance, so that whatever is measured later can say how sure it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from puttvision.errors import GreenError
from puttvision.green.camera import Camera
from puttvision.green.corners import SheetCorners
from puttvision.green.sheet import sheet_corners

Floats = NDArray[np.float64]

N_CAMERA = 8
"""Unknowns of the camera: ln f, cx, cy, k1, k2, height, tilt, roll."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LensPrior:
    """What is known of the lens before a sheet is seen; standard deviations beside the values."""

    f_over_long_side: float = 0.73
    """Main phone cameras: 24-28 mm equivalent, 26 mm over 36 mm of width is 0.72, plus a little
    crop of video (common practice, no source)."""
    u_ln_f: float = 0.07
    k1: float = 0.0
    u_k1: float = 0.02
    k2: float = 0.0
    u_k2: float = 0.01
    u_centre_share: float = 0.002
    """Principal point off the picture's middle, as a share of the long side."""

    @classmethod
    def from_focal_35mm(cls, focal_mm: float) -> LensPrior:
        """From the clip's metadata: 36 mm of film width; video crops by up to a tenth."""
        return cls(f_over_long_side=focal_mm / 36.0 * 1.03, u_ln_f=0.05)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """The solved camera and the sheets' places, with the covariance of the camera's unknowns."""

    camera: Camera
    cov: Floats
    """Shape (8, 8): of ln f, cx, cy, k1, k2, height, tilt, roll."""
    sheets: dict[int, tuple[float, float, float]]
    """By id: x, y in metres and turn in radians on the plane."""
    rms_px: float
    """Root mean square of the corners' misfit."""

    def varied(self) -> list[Camera]:
        """The camera moved one standard deviation along each principal axis of its covariance."""
        values, vectors = np.linalg.eigh(self.cov)
        base = _vector(self.camera)
        steps = vectors * np.sqrt(np.clip(values, 0, None))
        return [_camera(base + steps[:, i], self.camera) for i in range(N_CAMERA)]


def _vector(camera: Camera) -> Floats:
    c = camera
    return np.array(
        [np.log(c.f_px), c.cx_px, c.cy_px, c.k1, c.k2, np.log(c.height_m), c.tilt_rad, c.roll_rad]
    )


def _camera(p: Floats, like: Camera) -> Camera:
    return replace(
        like, f_px=float(np.exp(p[0])), cx_px=float(p[1]), cy_px=float(p[2]), k1=float(p[3]), k2=float(p[4]),
        height_m=float(np.exp(p[5])), tilt_rad=float(p[6]), roll_rad=float(p[7]),
    )  # fmt: skip


def _placed(place: Floats) -> Floats:
    """Corners of a sheet at x, y, turn: shape (4, 3)."""
    x, y, turn = place
    corner = sheet_corners()
    c, s = np.cos(turn), np.sin(turn)
    return np.column_stack(
        [x + c * corner[:, 0] - s * corner[:, 1], y + s * corner[:, 0] + c * corner[:, 1], np.zeros(4)]
    )


def _first_guess(sheet: SheetCorners, width: int, height: int, prior: LensPrior) -> tuple[Camera, Floats]:
    """Camera and place from one sheet by OpenCV's planar pose (IPPE), the standing solution."""
    f = prior.f_over_long_side * max(width, height)
    matrix = np.array([[f, 0, (width - 1) / 2], [0, f, (height - 1) / 2], [0, 0, 1.0]])
    found, turns, moves, _ = cv2.solvePnPGeneric(
        sheet_corners(), sheet.corners_px, matrix, np.zeros(4), flags=cv2.SOLVEPNP_IPPE_SQUARE
    )
    if not found:
        raise GreenError(f"sheet {sheet.id} does not look like a flat square: is it lying flat?")
    best: tuple[float, Camera, Floats] | None = None
    for turn, move in zip(turns, moves, strict=True):
        rotation, _ = cv2.Rodrigues(turn)
        lens = (-rotation.T @ move).ravel()
        if lens[2] <= 0.02:
            continue
        axis = rotation[2]  # the camera's forward axis in the sheet's frame
        tilt = -np.arcsin(np.clip(axis[2], -1, 1))
        heading = np.arctan2(axis[1], axis[0]) - np.pi / 2
        right_level = np.array([np.cos(heading), np.sin(heading), 0.0])
        roll = np.arctan2(-float(rotation[1] @ right_level), float(rotation[0] @ right_level))
        camera = Camera(
            width=width, height=height, f_px=f, cx_px=(width - 1) / 2, cy_px=(height - 1) / 2,
            height_m=float(lens[2]), tilt_rad=float(tilt), roll_rad=float(roll),
        )  # fmt: skip
        c, s = np.cos(-heading), np.sin(-heading)
        x, y = np.array([[c, -s], [s, c]]) @ -lens[:2]
        place = np.array([x, y, -heading])
        miss = float(np.abs(camera.project(_placed(place)) - sheet.corners_px).max())
        if best is None or miss < best[0]:
            best = (miss, camera, place)
    if best is None:
        raise GreenError(f"sheet {sheet.id} is not seen from above: is it lying flat on the green?")
    return best[1], best[2]


def solve_pose(
    sheets: Sequence[SheetCorners],
    width: int,
    height: int,
    prior: LensPrior | None = None,
) -> Pose:
    """Solve lens, pose and sheets' places by weighted least squares.

    Parameters
    ----------
    sheets : at least one, as ``fit_corners`` measured them
    width, height : of the upright picture, pixels
    prior : of the lens; None for a phone's main camera

    Raises
    ------
    GreenError
        No sheet, or they cannot lie on one plane below the camera.
    """
    if not sheets:
        raise GreenError("no sheet to work from")
    prior = prior or LensPrior()
    long_side = max(width, height)
    nearest = max(sheets, key=lambda s: float(np.ptp(s.corners_px, axis=0).max()))
    camera, place = _first_guess(nearest, width, height, prior)
    places = []
    for sheet in sheets:
        ground = camera.to_plane(sheet.corners_px)
        if not np.isfinite(ground).all():
            raise GreenError(
                f"sheet {sheet.id} and sheet {nearest.id} do not lie on one plane: lay both flat"
            )
        if sheet.id == nearest.id:
            places.append(place)
            continue
        turn = np.arctan2(*(ground[1] - ground[0] + ground[2] - ground[3])[::-1])
        places.append(np.array([*ground.mean(axis=0), turn]))
    whiten = [np.linalg.inv(np.linalg.cholesky(sheet.cov_px2 + 1e-6 * np.eye(8))) for sheet in sheets]
    start = np.concatenate([_vector(camera), *places])
    middle = ((width - 1) / 2, (height - 1) / 2)

    def residuals(p: Floats) -> Floats:
        seen = _camera(p, camera)
        parts = [
            w @ (seen.project(_placed(at)) - sheet.corners_px).ravel()
            for w, sheet, at in zip(whiten, sheets, p[N_CAMERA:].reshape(-1, 3), strict=True)
        ]
        u_centre = prior.u_centre_share * long_side
        parts.append(
            np.array(
                [
                    (p[0] - np.log(prior.f_over_long_side * long_side)) / prior.u_ln_f,
                    (p[1] - middle[0]) / u_centre,
                    (p[2] - middle[1]) / u_centre,
                    (p[3] - prior.k1) / prior.u_k1,
                    (p[4] - prior.k2) / prior.u_k2,
                ]
            )
        )
        return np.nan_to_num(np.concatenate(parts), nan=1e3)

    fit = least_squares(residuals, start, x_scale="jac", loss="soft_l1", f_scale=3.0)
    solved = _camera(fit.x, camera)
    places_m = fit.x[N_CAMERA:].reshape(-1, 3)
    misses = np.concatenate(
        [
            (solved.project(_placed(at)) - sheet.corners_px).ravel()
            for sheet, at in zip(sheets, places_m, strict=True)
        ]
    )
    rms = float(np.sqrt(np.mean(misses**2)))
    if not np.isfinite(rms) or rms > 3.0:
        raise GreenError(
            f"the sheets do not fit one flat plane (off by {rms:.1f} px): lay them flat, print them at 100 %"
        )
    freedom = max(1, 8 * len(sheets) - 3 * len(sheets) - 3)
    whitened = fit.fun[: 8 * len(sheets)]
    inflation = max(1.0, float(whitened @ whitened) / freedom)
    cov = np.linalg.pinv(fit.jac.T @ fit.jac) * inflation
    return Pose(
        camera=solved,
        cov=cov[:N_CAMERA, :N_CAMERA],
        sheets={
            sheet.id: (float(at[0]), float(at[1]), float(at[2]))
            for sheet, at in zip(sheets, places_m, strict=True)
        },
        rms_px=rms,
    )
