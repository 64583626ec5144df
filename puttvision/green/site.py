"""The site of a clip: everything that stands still, found from frames spread over it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from puttvision.errors import GreenError, HoleNotFoundError
from puttvision.green.camera import circle_on_plane
from puttvision.green.corners import SheetCorners, fit_corners
from puttvision.green.from_above import detect_from_above
from puttvision.green.hole import Hole, fit_rim
from puttvision.green.hole_finder import find_holes
from puttvision.green.pose import LensPrior, Pose, solve_pose
from puttvision.green.sheet import SHEET_IDS, detect, detect_far
from puttvision.green.still import StillPicture, still_picture
from puttvision.physics import HOLE_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_GAMMA = 2.5
"""Video is coded with 2.2 to 2.4 and phones steepen it: filmed sheets give 2.6 to 3.3 from end to end."""
_PAGE_M = ((-0.11, 0.13), (0.11, 0.13), (0.11, -0.21), (-0.11, -0.21))
"""A page round its marker's centre, A4 or Letter; the marker stands in the upper part."""
_BY_HAND_PX = 3.0
"""How well a person points at a hole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What stands in the picture."""

    still: StillPicture
    sheets: tuple[SheetCorners, ...]
    pose: Pose
    hole: Hole
    gamma: float
    warnings: tuple[str, ...]

    def pages_px(self) -> list[Floats]:
        """Outlines of the printed pages in the picture, each (4, 2): white that is no ball."""
        outlines = []
        for x, y, turn in self.pose.sheets.values():
            c, s = np.cos(turn), np.sin(turn)
            corners = [(x + c * a - s * b, y + s * a + c * b, 0.0) for a, b in _PAGE_M]
            outlines.append(self.pose.camera.project(np.array(corners)))
        return outlines

    @property
    def hole_box(self) -> tuple[int, int, int, int]:
        """x0, y0, x1, y1: the hole's surroundings in the picture."""
        ring = circle_on_plane(
            self.pose.camera, self.pose.camera.to_plane(self.hole.at_px), 1.6 * HOLE_RADIUS_M
        )
        height, width = self.still.luma.shape
        x0, y0 = np.floor(ring.min(axis=0)).astype(int)
        x1, y1 = np.ceil(ring.max(axis=0)).astype(int) + 1
        return max(0, int(x0)), max(0, int(y0)), min(width, int(x1)), min(height, int(y1))

    @property
    def marks_m(self) -> NDArray[np.float64]:
        """Places of the hole and the sheets on the plane, shape (n, 2)."""
        hole = self.pose.camera.to_plane(self.hole.at_px)
        return np.array([hole, *(at[:2] for at in self.pose.sheets.values())])

    @property
    def hole_look(self) -> NDArray[np.uint8]:
        """The still picture in ``hole_box``."""
        x0, y0, x1, y1 = self.hole_box
        return self.still.luma[y0:y1, x0:x1]


def survey(
    frames: Iterable[tuple[Plane, Plane, Plane]],
    *,
    prior: LensPrior | None = None,
    hole_px: tuple[float, float] | None = None,
    sheet_px: Mapping[int, Sequence[tuple[float, float]]] | None = None,
) -> Site:
    """Find sheets, camera and hole.

    Parameters
    ----------
    frames : luma, cb, cr of frames spread over the clip
    prior : of the lens
    hole_px : the hole as a person pointed at it, in the upright picture
    sheet_px : by the sheet's number, the corners of its black square as a person pointed at them: top left,
        top right, bottom right, bottom left as printed. They take the place of what is found.

    Raises
    ------
    GreenError
        With what is missing and what to check.
    """
    lumas: list[Plane] = []

    def keep(items: Iterable[tuple[Plane, Plane, Plane]]) -> Iterable[tuple[Plane, Plane, Plane]]:
        for item in items:
            lumas.append(item[0])
            yield item

    still = still_picture(keep(frames))
    if still is None:
        raise GreenError("the clip holds no frame to look at")
    by_hand = [_sheet_by_hand(still.luma, number, px) for number, px in (sheet_px or {}).items()]
    placed = {sheet.id for sheet in by_hand}
    sheets = [*by_hand, *(sheet for sheet in _sheets(still.luma, lumas) if sheet.id not in placed)]
    if not sheets:
        raise GreenError(
            f"no sheet seen in any of {len(lumas)} frames spread over the clip: check that a sheet from "
            "`puttvision sheet` lies flat in the picture, whole, sharp and not in glare, or "
            "place its corners: --sheet 'ID:U,V U,V U,V U,V'"
        )
    height, width = still.luma.shape
    pose, sheets, warnings = _pose(sheets, width, height, prior)
    more = _from_above(still.luma, pose, prior, sheets) if len(sheets) == 1 else None
    pose, sheets = more or (pose, sheets)
    if pose.lean_rad:
        warnings.append(
            f"a sheet leans by {np.degrees(pose.lean_rad):.1f} degrees, so that figures are less sure: "
            "lay the sheets flat, held down by tees"
        )
    if len(sheets) == 1:
        warnings.append("one sheet seen: a second one near the hole makes start lines more certain")
    hole = _best_hole(still, pose) if hole_px is None else _hole_by_hand(still.luma, pose, hole_px)
    return Site(
        still=still, sheets=tuple(sheets), pose=pose, hole=hole, gamma=_GAMMA, warnings=tuple(warnings)
    )


def _sheets(still: Plane, lumas: list[Plane]) -> list[SheetCorners]:
    """Sheets in the still picture and, where one is covered most of the time, in single frames."""
    found: dict[int, SheetCorners] = {}
    for look in (detect, detect_far):
        for sheet_id, rough in look(still).items():
            fit = fit_corners(still, sheet_id, rough) if sheet_id not in found else None
            if fit:
                found[sheet_id] = fit
        if len(found) >= 2:
            return list(found.values())
    for luma in lumas[:: max(1, len(lumas) // 8)]:
        for sheet_id, rough in detect(luma).items():
            fit = fit_corners(luma, sheet_id, rough) if sheet_id not in found else None
            if fit:
                found[sheet_id] = fit
    return list(found.values())


def _sheet_by_hand(still: Plane, sheet_id: int, corners_px: Sequence[tuple[float, float]]) -> SheetCorners:
    """The print fitted where a person placed its corners, or the corners as placed where none is seen."""
    height, width = still.shape
    corners = np.array(corners_px, dtype=float)
    if sheet_id not in SHEET_IDS or corners.shape != (4, 2):
        raise ValueError(f"four corners of a sheet 0 to 9 were due, got {sheet_id}: {corners_px}")
    if not ((corners >= 0) & (corners <= (width - 1, height - 1))).all():
        raise GreenError(f"a corner of sheet {sheet_id} is outside the picture of {width} x {height}")
    sides = np.roll(corners, -1, axis=0) - corners
    turns = sides[:, 0] * np.roll(sides, -1, axis=0)[:, 1] - sides[:, 1] * np.roll(sides, -1, axis=0)[:, 0]
    if not (turns > 0).all():
        raise GreenError(
            f"the corners of sheet {sheet_id} do not go round it: place top left, top right, bottom right, "
            "bottom left, as printed"
        )
    fitted = fit_corners(still, sheet_id, corners)
    if fitted:  # once more from there: a person's corners are out by pixels
        fitted = fit_corners(still, sheet_id, fitted.corners_px) or fitted
    if fitted and np.abs(fitted.corners_px - corners).max() < 4 * _BY_HAND_PX:
        return fitted
    return SheetCorners(
        id=sheet_id,
        corners_px=corners,
        cov_px2=np.eye(8) * (_BY_HAND_PX / 2) ** 2,
        residual=1.0,
        blur_px=0.7,
        gamma=_GAMMA,
    )


def _pose(
    sheets: list[SheetCorners], width: int, height: int, prior: LensPrior | None
) -> tuple[Pose, list[SheetCorners], list[str]]:
    """Solve with all sheets; one that does not fit the others' plane is left out and named."""
    try:
        return solve_pose(sheets, width, height, prior), sheets, []
    except GreenError:
        if len(sheets) < 3:
            raise
    best: tuple[float, Pose, SheetCorners] | None = None
    for sheet in sheets:
        rest = [other for other in sheets if other is not sheet]
        try:
            pose = solve_pose(rest, width, height, prior)
        except GreenError:
            continue
        if best is None or pose.rms_px < best[0]:
            best = (pose.rms_px, pose, sheet)
    if best is None:
        raise GreenError("the sheets do not lie on one plane: lay every sheet flat on the green")
    left_out = best[2]
    rest = [other for other in sheets if other is not left_out]
    return best[1], rest, [f"sheet {left_out.id} does not lie on the others' plane and was left out"]


def _from_above(
    still: Plane, pose: Pose, prior: LensPrior | None, sheets: list[SheetCorners]
) -> tuple[Pose, list[SheetCorners]] | None:
    """The pose from more sheets, where a map of the plane shows any that lie on it; None where not."""
    known = {sheet.id for sheet in sheets}
    rough = {i: at for i, at in detect_from_above(still, pose.camera).items() if i not in known}
    fits = [fit for i, at in rough.items() if (fit := fit_corners(still, i, at))]
    if not fits:
        return None
    try:
        return solve_pose([*sheets, *fits], still.shape[1], still.shape[0], prior), [*sheets, *fits]
    except GreenError:
        return None


def _on_page(at_m: Floats, place: tuple[float, float, float]) -> bool:
    """Whether a hole there would reach into a printed page."""
    x, y, turn = place
    away = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) @ (at_m - (x, y))
    low, high = np.min(_PAGE_M, axis=0), np.max(_PAGE_M, axis=0)
    return bool(((away > low - HOLE_RADIUS_M / 2) & (away < high + HOLE_RADIUS_M / 2)).all())


def _best_hole(still: StillPicture, pose: Pose) -> Hole:
    for hole in find_holes(still.luma, pose.camera, _GAMMA, (still.cb, still.cr)):
        at_m = pose.camera.to_plane(hole.at_px)
        if not any(_on_page(at_m, place) for place in pose.sheets.values()):
            return hole
    raise HoleNotFoundError(
        "the hole was not found: check that it is in the picture, empty and not hidden, "
        "or point at it with --hole U,V (pixels of the upright picture)"
    )


def _hole_by_hand(still: Plane, pose: Pose, hole_px: tuple[float, float]) -> Hole:
    height, width = still.shape
    if not (0 <= hole_px[0] < width and 0 <= hole_px[1] < height):
        raise GreenError(f"--hole {hole_px[0]:g},{hole_px[1]:g} is outside the picture of {width} x {height}")
    guess = pose.camera.to_plane(hole_px)
    if not np.isfinite(guess).all():
        raise GreenError(f"--hole {hole_px[0]:g},{hole_px[1]:g} lies above the green's horizon")
    fitted = fit_rim(still, pose.camera, guess, _GAMMA, reach_px=6.0)
    if fitted and np.hypot(fitted.at_px[0] - hole_px[0], fitted.at_px[1] - hole_px[1]) < 4 * _BY_HAND_PX:
        return replace(fitted, by_hand=True)
    return Hole(
        at_px=hole_px,
        cov_px2=np.eye(2) * _BY_HAND_PX**2,
        radius_ratio=1.0,
        u_radius_ratio=1.0,
        rim_seen=0.0,
        by_hand=True,
    )
