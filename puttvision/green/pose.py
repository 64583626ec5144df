"""Lens, camera pose and every sheet's place on the common plane, solved together.

The unknowns: focal length, principal point, two distortion terms, the camera's height, tilt and
roll, and each sheet's place and turn on the plane. The knowns: the sheets' corners in the picture
with their covariance, and weak priors of the lens. The answer
carries its covariance, so that whatever is measured later can say how sure it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from puttvision.errors import GreenError
from puttvision.green.camera import Camera
from puttvision.green.corners import SheetCorners
from puttvision.green.sheet import sheet_corners
from puttvision.green.spread import principal_steps

Floats = NDArray[np.float64]

_Kind = Literal["flat", "leans", "sizes"]
"""What a sheet may be besides flat and printed at 100 %."""

N_CAMERA = 8
"""Unknowns of the camera: ln f, cx, cy, k1, k2, height, tilt, roll."""


_OUTLIER_SIGMA = 3.0
_FLAT_SIGMA = 1.5
"""Root mean square of the corners' misfit under which sheets count as flat on one plane."""
_MOST_SIGMA = 3.0
"""The same where every sheet may lean a little; beyond it they are not flat."""
_MOST_PULL_SIGMA = 4.0
"""A lens so far from what is known of it is none: sheets that do not fit made it up."""
_U_LEAN_RAD = np.radians(0.7)
"""How a sheet on real grass may lean, each way, where the corners show that the sheets lean at all
(common practice, no source): 2 mm of blades under one edge."""
_U_SIZE = 0.05
"""How a sheet's printed size may be off where corners show that sizes differ: "fit to page" makes 3-6 %."""
_SIZES_DIFFER = 0.012


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
    centre_share: tuple[float, float] = (0.0, 0.0)
    """Where it is expected, right of and below the picture's middle."""
    more: tuple[float, float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    """p1, p2, k3, k4, k5, k6 of a lens profile; taken as they are."""

    def lens(self, width: int, height: int) -> dict[str, float]:
        """The camera's own terms at the middle of what is known."""
        long_side = max(width, height)
        p1, p2, k3, k4, k5, k6 = self.more
        return {
            "f_px": self.f_over_long_side * long_side,
            "cx_px": (width - 1) / 2 + self.centre_share[0] * long_side,
            "cy_px": (height - 1) / 2 + self.centre_share[1] * long_side,
            "k1": self.k1, "k2": self.k2, "p1": p1, "p2": p2, "k3": k3, "k4": k4, "k5": k5, "k6": k6,
        }  # fmt: skip

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
    lean_rad: float = 0.0
    """How far the sheet that leans most leans; 0 where they fit one plane as they are."""

    def varied(self) -> list[Camera]:
        """The camera moved one standard deviation along each principal axis of its covariance."""
        base = _vector(self.camera)
        return [_camera(base + step, self.camera) for step in principal_steps(self.cov)]


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


def _placed(place: Floats, lean: Floats | None = None, size: float = 1.0) -> Floats:
    """Corners of a sheet at x, y, turn: shape (4, 3). ``lean``: small angles (2,) about its own axes."""
    x, y, turn = place
    corner = sheet_corners() * size
    c, s = np.cos(turn), np.sin(turn)
    height = np.zeros(4) if lean is None else corner[:, :2] @ lean
    return np.column_stack(
        [x + c * corner[:, 0] - s * corner[:, 1], y + s * corner[:, 0] + c * corner[:, 1], height]
    )


def _first_guess(sheet: SheetCorners, width: int, height: int, prior: LensPrior) -> tuple[Camera, Floats]:
    """Camera and place from one sheet by OpenCV's planar pose (IPPE), the standing solution."""
    lens = prior.lens(width, height)
    matrix = np.array([[lens["f_px"], 0, lens["cx_px"]], [0, lens["f_px"], lens["cy_px"]], [0, 0, 1.0]])
    bend = np.array([lens[key] for key in ("k1", "k2", "p1", "p2", "k3", "k4", "k5", "k6")])
    found, turns, moves, _ = cv2.solvePnPGeneric(
        sheet_corners(), sheet.corners_px, matrix, bend, flags=cv2.SOLVEPNP_IPPE_SQUARE
    )
    if not found:
        raise GreenError(f"sheet {sheet.id} does not look like a flat square: is it lying flat?")
    best: tuple[float, Camera, Floats] | None = None
    for turn, move in zip(turns, moves, strict=True):
        rotation, _ = cv2.Rodrigues(turn)
        stands = (-rotation.T @ move).ravel()
        if stands[2] <= 0.02:
            continue
        axis = rotation[2]  # the camera's forward axis in the sheet's frame
        tilt = -np.arcsin(np.clip(axis[2], -1, 1))
        heading = np.arctan2(axis[1], axis[0]) - np.pi / 2
        right_level = np.array([np.cos(heading), np.sin(heading), 0.0])
        roll = np.arctan2(-float(rotation[1] @ right_level), float(rotation[0] @ right_level))
        camera = Camera(
            width=width, height=height, height_m=float(stands[2]), tilt_rad=float(tilt), roll_rad=float(roll),
            **lens,
        )  # fmt: skip
        c, s = np.cos(-heading), np.sin(-heading)
        x, y = np.array([[c, -s], [s, c]]) @ -stands[:2]
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
    # seen flat from afar a sheet is wide but tells little of the tilt
    nearest = max(sheets, key=lambda s: cv2.contourArea(s.corners_px.astype(np.float32)))
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
    start = np.concatenate([_vector(camera), *places])
    problem = _Problem(sheets, camera, prior)
    solved = problem.solve(start, "flat")
    if not solved.looks_right(_FLAT_SIGMA):
        leaning = problem.solve(start, "leans")
        resized = problem.solve(start, "sizes") if len(sheets) > 1 else None
        if resized and resized.chi2 < leaning.chi2 and (odd := problem.odd_size(resized)):
            raise GreenError(odd)
        if not leaning.looks_right(_MOST_SIGMA):
            raise GreenError(
                "the sheets do not fit one flat plane: lay them flat, print them at 100 % (the bar measures "
                "100.0 mm); a wide lens needs a profile, see `puttvision lens`"
            )
        solved = leaning
    return problem.pose(solved)


@dataclass(frozen=True, slots=True)
class _Solved:
    """A solution of the least-squares problem."""

    x: Floats
    kind: _Kind
    jac: Floats
    corners_sigma: Floats
    """Misfit of the corners in their own standard deviations, shape (8 n,)."""
    pulls_sigma: Floats
    """How far the lens, and leans or sizes, are from what is known of them."""

    @property
    def chi2(self) -> float:
        return float(np.sum(self.corners_sigma**2) + np.sum(self.pulls_sigma**2))

    def looks_right(self, most_sigma: float) -> bool:
        rms = float(np.sqrt(np.mean(self.corners_sigma**2)))
        return rms <= most_sigma and float(np.abs(self.pulls_sigma).max()) <= _MOST_PULL_SIGMA


class _Problem:
    """The sheets as seen against one lens, one pose and one place a sheet."""

    def __init__(self, sheets: Sequence[SheetCorners], like: Camera, prior: LensPrior) -> None:
        self.sheets, self.like, self.prior = sheets, like, prior
        self.whiten = [np.linalg.inv(np.linalg.cholesky(s.cov_px2 + 1e-6 * np.eye(8))) for s in sheets]
        self.n_corners = 8 * len(sheets)
        self.n_flat = N_CAMERA + 3 * len(sheets)

    def places(self, p: Floats) -> Floats:
        return p[N_CAMERA : self.n_flat].reshape(-1, 3)

    def more(self, p: Floats, kind: _Kind) -> tuple[Floats, Floats]:
        """Leans (n, 2) and sizes (n,) of the sheets."""
        n, rest = len(self.sheets), p[self.n_flat :]
        leans = rest.reshape(n, 2) if kind == "leans" else np.zeros((n, 2))
        return leans, np.exp(rest) if kind == "sizes" else np.ones(n)

    def misses_px(self, p: Floats, kind: _Kind) -> Floats:
        """Corners as predicted less as seen, shape (n, 8)."""
        seen = _camera(p, self.like)
        rows = zip(self.sheets, self.places(p), *self.more(p, kind), strict=True)
        return np.array(
            [
                (seen.project(_placed(at, lean, size)) - sheet.corners_px).ravel()
                for sheet, at, lean, size in rows
            ]
        )

    def corners_sigma(self, p: Floats, kind: _Kind) -> Floats:
        misses = self.misses_px(p, kind)
        return np.concatenate([w @ miss for w, miss in zip(self.whiten, misses, strict=True)])

    def pulls_sigma(self, p: Floats, kind: _Kind) -> Floats:
        prior, like = self.prior, self.like
        long_side, known = max(like.width, like.height), prior.lens(like.width, like.height)
        u_centre = prior.u_centre_share * long_side
        lens = [
            (p[0] - np.log(prior.f_over_long_side * long_side)) / prior.u_ln_f,
            (p[1] - known["cx_px"]) / u_centre,
            (p[2] - known["cy_px"]) / u_centre,
            (p[3] - prior.k1) / prior.u_k1,
            (p[4] - prior.k2) / prior.u_k2,
        ]
        return np.concatenate([lens, p[self.n_flat :] / (_U_SIZE if kind == "sizes" else _U_LEAN_RAD)])

    def solve(self, start: Floats, kind: _Kind) -> _Solved:
        n = self.n_corners
        n_more = {"flat": 0, "leans": 2, "sizes": 1}[kind] * len(self.sheets)

        def residuals(p: Floats) -> Floats:
            both = np.concatenate([self.corners_sigma(p, kind), self.pulls_sigma(p, kind)])
            return np.asarray(np.nan_to_num(both, nan=1e3))

        def loss(z: Floats) -> Floats:
            """Soft L1 for corners, of which one may be covered; squares for what is known of the lens."""
            root = np.sqrt(1 + z)
            rho = np.array([2 * (root - 1), 1 / root, -0.5 / root**3])
            rho[0, n:], rho[1, n:], rho[2, n:] = z[n:], 1.0, 0.0
            return rho

        begin = np.concatenate([start, np.zeros(n_more)])
        fit = least_squares(residuals, begin, x_scale="jac", loss=loss, f_scale=_OUTLIER_SIGMA)
        return _Solved(fit.x, kind, fit.jac, fit.fun[:n], fit.fun[n:])

    def odd_size(self, resized: _Solved) -> str:
        """One line where a sheet is of another size than the rest; empty where none is."""
        _, sizes = self.more(resized.x, "sizes")
        against = sizes / np.array([np.median(np.delete(sizes, i)) for i in range(len(sizes))])
        odd = int(np.argmin(against) if len(sizes) == 2 else np.argmax(np.abs(np.log(against))))
        if abs(against[odd] - 1) < _SIZES_DIFFER:
            return ""
        others = ", ".join(str(s.id) for s in self.sheets if s is not self.sheets[odd])
        return (
            f"sheet {self.sheets[odd].id} seems to be printed at {100 * against[odd]:.0f} % of the size of "
            f"sheet {others}: print every sheet at 100 % (the bar measures 100.0 mm) and lay them flat"
        )

    def pose(self, solved: _Solved) -> Pose:
        misses = self.misses_px(solved.x, solved.kind)
        # knowns: corners and priors; of the unknowns, five and the leans have priors
        freedom = max(1, self.n_corners - 3 * len(self.sheets) - 3)
        cov = np.asarray(np.linalg.pinv(solved.jac.T @ solved.jac) * max(1.0, solved.chi2 / freedom))
        return Pose(
            camera=_camera(solved.x, self.like),
            cov=cov[:N_CAMERA, :N_CAMERA],
            sheets={
                sheet.id: (float(at[0]), float(at[1]), float(at[2]))
                for sheet, at in zip(self.sheets, self.places(solved.x), strict=True)
            },
            rms_px=float(np.sqrt(np.mean(misses**2))),
            lean_rad=float(np.hypot(*self.more(solved.x, solved.kind)[0].T).max()),
        )
