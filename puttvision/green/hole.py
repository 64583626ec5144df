"""The hole: a circle of 108 mm on the plane, fitted at its rim.

The far half of the rim stands against the dark soil above the lining, the near half against the
lining or the shadow in it. The rim's edges give the place to a fraction of a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera, circle_on_plane
from puttvision.green.edges import edge_offsets, linear_light, outward_normals
from puttvision.physics import HOLE_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_RIM_POINTS = 72
_TURNS, _WIDE_TURNS = 8, 3
"""The first turns look wide to find the rim; the last look close, past the edge of the lining inside."""
_U_SIZE, _U_SIZE_PX = 0.012, 0.2
"""How well the size of the rim in the picture is known before: the cut and the camera's scale there; and how
far blades and blur may make an edge look out of place all round."""
_FLOOR_PX = 0.12
"""What the centre can claim at best: the near edge stands against the lining's shadow, not against soil."""
_U_RIM_M = 0.0005
"""A hole is cut to 108 mm within about half a millimetre, and its edge is frayed by as much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """The hole as seen through one camera."""

    at_px: tuple[float, float]
    """Projection of the centre of the rim."""
    cov_px2: Floats
    """Shape (2, 2)."""
    radius_ratio: float
    """Rim as seen over rim as predicted: a ruler for the camera."""
    u_radius_ratio: float
    rim_seen: float
    """Share of the rim that shows a clean edge."""
    by_hand: bool = False


def fit_rim(
    picture: Plane, camera: Camera, centre_m: Floats, gamma: float, reach_px: float | None = None
) -> Hole | None:
    """Fit the projected rim near a guess on the plane, shape (2,) metres.

    Returns None where no rim stands there.
    """
    table = linear_light(gamma)
    centre = np.asarray(centre_m, dtype=float)
    ratio = 1.0
    for turn in range(_TURNS):
        ring = circle_on_plane(camera, centre, HOLE_RADIUS_M, n=_RIM_POINTS)
        if not np.isfinite(ring).all():
            return None
        flat = float(np.ptp(ring[:, 1]))
        reach = reach_px or float(np.clip(0.35 * flat, 2.0, 5.0))
        reach = max(2.0, reach * (1.0 if turn < _WIDE_TURNS else 0.6))
        edges = edge_offsets(picture, ring, reach, table, least_step=0.01, inner_px=min(reach, 0.3 * flat))
        normal = outward_normals(ring)
        good = np.isfinite(edges.offset_px)
        if good.sum() < 0.35 * _RIM_POINTS:
            return None
        radial = ring - ring.mean(axis=0)
        design = np.column_stack([normal, np.sum(radial * normal, axis=1)])[good]
        weight = 1.0 / np.maximum(edges.u_px[good], 0.05)
        offset = edges.offset_px[good]
        solution = np.zeros(3)
        u_size = np.hypot(_U_SIZE, _U_SIZE_PX / (np.ptp(ring[:, 0]) / 2))
        prior = np.diag([0.0, 0.0, 1 / u_size**2])
        for _ in range(4):
            miss = offset - design @ solution
            spread = 1.4826 * np.median(np.abs(miss)) + 0.02
            w = weight / (1 + (miss / (2 * spread)) ** 2)
            normal_matrix = design.T @ (design * w[:, None]) + prior
            solution = np.linalg.solve(normal_matrix, design.T @ (w * offset))
        step_m = camera.plane_jacobian(centre) @ solution[:2]
        centre = centre + np.clip(step_m, -0.05, 0.05)
        ratio = 1 + solution[2]
        if turn >= _WIDE_TURNS and np.abs(solution[:2]).max() < 0.005:
            break
    miss = offset - design @ solution
    spread = 1.4826 * float(np.median(np.abs(miss))) + 0.02
    if spread > 0.12 * flat + 0.25:
        return None
    w = 1.0 / (1 + (miss / (2 * spread)) ** 2)
    # neighbouring rim points see the same pixels: about a third are independent
    cov = np.linalg.inv(design.T @ (design * w[:, None]) / (3 * spread**2) + prior)
    at = camera.project([centre[0], centre[1], 0.0])
    fray_px = _U_RIM_M / HOLE_RADIUS_M * np.ptp(ring, axis=0) / 2
    floor = np.diag(_FLOOR_PX**2 + fray_px**2 + _unseen_ends_px(ring, normal, good) ** 2)
    return Hole(
        at_px=(float(at[0]), float(at[1])),
        cov_px2=np.asarray(cov[:2, :2] + floor, dtype=np.float64),
        radius_ratio=ratio,
        u_radius_ratio=float(np.sqrt(cov[2, 2] + (_U_RIM_M / HOLE_RADIUS_M) ** 2)),
        rim_seen=float(good.mean()),
    )


def _unseen_ends_px(ring: Floats, normal: Floats, good: NDArray[np.bool_]) -> Floats:
    """What is not known of the centre along x and y where an end of the rim shows no edge, shape (2,).

    Under a low sun the soil on one side is as bright as grass, and the shadow's edge in the hole may pass
    for the rim.
    """
    out = np.zeros(2)
    for axis in (0, 1):
        ends = [side * normal[:, axis] > _END for side in (-1, 1)]
        least = min(float(good[end].mean()) if end.any() else 0.0 for end in ends)
        out[axis] = _UNSEEN_SHARE * float(np.ptp(ring[:, axis])) * (1 - least)
    return out


_END = 0.8
_UNSEEN_SHARE = 0.05
"""Of the rim's extent (measured on filmed scenes)."""
