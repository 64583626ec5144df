"""What one change of a set-up would help most: every change is tried by its covariance, none by rule."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from puttvision.errors import GreenError
from puttvision.green.camera import Camera
from puttvision.putt.foresee import Place, SetUp, start_line_u95_deg

Floats = NDArray[np.float64]

_NEARER_M = 0.5
_HIGHER_M = 0.3
_BESIDE_M = 0.35
"""A sheet lies so far off the line: no ball rolls over it."""
_BY_M = 0.8
"""A sheet within this of ball or hole counts as lying by it."""
_FASTER_HZ = (60.0, 120.0, 240.0)
_WORTH = 0.08
"""Less than this share of improvement is not worth a walk to the tripod."""
_CLOSEST_M = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change and what the start line's 95 % half-width would be with it."""

    words: str
    u95_deg: float


def best_change(setup: SetUp) -> tuple[float, Change | None]:
    """The half-width foreseen for the set-up as it is, and the change that helps most.

    None where no change helps by more than a little. Raises GreenError where the sheets carry no pose.
    """
    now = start_line_u95_deg(setup)
    tried = all_changes(setup)
    best = min(tried, key=lambda change: change.u95_deg, default=None)
    return now, best if best is not None and best.u95_deg < (1 - _WORTH) * now else None


def all_changes(setup: SetUp) -> list[Change]:
    """Every change that keeps ball, hole and sheets in the picture, with what it would give."""
    out = []
    for words, changed in _changes(setup):
        if not changed.shows_all():
            continue
        try:
            out.append(Change(words=words, u95_deg=start_line_u95_deg(changed)))
        except GreenError:  # the sheets would carry no pose there
            continue
    return out


def _changes(setup: SetUp) -> Iterator[tuple[str, SetUp]]:
    middle = (setup.lie_m + setup.hole_m) / 2
    away = float(np.hypot(*middle))
    if away - _NEARER_M > _CLOSEST_M:
        yield "move the phone 0.5 m nearer to the line", moved(setup, middle * _NEARER_M / away, 0.0)
    yield "raise the phone by 0.3 m", moved(setup, np.zeros(2), _HIGHER_M)
    for name, at in (("ball", setup.lie_m), ("hole", setup.hole_m)):
        if any(np.hypot(*(np.array(place[:2]) - at)) < _BY_M for place in setup.sheets.values()):
            continue
        for place in _beside(setup, at):
            yield f"put another sheet by the {name}", replace(setup, sheets={**setup.sheets, -1: place})
            for sheet_id in setup.sheets if len(setup.sheets) > 1 else ():
                others = {i: p for i, p in setup.sheets.items() if i != sheet_id}
                yield (
                    f"move sheet {sheet_id} to the {name}",
                    replace(setup, sheets={**others, sheet_id: place}),
                )
    faster = next((hz for hz in _FASTER_HZ if hz > 1.3 * setup.rate_hz), None)
    if faster:
        yield f"film at {faster:.0f} frames a second", replace(setup, rate_hz=faster)
    if max(setup.camera.width, setup.camera.height) < 1900:
        yield "film at 1920x1080", replace(setup, camera=_finer(setup.camera, 1.5))


def _beside(setup: SetUp, at: Floats) -> list[Place]:
    """A place on either side of the line, level with ball or hole."""
    line = setup.hole_m - setup.lie_m
    right = np.array([line[1], -line[0]]) / float(np.hypot(*line))
    return [(*map(float, at + side * _BESIDE_M * right), 0.3) for side in (-1.0, 1.0)]  # type: ignore[misc]


def _finer(camera: Camera, by: float) -> Camera:
    return replace(
        camera,
        width=round(camera.width * by),
        height=round(camera.height * by),
        f_px=camera.f_px * by,
        cx_px=(camera.cx_px + 0.5) * by - 0.5,
        cy_px=(camera.cy_px + 0.5) * by - 0.5,
    )


def moved(setup: SetUp, by_m: Floats, higher_m: float) -> SetUp:
    """The set-up with the phone elsewhere, still looking at the same spot of the green.

    ``by_m``: shape (2,), in the frame of the green. The answer is in the new camera's own frame.
    """
    camera = setup.camera
    spot = np.array([0.0, camera.height_m / np.tan(max(camera.tilt_rad, 0.05))])
    view = spot - by_m
    turn = np.arctan2(view[1], view[0]) - np.pi / 2
    c, s = np.cos(-turn), np.sin(-turn)
    rotation = np.array([[c, -s], [s, c]])
    height = camera.height_m + higher_m
    there = replace(camera, height_m=height, tilt_rad=float(np.arctan2(height, np.hypot(*view))))

    def to(at_m: Floats) -> Floats:
        return np.asarray(rotation @ (at_m - by_m))

    sheets: dict[int, Place] = {}
    for sheet_id, (x, y, angle) in setup.sheets.items():
        at = to(np.array([x, y]))
        sheets[sheet_id] = (float(at[0]), float(at[1]), float(angle - turn))
    return replace(setup, camera=there, sheets=sheets, lie_m=to(setup.lie_m), hole_m=to(setup.hole_m))
