"""From what was seen in pixels to places on the plane, at the time of the picture row they stood in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.sightings import Lie, Roll
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

_EXTRA_PX = 0.05
"""What differs from frame to frame beyond a fit's own covariance: the turning ball's marks."""


@dataclass(frozen=True, slots=True)
class PlaneTrack:
    """One roll on the plane."""

    time_s: Floats
    """Shape (n,), with the row's own delay."""
    at_m: Floats
    """Shape (n, 2)."""
    cov_m2: Floats
    """Shape (n, 2, 2)."""
    lie_m: Floats
    rest_m: Floats | None


def on_plane(roll: Roll, camera: Camera, readout_s: float) -> PlaneTrack:
    """Places of a roll under a camera whose sensor reads its rows in ``readout_s``."""
    px = np.array([s.at_px for s in roll.sightings])
    time_s = np.array([s.time_s for s in roll.sightings]) + readout_s * px[:, 1] / camera.height
    at_m = camera.to_plane(px, BALL_RADIUS_M)
    cov_px = np.array([_matrix(s.cov_px2) for s in roll.sightings]) + np.eye(2) * _EXTRA_PX**2
    return PlaneTrack(
        time_s=time_s,
        at_m=at_m,
        cov_m2=_cov_on_plane(camera, at_m, cov_px),
        lie_m=lie_on_plane(roll.start, camera),
        rest_m=lie_on_plane(roll.rest, camera) if roll.rest else None,
    )


def lie_on_plane(lie: Lie, camera: Camera) -> Floats:
    """Shape (2,), metres."""
    return camera.to_plane(np.array(lie.at_px), BALL_RADIUS_M)


def lie_cov_m2(lie: Lie, camera: Camera) -> Floats:
    """Shape (2, 2)."""
    at = lie_on_plane(lie, camera)[None]
    return np.asarray(_cov_on_plane(camera, at, _matrix(lie.cov_px2)[None])[0])


def moved(roll: Roll, camera: Camera, shift_px: Floats) -> Floats:
    """The sightings' places when their pixels are shifted by (n, 2), (n, 2)."""
    px = np.array([s.at_px for s in roll.sightings]) + shift_px
    return camera.to_plane(px, BALL_RADIUS_M)


def _matrix(cov: tuple[float, float, float]) -> Floats:
    return np.array([[cov[0], cov[1]], [cov[1], cov[2]]])


def _cov_on_plane(camera: Camera, at_m: Floats, cov_px2: Floats) -> Floats:
    """Shapes (n, 2) and (n, 2, 2): covariance through the plane map's Jacobian."""
    step = 1e-3
    place = np.concatenate([at_m, at_m + np.array([step, 0]), at_m + np.array([0, step])])
    px = camera.project(np.column_stack([place, np.full(len(place), BALL_RADIUS_M)]))
    n = len(at_m)
    forward = np.stack([px[n : 2 * n] - px[:n], px[2 * n :] - px[:n]], axis=-1) / step
    jacobian = np.linalg.inv(forward)
    return np.asarray(jacobian @ cov_px2 @ jacobian.transpose(0, 2, 1))
