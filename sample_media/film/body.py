"""The player's body: rounded cones and ellipsoids blended into one surface, found by marching rays.

Legs, trunk and shoes hardly move during a clip, so they are rendered once with shadows and creases of
their own; arms and putter move and are drawn for every frame elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_media.film.figure import Cone, Egg, Part, parts
from sample_media.film.optics import View
from sample_media.film.scene import Golfer

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Layer:
    """Something in front of the backdrop, premultiplied, in the box whose top left pixel is (left, top)."""

    left: int
    top: int
    sky: Image
    sun: Image
    alpha: Image
    depth: Image
    """metres along the optical axis; infinite where there is nothing"""


# ---------------------------------------------------------------- distance to the surface
def _cone(p: Image, c: Cone) -> Image:
    a, b = np.asarray(c.a, np.float32), np.asarray(c.b, np.float32)
    ab = b - a
    rel = p - a
    t = np.clip(rel @ ab / np.float32(ab @ ab), 0, 1)
    off = rel - t[:, None] * ab
    return np.sqrt(np.einsum("ij,ij->i", off, off)) - (c.ra + (c.rb - c.ra) * t).astype(np.float32)


def _egg(p: Image, e: Egg) -> Image:
    rel = p - np.asarray(e.centre, np.float32)
    if e.turn_rad:
        k, s = np.float32(np.cos(e.turn_rad)), np.float32(np.sin(e.turn_rad))
        rel = np.stack([rel[:, 0] * k + rel[:, 1] * s, rel[:, 1] * k - rel[:, 0] * s, rel[:, 2]], axis=-1)
    q = rel / np.asarray(e.radii, np.float32)
    k0 = np.sqrt(np.einsum("ij,ij->i", q, q)) + np.float32(1e-9)
    q = q / np.asarray(e.radii, np.float32)
    k1 = np.sqrt(np.einsum("ij,ij->i", q, q)) + np.float32(1e-9)
    return k0 * (k0 - 1) / k1


def _creases(p: Image) -> Image:
    """Folds of cloth: a few waves that bend one another, between -1 and 1."""
    x, y, z = p[:, 0], p[:, 1], p[:, 2]
    bend = np.sin(7 * z + 11 * x + 1.7) + np.sin(9 * y - 6 * z) + 0.5 * np.sin(23 * x + 19 * y - 8 * z)
    slack = 0.5 + 0.5 * np.sin(6.3 * z + 4.1 * x - 5.2 * y + 0.8 * bend)  # folds gather in places
    long = np.sin(24 * x - 21 * y + 7 * z + 2.6 * bend)
    across = np.sin(27 * z + 19 * x + 2.9 * bend)
    return (0.45 * long + 0.55 * slack * across).astype(np.float32)


def distance(p: Image, figure: tuple[Part, ...], fine: bool = False) -> tuple[Image, NDArray[np.int8]]:
    """Distance to the figure and the number of the nearest part, at points of shape (n, 3)."""
    best = np.full(len(p), 1e3, np.float32)
    which = np.zeros(len(p), np.int8)
    for i, part in enumerate(figure):
        d: Image | None = None
        for shape in part.shapes:
            e = _cone(p, shape) if isinstance(shape, Cone) else _egg(p, shape)
            if d is None:
                d = e
            else:
                h = np.maximum(part.blend_m - np.abs(d - e), 0) / np.float32(part.blend_m)
                d = np.minimum(d, e) - h * h * np.float32(part.blend_m * 0.25)
        assert d is not None
        if fine and part.crease_m:
            d = d + np.float32(part.crease_m) * _creases(p)
        if part.above_m is not None:
            d = np.maximum(d, np.float32(part.above_m) - p[:, 2])
        closer = d < best
        best = np.where(closer, d, best)
        which[closer] = i
    return best, which


def march(
    start: Image, d: Image, near: Image, far: Image, figure: tuple[Part, ...], steps: int = 56
) -> tuple[Image, NDArray[np.int8]]:
    """Distance along each ray to the figure (infinite where missed) and the part met."""
    t = near.astype(np.float32).copy()
    out = np.full(len(d), np.inf, np.float32)
    part = np.zeros(len(d), np.int8)
    live = np.flatnonzero(near < far)
    for _ in range(steps):
        if not len(live):
            break
        gap, which = distance(start[live] + t[live, None] * d[live], figure, fine=True)
        done = gap < 6e-4
        out[live[done]] = t[live[done]]
        part[live[done]] = which[done]
        t[live] += np.maximum(gap * np.float32(0.8), np.float32(4e-4))
        live = live[~done & (t[live] < far[live])]
    return out, part


def shade_towards(p: Image, to_sun: NDArray[np.float64], figure: tuple[Part, ...], start_m: float) -> Image:
    """Share of the sun's disc that points see past the figure, 0 to 1 (soft, by the closest miss)."""
    d = to_sun.astype(np.float32)
    t = np.full(len(p), start_m, np.float32)
    light = np.ones(len(p), np.float32)
    live = np.arange(len(p))
    for _ in range(40):
        if not len(live):
            break
        gap, _ = distance(p[live] + t[live, None] * d, figure)
        # Half the sun's angle is 0.0047 rad: full light once the miss is that wide.
        light[live] = np.minimum(light[live], 0.5 + 0.5 * gap / (0.0047 * t[live] + 0.0015))
        t[live] += np.clip(gap, 0.006, 0.25)
        live = live[(light[live] > 0.001) & (t[live] < 2.6)]
    light = np.clip(light, 0, 1)
    return light * light * (3 - 2 * light)


def occlusion(p: Image, normal: Image, figure: tuple[Part, ...]) -> Image:
    """Share of the sky left by what stands close, 0 to 1."""
    shut = np.zeros(len(p), np.float32)
    for k, h in enumerate((0.02, 0.06, 0.14, 0.30)):
        gap, _ = distance(p + np.float32(h) * normal, figure)
        shut += np.clip(h - gap, 0, None) / np.float32(h) * np.float32((0.30, 0.26, 0.22, 0.18)[k])
    return np.clip(1 - shut, 0.1, 1)


def render(golfer: Golfer, view: View, to_sun: NDArray[np.float64], samples: int = 2) -> Layer | None:
    """The body as a layer, or None where it is out of the picture."""
    figure = parts(golfer)
    box = _bounds(figure)
    corners = np.array([[x, y, z] for x in box[:, 0] for y in box[:, 1] for z in box[:, 2]])
    px = view.project(corners)
    px = px[np.isfinite(px).all(axis=1)]
    if len(px) < 4:
        return None
    left, top = (max(int(np.floor(c)) - 2, 0) for c in px.min(axis=0))
    right = min(int(np.ceil(px[:, 0].max())) + 3, view.width)
    bottom = min(int(np.ceil(px[:, 1].max())) + 3, view.height)
    if left >= right or top >= bottom:
        return None
    n = samples
    w, h = right - left, bottom - top
    u = left + (np.arange(w * n) + 0.5) / n - 0.5
    v = top + (np.arange(h * n) + 0.5) / n - 0.5
    d = view.rays(*np.meshgrid(u, v)).reshape(-1, 3)
    eye = view.centre.astype(np.float32)
    near, far = _slab(eye, d, box.astype(np.float32))
    far = np.where(_silhouette(figure, view, left, top, w, h, n).reshape(-1), far, 0)
    hit, part = march(np.broadcast_to(eye, d.shape), d, near, far, figure)
    seen = np.isfinite(hit)
    sky = np.zeros((len(d), 3), np.float32)
    sun = np.zeros((len(d), 3), np.float32)
    sky[seen], sun[seen] = _colour(eye + hit[seen, None] * d[seen], part[seen], figure, to_sun)

    def down(a: Image) -> Image:
        return a.reshape(h, n, w, n, -1).mean(axis=(1, 3))

    depth = hit * (d @ view.rotation[2].astype(np.float32))
    depth = depth.reshape(h, n, w, n).transpose(0, 2, 1, 3).reshape(h, w, -1).min(axis=-1)
    alpha = down(seen.astype(np.float32))[..., 0]
    return Layer(left, top, down(sky), down(sun), alpha, depth)


def _colour(
    p: Image, part: NDArray[np.int8], figure: tuple[Part, ...], to_sun: NDArray[np.float64]
) -> tuple[Image, Image]:
    e = np.float32(0.0012)
    normal = np.zeros_like(p)
    for k in np.array([[1, -1, -1], [-1, -1, 1], [-1, 1, -1], [1, 1, 1]], np.float32):
        gap, _ = distance(p + e * k, figure, fine=True)
        normal += gap[:, None] * k
    normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-9
    colour = np.array([q.colour for q in figure], np.float32)[part]
    weave = 1 + 0.025 * np.sin(700 * p[:, 0] + 900 * p[:, 2]) * np.sin(800 * p[:, 1] - 650 * p[:, 2])
    colour = colour * weave[:, None].astype(np.float32)
    open_sky = occlusion(p, normal, figure)
    up = 0.5 + 0.5 * normal[:, 2]
    bounce = np.array([0.10, 0.16, 0.05], np.float32) * ((1 - up) * 1.1)[:, None]
    sky = colour * (up[:, None] + bounce) * open_sky[:, None]
    facing = np.clip(normal @ to_sun.astype(np.float32), 0, None) / np.float32(max(to_sun[2], 0.2))
    lit = np.zeros(len(p), np.float32)
    front = facing > 0
    lit[front] = shade_towards(p[front] + 0.004 * normal[front], to_sun, figure, 0.012)
    sun = colour * ((facing * lit)[:, None] + bounce * 0.9 * open_sky[:, None])
    return sky.astype(np.float32), sun.astype(np.float32)


def ground_shade(golfer: Golfer, view: View, to_sun: NDArray[np.float64]) -> tuple[Image, Image]:
    """(sun, sky) shares that the body leaves to the ground in each pixel; 1 far away from it."""
    figure = parts(golfer)
    w, h = view.width, view.height
    touched = np.zeros((h, w), np.uint8)
    for part in figure:
        for shape in part.shapes:
            a, b, ra, rb = _ends(shape)
            beds = [shadow_outline(a, b, ra + 0.07, rb + 0.07, to_sun)]
            if min(a[2] - ra, b[2] - rb) < 0.25:  # close enough to take away sky
                beds.append(shadow_outline(a, b, ra + 0.25, rb + 0.25, np.array([0, 0, 1.0])))
            for bed in beds:
                px = view.project(bed)
                if np.isfinite(px).all():
                    cv2.fillConvexPoly(touched, cv2.convexHull(np.rint(px).astype(np.int32)), 1)
    sun, sky = np.ones((h, w), np.float32), np.ones((h, w), np.float32)
    v, u = np.nonzero(touched)
    if len(u):
        d = view.rays(u, v)
        eye = view.centre.astype(np.float32)
        p = eye + (-eye[2] / np.minimum(d[:, 2], -1e-3))[:, None] * d
        p[:, 2] = 0.001
        sun[v, u] = shade_towards(p, to_sun, figure, 0.004)
        up = np.broadcast_to(np.array([0, 0, 1], np.float32), p.shape)
        sky[v, u] = occlusion(p, up, figure)
    return sun, sky


def shadow_outline(
    a: NDArray[np.float64], b: NDArray[np.float64], ra: float, rb: float, to_sun: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Points on the ground whose hull is the shadow of a rounded cone, shape (32, 3)."""
    turn = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    flat = to_sun[:2] / max(np.hypot(*to_sun[:2]), 1e-9)
    long = 1 / to_sun[2]
    rings = []
    for at, r in ((a, ra), (b, rb)):
        foot = np.asarray(at)[:2] - to_sun[:2] * (at[2] / to_sun[2])
        ring = foot + r * (
            long * np.cos(turn)[:, None] * flat + np.sin(turn)[:, None] * np.array([-flat[1], flat[0]])
        )
        rings.append(np.concatenate([ring, np.zeros((16, 1))], axis=1))
    return np.concatenate(rings)


def _ends(shape: Cone | Egg) -> tuple[NDArray[np.float64], NDArray[np.float64], float, float]:
    if isinstance(shape, Cone):
        return np.asarray(shape.a), np.asarray(shape.b), shape.ra, shape.rb
    c = np.asarray(shape.centre)
    return c, c, max(shape.radii), max(shape.radii)


def _silhouette(
    figure: tuple[Part, ...], view: View, left: int, top: int, w: int, h: int, n: int
) -> NDArray[np.bool_]:
    """Where rays may meet the figure, shape (h * n, w * n); generous by a few centimetres."""
    mask = np.zeros((h * n, w * n), np.uint8)
    turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    for part in figure:
        for shape in part.shapes:
            a, b, ra, rb = _ends(shape)
            rim = []
            for at, r in ((a, ra), (b, rb)):
                px = view.project(at)
                wide = (r + 0.03) * view.px_per_m(at) * 1.05
                rim.append(px + wide * np.stack([np.cos(turn), np.sin(turn)], axis=-1))
            hull = (np.concatenate(rim) - (left, top)) * n
            if np.isfinite(hull).all():
                cv2.fillConvexPoly(mask, cv2.convexHull(np.rint(hull).astype(np.int32)), 1)
    return mask.astype(bool)


def _bounds(figure: tuple[Part, ...]) -> NDArray[np.float64]:
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    for part in figure:
        for s in part.shapes:
            a, b, ra, rb = _ends(s)
            for at, r in ((a, ra), (b, rb)):
                low, high = np.minimum(low, at - r), np.maximum(high, at + r)
    low[2] = max(low[2], 0.0)
    return np.stack([low - 0.01, high + 0.01])


def _slab(eye: Image, d: Image, box: Image) -> tuple[Image, Image]:
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (box[0] - eye) / d, (box[1] - eye) / d
    near = np.max(np.minimum(a, b), axis=1)
    far = np.min(np.maximum(a, b), axis=1)
    return np.maximum(near, np.float32(0.05)), far
