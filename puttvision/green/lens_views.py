"""From frames to views of a lens: the printed board, or sheets that are moved about, seen again and again.

Also the sensor's read-out time, where a board that moves shows it: while the picture is read row by row,
the lower rows see the board later, so it looks sheared by its own motion.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.green.corners import fit_corners
from puttvision.green.lens import Lens, LensView
from puttvision.green.lens_board import board
from puttvision.green.sheet import detect, sheet_corners

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_FEWEST_CORNERS = 8
_MOST_VIEWS = 30
_SLOW = 0.5
"""Views are taken from the slower half: a moving board is blurred and sheared."""
_SAME_PX = 4.0
"""A sheet that moved less is seen the same way again."""
_GAP_S = 0.2
"""Motion is told from frames no further apart than this."""
_FAST_PX_S = 150.0
_JERK = 0.5
_U_READOUT_S = 0.0025
_LEAST_READOUT_S = 0.0015
"""Faster sensors are in no phone (from memory: 4 to 16 ms); less is a sign of other errors."""
_FEWEST_MOVING = 15


@dataclass(frozen=True, slots=True)
class BoardSighting:
    """Corners of the board in one frame, by their number."""

    time_s: float
    ids: NDArray[np.intp]
    points_px: Floats


def find_board(luma: Plane, time_s: float) -> BoardSighting | None:
    """The board's corners in one picture; None where fewer than eight are seen."""
    corners, ids, _, _ = cv2.aruco.CharucoDetector(board()).detectBoard(np.ascontiguousarray(luma))
    if ids is None or len(ids) < _FEWEST_CORNERS:
        return None
    order = np.argsort(ids.ravel())
    return BoardSighting(
        time_s, ids.ravel()[order].astype(np.intp), np.asarray(corners, np.float64).reshape(-1, 2)[order]
    )


def board_views(sightings: Sequence[BoardSighting]) -> list[LensView]:
    """Every sighting as a view, with the speed of its motion."""
    places = np.asarray(board().getChessboardCorners(), dtype=np.float64)
    views = []
    for i, now in enumerate(sightings):
        motion = _motion(sightings, i)
        speed = 0.0 if motion is None else float(np.median(np.hypot(*motion[1].T)))
        views.append(LensView(places[now.ids], now.points_px, now.time_s, speed))
    return views


def sheet_views(frames: Iterable[tuple[Plane, float]]) -> list[LensView]:
    """Sheets seen in frames: each sheet in each frame is a view of its four corners."""
    views: list[LensView] = []
    last: dict[int, tuple[float, Floats]] = {}
    for luma, time_s in frames:
        for sheet_id, rough in detect(luma).items():
            before = last.get(sheet_id)
            last[sheet_id] = (time_s, rough)
            speed = 0.0
            if before is not None:
                if float(np.abs(rough - before[1]).max()) < _SAME_PX:
                    continue
                if time_s - before[0] < _GAP_S:
                    speed = float(np.hypot(*(rough - before[1]).mean(axis=0))) / (time_s - before[0])
            fit = fit_corners(luma, sheet_id, rough)
            if fit is not None:
                views.append(LensView(sheet_corners(), fit.corners_px, time_s, speed))
    return views


def choose_views(views: Sequence[LensView], most: int = _MOST_VIEWS) -> list[LensView]:
    """Views that differ: of the slower ones, each next is the one most unlike all before."""
    if not views:
        return []
    slowest = float(np.quantile([view.speed_px_s for view in views], _SLOW))
    slow = [view for view in views if view.speed_px_s <= max(slowest, 60.0)]
    looks = np.array([_look(view) for view in slow])
    spread = looks.std(axis=0)
    looks = looks / np.where(spread > 1e-9, spread, 1.0)
    chosen = [int(np.argmax(np.linalg.norm(looks - looks.mean(axis=0), axis=1)))]
    nearest = np.linalg.norm(looks - looks[chosen[0]], axis=1)
    while len(chosen) < min(most, len(slow)):
        following = int(np.argmax(nearest))
        if nearest[following] < 0.05:
            break
        chosen.append(following)
        nearest = np.minimum(nearest, np.linalg.norm(looks - looks[following], axis=1))
    return [slow[i] for i in chosen]


def _look(view: LensView) -> Floats:
    """Where, how large, how turned and how tilted a view is: shape (8,)."""
    flat = view.points_m[:, :2] - view.points_m[:, :2].mean(axis=0)
    size = float(np.abs(flat).max())
    to_px, _ = cv2.findHomography(flat / size, view.points_px)
    if to_px is None:
        return np.zeros(8)
    corners = np.array([[[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]])
    return np.asarray(cv2.perspectiveTransform(corners, to_px), dtype=np.float64).ravel()


def _motion(sightings: Sequence[BoardSighting], i: int) -> tuple[NDArray[np.intp], Floats] | None:
    """Rows of sighting ``i`` that its neighbours in time show too, and their velocities, px/s (n, 2).

    None where they are too far apart in time.
    """
    if not 0 < i < len(sightings) - 1:
        return None
    before, now, after = sightings[i - 1], sightings[i], sightings[i + 1]
    if after.time_s - before.time_s > _GAP_S:
        return None
    common = np.intersect1d(np.intersect1d(before.ids, now.ids), after.ids)
    if len(common) < _FEWEST_CORNERS:
        return None
    rows = [np.searchsorted(s.ids, common) for s in (before, now, after)]
    way = after.points_px[rows[2]] - before.points_px[rows[0]]
    return rows[1].astype(np.intp), way / (after.time_s - before.time_s)


def _smooth(three: Sequence[BoardSighting], velocity: Floats) -> bool:
    """Whether the board went on as it came: a cut or a jerk gives no velocity for the frame between."""
    before, now, after = three
    common = np.intersect1d(np.intersect1d(before.ids, now.ids), after.ids)
    rows = [np.searchsorted(s.ids, common) for s in three]
    came = (now.points_px[rows[1]] - before.points_px[rows[0]]) / (now.time_s - before.time_s)
    goes = (after.points_px[rows[2]] - now.points_px[rows[1]]) / (after.time_s - now.time_s)
    change = float(np.median(np.hypot(*(goes - came).T)))
    return change < _JERK * float(np.median(np.hypot(*velocity.T)))


@dataclass(frozen=True, slots=True)
class MeasuredReadout:
    """From the first row of a picture to its last, seconds."""

    seconds: float
    u_seconds: float
    n_frames: int


def measure_readout(
    sightings: Sequence[BoardSighting], lens: Lens, interval_s: float
) -> MeasuredReadout | None:
    """The read-out time from a moving board; None where the motion does not tell it.

    Each corner is off by its velocity times its row's delay. What a pose can explain of that is taken out,
    the rest is linear in the read-out time.
    """
    places = np.asarray(board().getChessboardCorners(), dtype=np.float64)
    prior = lens.prior().lens(lens.width, lens.height)
    matrix = np.array([[prior["f_px"], 0, prior["cx_px"]], [0, prior["f_px"], prior["cy_px"]], [0, 0, 1.0]])
    bend = np.array(lens.coefficients)
    estimates: list[tuple[float, float]] = []
    for i, now in enumerate(sightings):
        motion = _motion(sightings, i)
        if motion is None or float(np.median(np.hypot(*motion[1].T))) < _FAST_PX_S:
            continue
        rows, velocity = motion
        if not _smooth(sightings[i - 1 : i + 2], velocity):
            continue
        told = _one_readout(places[now.ids[rows]], now.points_px[rows], velocity, matrix, bend, lens.height)
        if told is not None:
            estimates.append(told)
    if len(estimates) < _FEWEST_MOVING:
        return None
    values, weights = np.array(estimates).T
    order = np.argsort(values)
    middle = float(values[order][np.searchsorted(np.cumsum(weights[order]), weights.sum() / 2)])
    scatter = 1.4826 * float(np.median(np.abs(values - middle)))
    use = np.abs(values - middle) < 3 * scatter + 1e-6
    seconds = float(np.average(values[use], weights=weights[use]))
    n_free = max(3.0, use.sum() / 3)  # neighbouring frames share their errors
    spread = float(np.sqrt(np.average((values[use] - seconds) ** 2, weights=weights[use]) / n_free))
    if spread > _U_READOUT_S or not _LEAST_READOUT_S < seconds < 1.05 * interval_s:
        return None
    return MeasuredReadout(seconds, max(spread, 2e-4), int(use.sum()))


def _one_readout(
    points_m: Floats, points_px: Floats, velocity: Floats, matrix: Floats, bend: Floats, height: int
) -> tuple[float, float] | None:
    """Estimate and weight from one frame."""
    found, turn, move = cv2.solvePnP(points_m, points_px, matrix, bend, flags=cv2.SOLVEPNP_ITERATIVE)
    if not found:
        return None
    due, jacobian = cv2.projectPoints(points_m, turn, move, matrix, bend)
    pose = np.asarray(jacobian, dtype=np.float64)[:, :6]
    miss = (points_px - np.asarray(due, dtype=np.float64)[:, 0]).ravel()
    delay = points_px[:, 1] / height
    sheared = (velocity * (delay - delay.mean())[:, None]).ravel()
    basis, _ = np.linalg.qr(pose)
    sheared = sheared - basis @ (basis.T @ sheared)
    miss = miss - basis @ (basis.T @ miss)
    weight = float(sheared @ sheared)
    return (float(sheared @ miss) / weight, weight) if weight > 1e-6 else None
