"""Where a hole may be: dark patches of its size and shape, and patches where grass lacks.

A candidate is a small dark patch; its outline must fit the projected circle all round (``hole.fit_rim``). In
a picture of grass colour a hole is dark whatever the light; where the grass has none, or the hole is a few
pixels high, its darkness must tell.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.green.bare import grass_plane
from puttvision.green.camera import Camera, circle_on_plane
from puttvision.green.edges import linear_light, outward_normals
from puttvision.green.hole import Hole, fit_rim
from puttvision.physics import HOLE_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]


def _darkness_score(picture: Plane, camera: Camera, hole: Hole, gamma: float) -> float:
    """How much darker the far half of the inside is than the green around, 0 to 1, times rim seen."""
    centre = camera.to_plane(hole.at_px)
    far = centre + (0.0, 0.55 * HOLE_RADIUS_M) * np.ones(2)
    around = circle_on_plane(camera, centre, 1.6 * HOLE_RADIUS_M, n=48)
    inside = circle_on_plane(camera, far, 0.3 * HOLE_RADIUS_M, n=24)

    def level(points: Floats) -> float:
        rows = np.clip(np.round(points[:, 1]).astype(int), 0, picture.shape[0] - 1)
        columns = np.clip(np.round(points[:, 0]).astype(int), 0, picture.shape[1] - 1)
        return float(np.median(linear_light(gamma)[picture[rows, columns]]))

    outside = level(around)
    return max(0.0, (outside - level(inside)) / max(outside, 1e-3)) * hole.rim_seen


def _drop_at_rim(picture: Plane, camera: Camera, hole: Hole, gamma: float) -> float:
    """How far light falls over the rim, outside to inside, mean of all round it, over the light outside."""
    ring = circle_on_plane(camera, camera.to_plane(hole.at_px), HOLE_RADIUS_M, n=_RING_POINTS)
    normal = outward_normals(ring)
    table = linear_light(gamma)

    def at(beyond_px: float) -> Floats:
        places = (ring + normal * beyond_px).astype(np.float32)
        return np.asarray(
            table[cv2.remap(picture, places[:, :1], places[:, 1:], cv2.INTER_LINEAR)], dtype=float
        )

    outside, inside = at(_BESIDE_PX), at(-_BESIDE_PX)
    return float(np.clip((outside - inside) / max(float(np.median(outside)), 1e-3), 0.0, 1.0).mean())


_RING_POINTS = 72
_BESIDE_PX = 1.25
"""So far from the rim its edge's blur ends."""


def _darkest(
    picture: Plane, camera: Camera, centre_m: Floats, wide_px: float, tall_px: float
) -> tuple[float, float]:
    """The pixel near a place on the plane where the rim's inside is darkest against what is just outside."""

    def rings(*shares: float) -> Floats:
        return np.vstack([circle_on_plane(camera, centre_m, s * HOLE_RADIUS_M, n=24) for s in shares])

    inside, outside = rings(0.25, 0.6, 0.85), rings(1.2, 1.4)
    across = np.arange(-0.3 * wide_px, 0.3 * wide_px + 0.5)
    down = np.arange(-0.7 * tall_px, 0.7 * tall_px + 0.5)
    moves = np.stack(np.meshgrid(across, down), axis=-1).reshape(-1, 1, 2)

    def mean(points: Floats) -> Floats:
        at = np.round(points + moves).astype(int)
        rows = np.clip(at[..., 1], 0, picture.shape[0] - 1)
        columns = np.clip(at[..., 0], 0, picture.shape[1] - 1)
        return np.asarray(picture[rows, columns].mean(axis=1))

    best = moves[int(np.argmax(mean(outside) - mean(inside))), 0]
    at = camera.project([centre_m[0], centre_m[1], 0.0]) + best
    return float(at[0]), float(at[1])


def _dark_patches(picture: Plane, share: float) -> list[tuple[int, int, int, int]]:
    """x, y, width, height of patches darker than that share of what is round them."""
    dark = (picture.astype(np.float32) < share * cv2.blur(picture, (61, 61))).astype(np.uint8)
    dark = np.asarray(cv2.morphologyEx(dark, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8)), dtype=np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    return [(int(x), int(y), int(w), int(h)) for x, y, w, h, _ in stats[1:]]


_DARK, _HALF_DARK = 0.62, 0.8
"""Luma of a hole's inside over the grass's: in shade, and where it is far off or the sun shines into it."""
_LEAST_QUALITY, _SURE_QUALITY = 0.22, 0.45
_LEAST_HALF_DARK, _LIKE_SIZE = 0.3, 0.02
"""Dark patches of grass and shadow reach a quality of 0.19 and half-dark ones 0.25 (on filmed scenes)."""
_STILL_GRASS, _LEAST_BARE = 0.6, 0.15
"""Where there is this share of the grass's chroma within a rim it is grass in shadow (0.62 to 1 on filmed
scenes, holes up to 0.55, those of 20 pixels and more up to 0.3); what is not may be less dark."""
_SURE_BARE, _SURE_SEEN = 0.4, 0.8
"""Quality and rim seen, in the picture of grass colour, of what is surely a hole (0.45 and 0.96 and more on
filmed scenes)."""
_LEAST_DARKER = 0.08
"""Quality times the fall of light over the rim: balls in a heap and other bare things reach 0.11 where a hole
has 0.37, and a hole with the sun right in it 0.15."""
_AGREE_PX, _AGREE_SHARE, _U_COLOUR_PX = 1.2, 0.035, 0.6
"""Colour is half as sharp as luma: it decides only where luma's rim lies farther off, in pixels or as a share
of the hole's width."""


def find_holes(
    picture: Plane, camera: Camera, gamma: float, chroma: tuple[Plane, Plane] | None = None
) -> list[Hole]:
    """Every place that looks like a hole, best first.

    ``picture``: shape (h, w), an average of many frames, so that what moves is gone; ``chroma``: its Cb and
    Cr, each of a whole fraction of its size, None where colour tells nothing.
    """
    grass = None if chroma is None else grass_plane(chroma, (picture.shape[0], picture.shape[1]))
    found = [] if grass is None else _bare(picture, grass, camera, gamma)
    if not found:
        found = _holes(picture, camera, gamma, grass, _DARK)
        if not any(quality > _SURE_QUALITY for quality, _ in found):
            found += _holes(picture, camera, gamma, grass, _HALF_DARK)
    found.sort(key=lambda item: -item[0])
    unique: list[Hole] = []
    for _, hole in found:
        if all(np.hypot(hole.at_px[0] - o.at_px[0], hole.at_px[1] - o.at_px[1]) > 5 for o in unique):
            unique.append(hole)
    return unique


def _bare(picture: Plane, grass: Plane, camera: Camera, gamma: float) -> list[tuple[float, Hole]]:
    """Holes surely seen in colour and darker than the grass, each with its place in luma where both agree."""
    found = []
    for quality, coloured in _candidates(grass, camera, 1.0, _DARK):
        darker = _drop_at_rim(picture, camera, coloured, gamma)
        if quality < _SURE_BARE or coloured.rim_seen < _SURE_SEEN or quality * darker < _LEAST_DARKER:
            continue
        sharp = fit_rim(picture, camera, camera.to_plane(coloured.at_px), gamma)
        wide_px = float(np.ptp(circle_on_plane(camera, camera.to_plane(coloured.at_px), HOLE_RADIUS_M)[:, 0]))
        agree_px = max(_AGREE_PX, _AGREE_SHARE * wide_px)
        if sharp is None or np.hypot(*np.subtract(sharp.at_px, coloured.at_px)) > agree_px:
            sharp = replace(coloured, cov_px2=coloured.cov_px2 + np.eye(2) * _U_COLOUR_PX**2)
        found.append((quality * darker, sharp))
    return found


def _holes(
    picture: Plane, camera: Camera, gamma: float, grass: Plane | None, dark: float
) -> list[tuple[float, Hole]]:
    """Dark patches that pass for holes, with their quality."""
    passed = []
    for quality, hole in _candidates(picture, camera, gamma, dark):
        like_size = dark == _DARK or abs(hole.radius_ratio - 1) < _LIKE_SIZE
        if grass is None:
            good = quality > (_LEAST_QUALITY if dark == _DARK else _LEAST_HALF_DARK)
        else:
            good = quality > _LEAST_BARE and _grass_within(grass, camera, hole) < _STILL_GRASS
        if good and like_size:
            passed.append((quality, hole))
    return passed


def _grass_within(grass: Plane, camera: Camera, hole: Hole) -> float:
    """Grass colour within the rim over that round it."""
    centre = camera.to_plane(hole.at_px)

    def mean(*shares: float) -> float:
        rings = [circle_on_plane(camera, centre, share * HOLE_RADIUS_M, n=24) for share in shares]
        at = np.vstack(rings).astype(np.float32)
        return float(cv2.remap(grass, at[:, :1], at[:, 1:], cv2.INTER_LINEAR).mean()) - 16.0

    return mean(0.2, 0.45, 0.7) / max(mean(1.3, 1.5), 1.0)


def _candidates(picture: Plane, camera: Camera, gamma: float, dark: float) -> list[tuple[float, Hole]]:
    """Rims fitted where it is dark, with how well each looks like a hole's: how dark, and how much of the rim
    is seen, twice over."""
    height, width = picture.shape
    found: list[tuple[float, Hole]] = []
    for x, y, w, h in _dark_patches(picture, dark):
        at = camera.to_plane((x + w / 2, y + h / 2))
        if not np.isfinite(at).all() or np.hypot(*at) > 15:
            continue
        ring = circle_on_plane(camera, at, HOLE_RADIUS_M, n=32)
        if not np.isfinite(ring).all():
            continue
        wide, tall = np.ptp(ring[:, 0]), np.ptp(ring[:, 1])
        if wide < 8 or not (0.45 * wide < w < 1.5 * wide and 0.2 * tall < h < 1.6 * tall):
            continue
        if ring.min() < 2 or ring[:, 0].max() > width - 3 or ring[:, 1].max() > height - 3:
            continue
        best: tuple[float, float, Hole] | None = None
        # the dark patch is the far crescent or the whole inside: try the rim hung from its top, and
        # where a whole hole would be darkest against what is round it
        hung = [(x + w / 2, y + drop) for drop in (0.5 * tall, h / 2, 0.35 * tall)]
        # under a low sun one end of it is as bright as grass
        hung += [(end, y + tall / 2) for end in (x + wide / 2, x + w - wide / 2)]
        for place in (*hung, _darkest(picture, camera, at, float(wide), float(tall))):
            guess = camera.to_plane(place)
            hole = fit_rim(picture, camera, guess, gamma)
            if hole is None or abs(hole.radius_ratio - 1) > 0.08:
                continue
            score = _darkness_score(picture, camera, hole, gamma)
            quality = score * hole.rim_seen
            here = quality * _drop_at_rim(picture, camera, hole, gamma)
            if best is None or here > best[0]:
                best = (here, quality, hole)
        if best:
            found.append(best[1:])
    return found
