"""A lens measured once: focal length, middle and distortion from many views of flat, known points.

The fit is OpenCV's ``calibrateCameraExtended`` (Zhang 2000) with one focal length for both axes. Three
models of distortion are tried, plain first; a richer one is taken only where it fits clearly better and
still sends one ray through each pixel of the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.errors import GreenError
from puttvision.green.camera import Camera
from puttvision.green.pose import LensPrior

Floats = NDArray[np.float64]

_FEWEST_VIEWS = 8
_BETTER = 0.95
"""A richer model must bring the misfit below this share of the plainer one's."""
_ODD_VIEW = 3.0
"""A view that misses by so many times the median view is blurred, bent or misread: left out."""
_MOST_RMS_PX = 2.0
_SEES_SHARE = 0.75
"""Points must come out to this share of the half diagonal: beyond them distortion is a guess."""
_U_LN_F, _U_CENTRE = 0.004, 0.0015
"""What a phone's lens changes from clip to clip: focus and stabiliser move it (common practice)."""
_U_K1, _U_K2 = 0.004, 0.003

_PATIENCE = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 300, 1e-12)
"""OpenCV's own 30 turns leave a strong lens half-way."""

_STARTS: tuple[float, ...] = (0.36, 0.50, 0.73)
"""Focal lengths to start from, as shares of the long side: 13, 18 and 26 mm equivalent."""

_MODELS = {
    "radial": cv2.CALIB_FIX_K3 | cv2.CALIB_ZERO_TANGENT_DIST,
    "radial and tangential": 0,
    "rational": cv2.CALIB_RATIONAL_MODEL,
}


@dataclass(frozen=True, slots=True)
class LensView:
    """Known points of a flat thing in one frame."""

    points_m: Floats
    """Shape (n, 3), z = 0."""
    points_px: Floats
    """Shape (n, 2)."""
    time_s: float = 0.0
    speed_px_s: float = 0.0
    """How fast it moved over the picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """A measured lens in one video mode; lengths as shares of the picture's long side."""

    width: int
    height: int
    f_share: float
    u_f_share: float
    centre_share: tuple[float, float]
    """Principal point right of and below the picture's middle."""
    u_centre_share: float
    coefficients: tuple[float, ...]
    """k1, k2, p1, p2, k3, k4, k5, k6 in OpenCV's order."""
    model: str
    rms_px: float
    n_views: int
    sees_share: float
    """How far from the middle points were seen, as a share of the half diagonal."""

    def prior(self) -> LensPrior:
        """What a pose may take for known of this lens."""
        k1, k2, p1, p2, k3, k4, k5, k6 = self.coefficients
        return LensPrior(
            f_over_long_side=self.f_share,
            u_ln_f=float(np.hypot(self.u_f_share / self.f_share, _U_LN_F)),
            k1=k1, u_k1=_U_K1, k2=k2, u_k2=_U_K2,
            u_centre_share=float(np.hypot(self.u_centre_share, _U_CENTRE)),
            centre_share=self.centre_share,
            more=(p1, p2, k3, k4, k5, k6),
        )  # fmt: skip

    def camera(self, height_m: float = 1.4, tilt_rad: float = 0.45) -> Camera:
        """A camera with this lens on a tripod."""
        return Camera(
            width=self.width, height=self.height, height_m=height_m, tilt_rad=tilt_rad, roll_rad=0.0,
            **self.prior().lens(self.width, self.height),
        )  # fmt: skip


def measure_lens(views: Sequence[LensView], width: int, height: int) -> Lens:
    """Measure a lens.

    Raises
    ------
    GreenError
        Too few views, all of them alike, or points that no lens brings together.
    """
    views = list(views)
    if len(views) < _FEWEST_VIEWS:
        raise GreenError(
            f"{len(views)} usable views of the board are too few for a lens, {_FEWEST_VIEWS} are the least: "
            "film it longer, near and far, tilted each way, with rests"
        )
    best: Lens | None = None
    for model, flags in _MODELS.items():
        found = _fit(views, width, height, model, flags)
        if found is not None and (best is None or found.rms_px < _BETTER * best.rms_px):
            best = found
    if best is None or best.rms_px > _MOST_RMS_PX:
        raise GreenError(
            "the views do not go together as those of one lens: keep the board flat, the zoom as it is and "
            "stabilisation off, and hold still now and then"
        )
    return best


def _fit(views: list[LensView], width: int, height: int, model: str, flags: int) -> Lens | None:
    kept = views
    starts = _STARTS
    for _ in range(3):
        solved = _solve(kept, width, height, flags, starts)
        if solved is None:
            return None
        rms, matrix, bend, deviations, per_view = solved
        good = per_view < _ODD_VIEW * max(float(np.median(per_view)), 0.05)
        if good.all() or good.sum() < _FEWEST_VIEWS:
            break
        kept = [view for view, fits in zip(kept, good, strict=True) if fits]
        starts = (float(matrix[0, 0]) / max(width, height),)
    long_side = max(width, height)
    coefficients = np.zeros(8)
    coefficients[: min(8, len(bend))] = bend[:8]
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    away = np.concatenate([view.points_px for view in kept]) - middle
    lens = Lens(
        width=width,
        height=height,
        f_share=float(matrix[0, 0]) / long_side,
        u_f_share=float(np.max(deviations[:2])) / long_side,
        centre_share=(
            float(matrix[0, 2] - middle[0]) / long_side,
            float(matrix[1, 2] - middle[1]) / long_side,
        ),
        u_centre_share=float(np.max(deviations[2:4])) / long_side,
        coefficients=tuple(float(c) for c in coefficients),
        model=model,
        rms_px=float(rms),
        n_views=len(kept),
        sees_share=float(np.percentile(np.hypot(*away.T), 99)) / float(np.hypot(*middle)),
    )
    return lens if _one_ray_a_pixel(lens) else None


_Solution = tuple[float, Floats, Floats, Floats, Floats]
"""Misfit, matrix, coefficients, their deviations, misfit a view."""


def _solve(
    views: list[LensView], width: int, height: int, flags: int, starts: Sequence[float]
) -> _Solution | None:
    """OpenCV's fit from several focal lengths, the best of them; None where none converges.

    From one start alone a strong lens may end half-way, in a wrong valley; two that agree are right.
    """
    found: list[_Solution] = []
    for share in starts:
        solved = _solve_from(share * max(width, height), views, width, height, flags)
        if solved is not None:
            found.append(solved)
        misfits = sorted(solution[0] for solution in found)
        if len(misfits) > 1 and misfits[1] < 1.001 * misfits[0]:
            break
    return min(found, key=lambda solution: solution[0], default=None)


def _solve_from(f_px: float, views: list[LensView], width: int, height: int, flags: int) -> _Solution | None:
    points = [view.points_m.astype(np.float32) for view in views]
    seen = [view.points_px.astype(np.float32)[:, None] for view in views]
    start = np.array([[f_px, 0, (width - 1) / 2], [0, f_px, (height - 1) / 2], [0, 0, 1.0]])
    flags |= cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_USE_INTRINSIC_GUESS
    try:
        rms, matrix, bend, _, _, deviations, _, per_view = cv2.calibrateCameraExtended(
            points, seen, (width, height), start, np.zeros(8), flags=flags, criteria=_PATIENCE
        )
    except cv2.error:
        return None
    matrix, bend, deviations, per_view = (
        np.asarray(a, dtype=np.float64) for a in (matrix, bend.ravel(), deviations.ravel(), per_view.ravel())
    )
    if not (
        np.isfinite(matrix).all() and np.isfinite(bend).all() and matrix[0, 0] > 0.1 * max(width, height)
    ):
        return None
    return float(rms), matrix, bend, deviations, per_view


def _one_ray_a_pixel(lens: Lens) -> bool:
    """Whether the model can be inverted as far out as points were seen, without a fold."""
    camera = lens.camera()
    shares = np.linspace(0.02, min(1.0, lens.sees_share + 0.02), 40)[:, None]
    middle = np.array([camera.cx_px, camera.cy_px])
    for corner in np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * (lens.width - 1, lens.height - 1):
        rays = camera.rays(middle + shares * (corner - middle)) @ camera.rotation().T
        if not np.isfinite(rays).all():
            return False
        out = np.hypot(rays[:, 0], rays[:, 1]) / rays[:, 2]
        if (np.diff(out) <= 0).any():
            return False
    return True


def remarks(lens: Lens) -> list[str]:
    """What the user should know of a measured lens, in plain words."""
    out = []
    if lens.sees_share < _SEES_SHARE:
        out.append(
            f"the board came only to {100 * lens.sees_share:.0f} % of the way to the picture's corners: "
            "film it again with the board in every corner"
        )
    if lens.rms_px > 0.6:
        out.append("the board moved fast or was bent: film again more slowly, the page taped flat")
    return out
