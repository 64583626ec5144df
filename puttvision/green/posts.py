"""Gate posts: tees that stand in the green, found by their colour and shape and fitted to their feet.

A post is a few pixels wide and some twenty high, so it is fitted as a whole: a narrow upright strip,
wider or narrower at the top, against the grass, blurred as the lens blurs. What counts for a gate is
where it stands, so the fit's answer is the foot on the plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtr

from puttvision.green.camera import Camera
from puttvision.green.still import StillPicture, full_size

Floats = NDArray[np.float64]

_HEIGHT_M = (0.012, 0.075)
"""Tees stand a thumb's width to a full tee's length out of the ground (70 mm; common practice)."""
_WIDEST_M = 0.016
_NUDGE = 1e-6
"""Over so much, in pixels and shares, slopes are told."""
_TALL_M = 0.038
"""A patch taller than this may be two posts, one before the other."""
_CLOSEST_M = 0.04
_TWO_BETTER = 0.8
"""Two posts must fit so much better than one; a ball is 43 mm wide, so no gate is narrower."""
_CONTRAST = 5.0
"""Least difference from the grass around, in its own spread."""
_PEAK_SHARE = 0.35
"""A patch ends where its strength falls below this share of its peak."""
_BLUR_PX = 1.0
"""Lens, sharpening and the half resolution of chroma together, to start from."""
SHANK_M = 0.0046
"""A tee's shank, 4 to 5.5 mm (common practice, no source)."""
_BLADES_M = 0.001
"""Blades round a post stand so far above the level to which a sheet presses them: half a blade's play on a
green cut at 3 mm (common practice, no source)."""
HEAD_FROM = 0.78
"""A tee's cup takes the top fifth of what shows."""
_FADE = 0.15
"""How much a post's strength may change from foot to top; a cup that is brighter than the shank is not to
pass for it, else the foot seems to reach farther down (measured on filmed scenes)."""
_LEAN_PX = 0.7
"""How far a post's top may stand off the plumb line over its foot: tees are pushed in by hand."""
_FOOT_FLOOR_PX = (0.2, 0.45)
"""What the fit can claim at best, across and along the post: grass blades hide the foot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Post:
    """One post."""

    foot_px: tuple[float, float]
    cov_px2: Floats
    """Shape (2, 2), of the foot."""
    width_px: float
    """Of the strip at half its height."""
    height_m: float
    contrast: float


def _differences(still: StillPicture, box: tuple[int, int, int, int]) -> NDArray[np.float32]:
    """Luma, Cb, Cr less the grass around, each over its own spread: shape (h, w, 3)."""
    x0, y0, x1, y1 = box
    height, width = still.luma.shape
    fx, fy = width // still.cb.shape[1], height // still.cb.shape[0]
    parts = []
    luma = still.luma[y0:y1, x0:x1].astype(np.float32)
    planes: list[NDArray[np.float32]] = [luma]
    for plane in (still.cb, still.cr):
        planes.append(full_size(plane[y0 // fy : y1 // fy, x0 // fx : x1 // fx], luma.shape))
    for i, values in enumerate(planes):
        around = cv2.medianBlur(np.clip(values, 0, 255).astype(np.uint8), 41).astype(np.float32)
        difference = values - around
        spread = 1.4826 * float(np.median(np.abs(difference))) + (2.0 if i == 0 else 0.8)
        parts.append(difference / spread)
    return np.dstack(parts)


def find_posts(still: StillPicture, camera: Camera, region_m: Floats) -> list[Post]:
    """All posts that stand in a region of the plane.

    ``region_m``: shape (n, 2), corners of a convex region.
    """
    height, width = still.luma.shape
    corners = np.vstack(
        [camera.project(np.column_stack([region_m, np.full(len(region_m), z)])) for z in (0.0, _HEIGHT_M[1])]
    )
    if not np.isfinite(corners).all():
        return []
    x0, y0 = (np.floor(corners.min(axis=0)).astype(int) - 12) // 2 * 2
    x1, y1 = (np.ceil(corners.max(axis=0)).astype(int) + 12) // 2 * 2
    x0, y0, x1, y1 = max(0, x0), max(0, y0), min(width // 2 * 2, x1), min(height // 2 * 2, y1)
    if x1 - x0 < 24 or y1 - y0 < 24:
        return []
    box = (int(x0), int(y0), int(x1), int(y1))
    differences = _differences(still, box)
    labels = _patches(_strength(differences))
    posts = []
    for i in range(1, int(labels.max()) + 1):
        rows, columns = np.nonzero(labels == i)
        if len(rows) < 6:
            continue
        x, y = int(columns.min()), int(rows.min())
        w, h = int(columns.max()) - x + 1, int(rows.max()) - y + 1
        foot = np.array([x0 + x + w / 2, y0 + y + h - 1.0])
        at = camera.to_plane(foot)
        if not np.isfinite(at).all() or not _inside(at, region_m):
            continue
        px = camera.px_per_m([at[0], at[1], 0.0])
        top = camera.project([at[0], at[1], 0.03]) - camera.project([at[0], at[1], 0.0])
        per_m = float(np.hypot(*top)) / 0.03
        if not (_HEIGHT_M[0] * per_m < h < _HEIGHT_M[1] * per_m + 3 and w < _WIDEST_M * px + 4):
            continue
        if h < 1.3 * w:
            continue
        posts += _fit_posts(differences, labels, i, (x, y, w, h), (x0, y0), camera)
    return [post for post in posts if _HEIGHT_M[0] < post.height_m < _HEIGHT_M[1]]


def _patches(strength: NDArray[np.float32]) -> NDArray[np.int32]:
    """Number the patches that are unlike grass; each is cut down to a share of its own strongest pixel,
    so that the blur between two bright posts does not join them."""
    count, labels = cv2.connectedComponents((strength > _CONTRAST).astype(np.uint8), connectivity=8)
    peaks = np.zeros(count, np.float32)
    np.maximum.at(peaks, np.asarray(labels, dtype=np.intp).ravel(), strength.ravel())
    cut = np.maximum(_CONTRAST, _PEAK_SHARE * peaks)[labels]
    return np.asarray(cv2.connectedComponents(((strength > cut) & (labels > 0)).astype(np.uint8))[1])


def _strength(differences: NDArray[np.float32]) -> NDArray[np.float32]:
    """How unlike grass; what is only darker is shadow and does not count."""
    brighter = np.maximum(differences[..., 0], 0)
    return np.asarray(np.sqrt(brighter**2 + differences[..., 1] ** 2 + differences[..., 2] ** 2))


def _inside(at: Floats, region_m: Floats) -> bool:
    return cv2.pointPolygonTest(region_m.astype(np.float32), (float(at[0]), float(at[1])), False) >= 0


def _fit_posts(
    differences: NDArray[np.float32],
    labels: NDArray[np.int32],
    own: int,
    box: tuple[int, int, int, int],
    offset: tuple[int, int],
    camera: Camera,
) -> list[Post]:
    """Fit one patch as one post and, where it is tall, as two of one make, the near before the far."""
    x, y, w, h = box
    margin = 5
    rows = slice(max(0, y - margin), min(labels.shape[0], y + h + margin))
    columns = slice(max(0, x - margin), min(labels.shape[1], x + w + margin))
    patch, owner = differences[rows, columns], labels[rows, columns]
    mine = owner == own
    value, size = _share_of_post(patch, patch[mine])
    if size < _CONTRAST:
        return []
    # pixels of another post close by are left out
    use = cv2.dilate(((owner > 0) & ~mine).astype(np.uint8), np.ones((3, 3))) == 0
    grid = np.moveaxis(np.mgrid[rows, columns][::-1].astype(float), 0, -1) + np.array(offset, dtype=float)
    foot_px = np.array([offset[0] + x + (w - 1) / 2, offset[1] + y + h - 1.0])
    foot_m = camera.to_plane(foot_px)
    up = camera.project([foot_m[0], foot_m[1], 0.03]) - camera.project([foot_m[0], foot_m[1], 0.0])
    per_m = float(np.hypot(*up)) / 0.03
    up = up / np.hypot(*up)
    shank_px = SHANK_M * camera.px_per_m([foot_m[0], foot_m[1], 0.0])
    view = _View(grid[use], value[use], up, max(0.06, 1.0 / size), shank_px)
    starts = [([foot_px], float(h))]
    if h > _TALL_M * per_m:
        top = mine[: h // 3 + margin].nonzero()
        top_x = offset[0] + columns.start + float(np.mean(top[1]))
        for height_m in (0.026, 0.034, 0.042):
            rise = height_m * per_m
            if rise < h - 2:
                far = np.array([top_x, offset[1] + y - 0.5]) - up * rise
                low = mine[-(h // 4 + margin) :].nonzero()
                near = np.array([offset[0] + columns.start + float(np.mean(low[1])), foot_px[1]])
                starts.append(([near, far], rise))
    strips, misfit = _fit_strips(view, *starts[0])
    for feet, rise in starts[1:]:
        two, two_misfit = _fit_strips(view, feet, rise)
        ground = camera.to_plane(np.array(two.feet))
        if two_misfit < _TWO_BETTER * misfit and np.hypot(*(ground[0] - ground[1])) > _CLOSEST_M:
            strips, misfit = two, two_misfit / _TWO_BETTER
    if misfit > 0.4:
        return []
    return [
        Post(
            foot_px=_axis_px(foot, camera),
            cov_px2=cov,
            width_px=strips.width_px,
            height_m=strips.height_px / per_m,
            contrast=size,
        )
        for foot, cov in zip(strips.feet, strips.covs, strict=True)
    ]


def _axis_px(foot: Floats, camera: Camera) -> tuple[float, float]:
    """The foot of a post's axis: what shows is the near side of its shank, half its width before it, down
    to the tips of the blades."""
    near_m = camera.to_plane(foot, _BLADES_M)
    away = near_m - camera.centre_m[:2]
    axis_m = near_m + away * (SHANK_M / 2 / float(np.hypot(*away)))
    at = camera.project([axis_m[0], axis_m[1], 0.0])
    return float(at[0]), float(at[1])


def _share_of_post(patch: NDArray[np.float32], strong: NDArray[np.float32]) -> tuple[Floats, float]:
    """How much of each pixel is post, 1 on it and 0 on grass, and the contrast that rests on."""
    order = np.argsort(-np.linalg.norm(strong, axis=1))[: max(4, len(strong) // 2)]
    colour = np.median(strong[order], axis=0)
    colour[0] = max(colour[0], 0.0)  # a post in its own shade is known by its hue: its shadow is dark, too
    size = float(np.linalg.norm(colour))
    return np.asarray(patch @ (colour / max(size, 1e-6) ** 2), dtype=float), size


@dataclass(frozen=True, slots=True)
class _View:
    """A patch to fit, pixel by pixel: places, (n, 2), share of post, (n,); the upward direction, noise."""

    at_px: Floats
    value: Floats
    up: Floats
    noise: float
    shank_px: float
    """Width of a post as it should look."""


@dataclass(frozen=True, slots=True)
class _Strips:
    feet: list[Floats]
    covs: list[Floats]
    width_px: float
    height_px: float


def _fit_strips(view: _View, feet: list[Floats], rise: float) -> tuple[_Strips, float]:
    """Fit upright strips of one make; returns them and the root mean square misfit."""
    n = len(feet)
    up, side = view.up, np.array([-view.up[1], view.up[0]])
    above, beside = view.at_px @ up, view.at_px @ side

    def model(p: Floats) -> Floats:
        """Share of post at each pixel, shape (..., m), for parameters of shape (..., k)."""
        height, lean, low, high, head, full, fade, blur = np.moveaxis(p[..., 2 * n :, None], -2, 0)
        blur = np.clip(blur, 0.3, 3.0)
        tall = np.maximum(height, 1.0)
        free: Floats | float = 1.0
        for i in range(n):
            foot = p[..., 2 * i : 2 * i + 2]
            up_px = above - (foot @ up)[..., None]
            share = np.clip(up_px / tall, 0, 1)
            across = beside - (foot @ side)[..., None] - lean * share
            cup = ndtr((share - HEAD_FROM) * tall / blur)
            half = np.maximum(low + (high - low) * share + head * cup, 0.2) / 2
            body = ndtr((across + half) / blur) - ndtr((across - half) / blur)
            ends = ndtr(up_px / blur) - ndtr((up_px - height) / blur)
            free = free * (1 - np.clip((full + fade * (share - 0.5)) * body * ends, 0, 1.5))
        return np.asarray(1 - free)

    def residuals(p: Floats) -> Floats:
        lean, low, high, head, full, fade, blur = np.moveaxis(p[..., 2 * n + 1 :], -1, 0)
        shape = [(low - view.shank_px) / (0.3 * view.shank_px), (high - low) / 0.5, (head - 0.8) / 1.0]
        priors = [lean / _LEAN_PX, *shape, (full - 1) / 0.5, fade / _FADE, (blur - _BLUR_PX) / 0.5]
        return np.concatenate([(model(p) - view.value) / view.noise, np.stack(priors, axis=-1)], axis=-1)

    def jacobian(p: Floats) -> Floats:
        """All parameters nudged at once: much faster than one by one."""
        return np.asarray((residuals(p + _NUDGE * np.eye(len(p))) - residuals(p)).T / _NUDGE)

    start = np.concatenate(
        [np.concatenate(feet), [rise, 0.0, view.shank_px, view.shank_px, 0.5, 1.0, 0.0, _BLUR_PX]]
    )
    fit = least_squares(
        residuals, start, jacobian, loss="soft_l1", f_scale=2.0, ftol=1e-5, xtol=1e-5, max_nfev=60
    )
    misfit = float(np.sqrt(np.mean((model(fit.x) - view.value) ** 2)))
    cov = np.linalg.pinv(fit.jac.T @ fit.jac) * 3.0 * max(1.0, (misfit / view.noise) ** 2)
    floor = np.outer(side, side) * _FOOT_FLOOR_PX[0] ** 2 + np.outer(up, up) * _FOOT_FLOOR_PX[1] ** 2
    strips = _Strips(
        feet=list(fit.x[: 2 * n].reshape(n, 2)),
        covs=[cov[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] + floor for i in range(n)],
        width_px=float(abs(fit.x[2 * n + 2] + fit.x[2 * n + 3]) / 2),
        height_px=float(fit.x[2 * n]),
    )
    return strips, misfit
