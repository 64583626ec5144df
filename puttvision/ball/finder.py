"""Finding balls: bright round patches of the size that a ball has at that place on the plane."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import islice

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.bright_part import ALL_WHOLE, BrightParts
from puttvision.ball.disc import BallFit
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]


SCALE = 2
"""Balls at rest are looked for in a picture of half the size."""
REACH_PX = 4.5
"""The middle of a bright patch lies no farther from a ball's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinderSettings:
    """Numbers of the search."""

    brighter_by: int = 24
    """Luma above the surrounding grass that a ball has at least; an orange ball in shade has about 30."""
    farthest_m: float = 13.0
    """No ball is looked for beyond; a 40 ft putt is 12.2 m."""
    smallest_px: float = 3.4
    """A ball of a smaller radius is too small to be told from a speck."""
    most: int = 24
    """No more candidates than this are fitted in one picture, the roundest first."""


def ball_radii_px(camera: Camera, at_px: Floats) -> Floats:
    """Radii in pixels of balls at places in the picture, (n, 2) to (n,); NaN above the horizon."""
    at_m = camera.to_plane(at_px, BALL_RADIUS_M)
    away = np.column_stack([at_m, np.full(len(at_m), BALL_RADIUS_M)]) - camera.centre_m
    return np.asarray(BALL_RADIUS_M * camera.f_px / np.maximum(away @ camera.rotation()[2], 1e-6))


def ball_radius_px(camera: Camera, at_px: Floats) -> float:
    """Radius in pixels of a ball at one place in the picture, shape (2,); NaN above the horizon."""
    x, y = camera.to_plane(at_px, BALL_RADIUS_M).tolist()
    return BALL_RADIUS_M * camera.px_per_m([x, y, BALL_RADIUS_M])


def field(
    camera: Camera,
    shape: tuple[int, int],
    settings: FinderSettings | None = None,
    pages_px: Sequence[Floats] = (),
) -> Plane:
    """Where in a picture of ``shape`` a ball can be looked for, 1 or 0, at ``1 / SCALE`` of its size.

    ``pages_px``: outlines (n, 2) of printed pages, where none is looked for.
    """
    scale = SCALE
    settings = settings or FinderSettings()
    height, width = shape[0] // scale, shape[1] // scale
    step = 8
    v, u = np.mgrid[0 : height + step : step, 0 : width + step : step]
    at_px = (np.column_stack([u.ravel(), v.ravel()]) + 0.5) * scale - 0.5
    at_m = camera.to_plane(at_px, BALL_RADIUS_M)
    near = np.hypot(at_m[:, 0], at_m[:, 1]) < settings.farthest_m
    large = ball_radii_px(camera, at_px) > settings.smallest_px
    coarse = (near & large).reshape(u.shape).astype(np.uint8)
    full = cv2.resize(coarse, (u.shape[1] * step, u.shape[0] * step), interpolation=cv2.INTER_NEAREST)
    within = np.array(full[:height, :width], dtype=np.uint8)
    for outline in pages_px:
        if np.isfinite(outline).all():
            cv2.fillConvexPoly(within, np.round(outline / scale).astype(np.int32), 0)
    return within


def round_patches(
    mask: Plane,
    offset_px: tuple[float, float],
    scale: float,
    camera: Camera,
    settings: FinderSettings,
    part: BrightParts = ALL_WHOLE,
) -> list[Floats]:
    """Middles of balls that patches in a mask may be, in full picture pixels, the likeliest first.

    ``mask``: shape (h, w), non-zero where something is bright, at ``scale`` full pixels a mask pixel,
    its top left at ``offset_px``. ``part``: what of a ball is bright. A patch larger than a ball is searched
    for round bulges, so that a ball that touches a shoe or a putter is still found.
    """
    mask, (left, top) = _lit_part(mask)
    offset_px = (offset_px[0] + left * scale, offset_px[1] + top * scale)
    _, labels, stats, centroids = cv2.connectedComponentsWithStats(mask, connectivity=4)
    stats, centroids = stats[1:], centroids[1:]
    kept = stats[:, cv2.CC_STAT_AREA] >= 3
    numbers = np.nonzero(kept)[0]
    if not len(numbers):
        return []
    stats, centroids = stats[kept], centroids[kept]
    middles = np.array(offset_px) + (centroids + 0.5) * scale - 0.5
    radii = ball_radii_px(camera, middles) / scale
    ratio = stats[:, cv2.CC_STAT_AREA] / np.maximum(np.pi * radii * radii, 1e-6)
    longest = np.maximum(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    fine = np.isfinite(radii) & (radii * scale > settings.smallest_px)
    bright = part.share(middles[:, 0])
    single = fine & (ratio > 0.35 * bright) & (ratio < 1.9) & (longest < 3.2 * radii + 2)
    nearness = -np.log(np.maximum(radii, 1e-6))  # a speck far away is the likeliest to look like a ball
    unlike = np.minimum(np.abs(np.log(ratio)), np.abs(np.log(ratio / bright)))
    balls = middles - part.off_px(middles[:, 0], ratio, radii * scale)
    found = [(float(unlike[i]) + nearness[i], balls[i]) for i in np.nonzero(single)[0]]
    large = np.nonzero(fine & ~single & (ratio >= 1.3) & (ratio < 400))[0]
    if len(large):
        depth = cv2.distanceTransform(mask, cv2.DIST_L2, 3)
        for i in large:
            x, y, w, h = (int(value) for value in stats[i][:4])
            own = labels[y : y + h, x : x + w] == numbers[i] + 1
            own_depth = np.where(own, depth[y : y + h, x : x + w], 0.0).astype(np.float32)
            peak = (
                (own_depth >= cv2.dilate(own_depth, np.ones((5, 5))))
                & (own_depth > 0.6 * radii[i])
                & (own_depth < 1.5 * radii[i])
            )
            rows, columns = np.nonzero(peak)
            for row, column in list(zip(rows, columns, strict=True))[:6]:
                at = np.array(offset_px) + (np.array([x + column, y + row]) + 0.5) * scale - 0.5
                found.append((0.5 + abs(float(own_depth[row, column]) / radii[i] - 1) + nearness[i], at))
    found.sort(key=lambda item: item[0])
    return [at for _, at in found]


def _lit_part(mask: Plane) -> tuple[Plane, tuple[int, int]]:
    """The box round all that is not zero in a mask, most often a small part of it, and its top left."""
    x, y, w, h = cv2.boundingRect(mask)
    left, top = max(0, x - 1), max(0, y - 1)  # with the dark beside it, from which depths are measured
    return np.ascontiguousarray(mask[top : y + h + 1, left : x + w + 1]), (left, top)


def shrunk(luma: Plane) -> Plane:
    """A picture at ``1 / SCALE`` of its size, shape (h // SCALE, w // SCALE)."""
    height, width = luma.shape
    size = (width // SCALE, height // SCALE)
    return np.asarray(cv2.resize(luma, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def about_changes(small: Plane, before: Plane, changed_luma: int, also_px: Sequence[Floats] = ()) -> Plane:
    """Where two pictures, shrunk, are unlike, and within a ball's width around: 1 or 0, shape (h, w).

    ``also_px``: places in the whole picture that count as unlike.
    """
    changed = cv2.threshold(cv2.absdiff(small, before), changed_luma, 255, cv2.THRESH_BINARY)[1]
    height, width = small.shape
    blocks = cv2.resize(changed, (-(-width // _BLOCK), -(-height // _BLOCK)), interpolation=cv2.INTER_AREA)
    for at_px in also_px:
        u, v = (np.asarray(at_px) / (SCALE * _BLOCK)).astype(int)
        blocks[min(max(v, 0), blocks.shape[0] - 1), min(max(u, 0), blocks.shape[1] - 1)] = 255
    near = cv2.dilate((blocks > 0).astype(np.uint8), np.ones((2 * _BLOCKS_AROUND + 1,) * 2, np.uint8))
    return np.asarray(cv2.resize(near, (width, height), interpolation=cv2.INTER_NEAREST), dtype=np.uint8)


_BLOCK, _BLOCKS_AROUND = 16, 2
"""Two blocks on either side are 64 pixels of the whole picture: more than a ball is wide."""


def bright_mask(small: Plane, settings: FinderSettings) -> Plane:
    """Where a picture, shrunk, is brighter than its surroundings."""
    around = cv2.blur(small, (41, 41))
    return np.asarray(
        cv2.threshold(cv2.subtract(small, around), settings.brighter_by, 1, cv2.THRESH_BINARY)[1]
    )


@dataclass(frozen=True, slots=True)
class Find:
    """What one picture gave."""

    balls: list[BallFit]
    others: list[NoBall]
    """Bright patches that are no balls."""
    doubtful: list[NoBall]
    """Those that are nearly balls and may be in a later picture."""
    waiting_px: list[Floats]
    """Middles of those whose turn did not come."""


@dataclass(frozen=True, slots=True)
class NoBall:
    """A bright patch that was looked at and is no ball as it looks."""

    at_px: Floats
    reach_px: int
    look: Plane
    """What it looked like: so many pixels around its middle, a ball and its edge."""

    def same(self, luma: Plane, at_px: Floats) -> bool:
        """Whether a patch here is the same one, unchanged."""
        if abs(at_px[0] - self.at_px[0]) > 4 or abs(at_px[1] - self.at_px[1]) > 4:
            return False
        now = _look(luma, self.at_px, self.reach_px)
        return now.shape == self.look.shape and float(cv2.absdiff(now, self.look).mean()) < _SAME_LUMA


def no_ball(luma: Plane, camera: Camera, at_px: Floats) -> NoBall:
    """A patch as it looks now."""
    reach_px = int(ball_radius_px(camera, at_px)) + _LOOK_BEYOND_PX
    return NoBall(at_px, reach_px, _look(luma, at_px, reach_px).copy())


_SAME_LUMA = 10.0
_LOOK_BEYOND_PX = 3


def _look(luma: Plane, at_px: Floats, reach_px: int) -> Plane:
    x, y = int(at_px[0]), int(at_px[1])
    return luma[max(0, y - reach_px) : y + reach_px, max(0, x - reach_px) : x + reach_px]


def find_balls(
    luma: Plane,
    camera: Camera,
    fit: Callable[[Floats], BallFit | None],
    *,
    known_m: Sequence[tuple[float, float]] = (),
    others: Sequence[NoBall] = (),
    settings: FinderSettings | None = None,
    within: Plane | None = None,
    fresh: Plane | None = None,
    small: Plane | None = None,
    part: BrightParts = ALL_WHOLE,
    off_grass: Plane | None = None,
) -> Find:
    """All balls at rest in one picture, save those at places known already.

    Parameters
    ----------
    luma : shape (h, w)
    fit : the ball near a place on the plane, shape (2,), to within ``REACH_PX``, if one is there
    known_m : places on the plane that need no second look
    others : patches that were looked at with care before and are no balls
    within : ``field``, made once for a clip
    fresh : where a ball may have come since the last search, as ``within``; None for everywhere
    small : ``shrunk`` luma, where it is at hand
    part : what of a ball is bright under this clip's light
    off_grass : how far the picture's colour is from the grass's, shrunk, where luma may show no ball
    """
    settings = settings or FinderSettings()
    found: list[BallFit] = []
    rejected: list[NoBall] = []
    doubtful: list[NoBall] = []
    if within is None:
        within = field(camera, (luma.shape[0], luma.shape[1]), settings)
    searched = within if fresh is None else np.asarray(cv2.bitwise_and(within, fresh), np.uint8)
    patches = _patches(shrunk(luma) if small is None else small, searched, camera, settings, part)
    if off_grass is not None:  # what luma may not show comes first
        other = _patches(off_grass, searched, camera, settings, ALL_WHOLE)
        patches = other + [at_px for at_px in patches if not _near(at_px, other, SCALE)]
    # what is known takes no ball's turn: under a low sun two dozen flecks on the grass look more like one
    due = (
        at_px
        for at_px in patches
        if not _near(camera.to_plane(at_px, BALL_RADIUS_M), known_m, BALL_RADIUS_M)
        and not any(other.same(luma, at_px) for other in others)
    )
    for at_px in islice(due, settings.most):
        ball = fit(camera.to_plane(at_px, BALL_RADIUS_M))
        if ball is None or not ball.clear:
            (rejected if ball is None else doubtful).append(no_ball(luma, camera, at_px))
        elif not _near(ball.at_m, [other.at_m for other in found], BALL_RADIUS_M):
            found.append(ball)
    return Find(found, rejected, doubtful, list(due))


def _patches(
    small: Plane, searched: Plane, camera: Camera, settings: FinderSettings, part: BrightParts
) -> list[Floats]:
    """Middles of what stands out like a ball in a shrunk picture, in whole pixels, the likeliest first."""
    mask = np.asarray(cv2.bitwise_and(bright_mask(small, settings), searched), np.uint8)
    return round_patches(mask, (0.0, 0.0), SCALE, camera, settings, part)


def _near(
    at: tuple[float, float] | Floats, places: Sequence[tuple[float, float] | Floats], reach: float
) -> bool:
    return any(abs(at[0] - x) < reach and abs(at[1] - y) < reach for x, y in places)
