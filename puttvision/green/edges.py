"""Where a known outline really lies in the picture: sub-pixel edge offsets along its normals.

Works in linear light (luma undone by the tone curve), where the place of a blurred edge is where
light has risen half way, whatever white has grown into black. A smear by motion widens the edges on
both sides alike, so the middle of an outline stays the middle of the exposure.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_STEP_PX = 0.5
_PLATEAU_PX = 1.5
"""Length of the stretch at either end of a profile that gives the level inside and outside."""


@dataclass(frozen=True, slots=True)
class EdgeOffsets:
    """Signed distance outwards from the expected outline to the edge seen, at each outline point."""

    offset_px: Floats
    """Shape (n,); NaN where no edge can be told."""
    u_px: Floats
    """Shape (n,), standard uncertainty from noise and contrast; infinite where there is no edge."""
    step: Floats
    """Shape (n,), light inside minus outside, as a share of white."""


def linear_light(gamma: float) -> NDArray[np.float32]:
    """Table of 256: luma to light as a share of white, for a tone curve of exponent 1/gamma."""
    share = np.clip((np.arange(256) - 16.0) / 219.0, 0.0, 1.1)
    return np.asarray(share**gamma, dtype=np.float32)


def outward_normals(ring_px: Floats) -> Floats:
    """Unit normals of a closed outline, pointing away from its middle; shape (n, 2)."""
    tangent = np.roll(ring_px, -1, axis=0) - np.roll(ring_px, 1, axis=0)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-12
    outward = np.sum(normal * (ring_px - ring_px.mean(axis=0)), axis=1)
    return np.asarray(normal * np.where(outward < 0, -1.0, 1.0)[:, None])


def edge_offsets(
    picture: NDArray[np.uint8] | NDArray[np.float32],
    ring_px: Floats,
    reach_px: float,
    table: NDArray[np.float32],
    noise: float = 0.02,
    least_step: float = 0.06,
    inner_px: float | None = None,
) -> EdgeOffsets:
    """Measure the edge near each point of an outline.

    Parameters
    ----------
    picture : shape (h, w), luma, 0 to 255
    ring_px : shape (n, 2), the expected outline, closed
    reach_px : how far outside the outline to look
    table : ``linear_light``
    noise : standard deviation of light in one pixel, as a share of white
    least_step : weakest step of light that counts as an edge
    inner_px : how far inside to look; None: as far as outside

    Notes
    -----
    Along each normal the levels at both ends are taken as inside and outside; the edge lies where a
    sharp step of the same area would lie: offset = sum((I - outside) / (inside - outside)) dx - inner.
    """
    inner = reach_px if inner_px is None else inner_px
    at = np.arange(-inner, reach_px + _STEP_PX / 2, _STEP_PX)
    normal = outward_normals(ring_px)
    x = (ring_px[:, 0, None] + normal[:, 0, None] * at).astype(np.float32)
    y = (ring_px[:, 1, None] + normal[:, 1, None] * at).astype(np.float32)
    n = len(ring_px)
    nothing = EdgeOffsets(np.full(n, np.nan), np.full(n, np.inf), np.zeros(n))
    x0, y0 = int(np.floor(x.min())) - 1, int(np.floor(y.min())) - 1
    x1, y1 = int(np.ceil(x.max())) + 2, int(np.ceil(y.max())) + 2
    height, width = picture.shape
    if not (x0 >= 0 and y0 >= 0 and x1 <= width and y1 <= height):
        return nothing
    patch = picture[y0:y1, x0:x1]
    if patch.dtype == np.uint8:
        light = cv2.LUT(np.ascontiguousarray(patch), table)
    else:
        light = np.interp(patch, np.arange(256), table).astype(np.float32)
    profile = cv2.remap(light, x - x0, y - y0, cv2.INTER_LINEAR).astype(float)
    k = max(1, round(_PLATEAU_PX / _STEP_PX))
    inside = profile[:, : k + 1].mean(axis=1)
    outside = profile[:, -k - 1 :].mean(axis=1)
    step = inside - outside
    usable = np.abs(step) > least_step
    safe = np.where(usable, step, 1.0)
    share = (profile - outside[:, None]) / safe[:, None]
    area = (share[:, :-1] + share[:, 1:]).sum(axis=1) * _STEP_PX / 2
    offset = area - inner
    # a clean edge falls from 1 to 0: what lies far outside that is something else in the way
    clean = (share.max(axis=1) < 1.6) & (share.min(axis=1) > -0.6) & (np.abs(offset) < 0.7 * reach_px)
    good = usable & clean
    u = noise * np.sqrt(inner + reach_px) / np.maximum(np.abs(step), 1e-6)
    return EdgeOffsets(
        offset_px=np.where(good, offset, np.nan),
        u_px=np.where(good, u, np.inf),
        step=np.where(good, step, 0.0),
    )
