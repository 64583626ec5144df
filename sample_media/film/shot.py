"""One golf ball in one frame: sphere, shade, shadow, blurred by its way during the exposure.

Each row of the picture sees the ball where it is when that row is exposed (rolling shutter), at several
instants of the exposure; light is averaged before the tone curve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.physics import BALL_RADIUS_M as R_BALL
from puttvision.physics import HOLE_RADIUS_M as R_HOLE
from sample_media.film.boxes import Box
from sample_media.film.optics import View
from sample_media.film.play import BallLife
from sample_media.film.scene import Camera, Point, Rgb

Image = NDArray[np.float32]
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shot:
    """A ball in one frame."""

    box: Box
    """left, top, right, bottom of the sphere's arrays"""
    sky: Image
    sun: Image
    alpha: Image
    depth_m: float
    shade_box: Box
    shade_sun: Image
    """share of the sun that the ball leaves to the ground"""
    shade_sky: Image


def seen_at(view: View, camera: Camera, life: BallLife, frame_s: float) -> tuple[Array, float]:
    """Pixel of the ball's centre in a frame, and the instant at which its row was exposed."""
    t = frame_s
    for _ in range(4):
        px = view.project(life.place(t))
        t = frame_s + camera.readout_s * float(np.nan_to_num(px[1])) / camera.height
    return view.project(life.place(t)), t


def shoot(
    view: View,
    camera: Camera,
    rays: Image,
    life: BallLife,
    frame_s: float,
    to_sun: Array,
    hole: Point,
    colour: Rgb,
    line_m: float = 0.0,
) -> Shot | None:
    """The ball in the frame whose first row is exposed about ``frame_s``; None where out of the picture."""
    centre_px, t = seen_at(view, camera, life, frame_s)
    centre = life.place(t)
    ends = life.place(np.array([t - camera.exposure_s / 2, t + camera.exposure_s / 2]))
    if not np.isfinite(centre_px).all():
        return None
    blur_px = float(np.hypot(*(view.project(ends[1]) - view.project(ends[0]))))
    scale = view.px_per_m(centre)
    pad = R_BALL * scale * 1.15 + blur_px / 2 + 2
    box = _clip(view, centre_px - pad, centre_px + pad)
    if box is None:
        return None
    k = int(np.clip(np.ceil(blur_px), 1, 8)) if blur_px > 0.05 else 1
    n = 4 if k == 1 else 3
    instants = camera.exposure_s * ((np.arange(k) + 0.5) / k - 0.5)
    left, top, right, bottom = box
    w, h = right - left, bottom - top
    rows = np.arange(top, bottom)
    times = frame_s + camera.readout_s * rows / camera.height
    turn = life.orientation(t)
    d = view.rays(
        *np.meshgrid(left + (np.arange(w * n) + 0.5) / n - 0.5, top + (np.arange(h * n) + 0.5) / n - 0.5)
    )
    eye = view.centre.astype(np.float32)
    sky, sun = np.zeros((h, w, 3), np.float32), np.zeros((h, w, 3), np.float32)
    alpha = np.zeros((h, w), np.float32)
    for instant in instants:
        middle = np.repeat(life.place(times + instant), n, axis=0).astype(np.float32)[:, None, :]
        a, b, c = _sphere(eye, d, middle, turn, to_sun, hole, colour, line_m)
        sky += _mean(a, n) / k
        sun += _mean(b, n) / k
        alpha += _mean(c[..., None], n)[..., 0] / k
    far = R_BALL * 2.5 + (centre[2] / to_sun[2]) * np.hypot(*to_sun[:2])
    shade_pad = np.array([far * scale + blur_px, 0.8 * far * scale + blur_px]) + 2
    foot = centre.copy()
    foot[2] = 0.0
    foot_px = view.project(foot)
    shade_box = _clip(view, foot_px - shade_pad, foot_px + shade_pad) or box
    shade_sun, shade_sky = _shade(view, camera, rays, life, frame_s, instants, shade_box, to_sun)
    return Shot(box, sky, sun, alpha, float(view.depth(centre)), shade_box, shade_sun, shade_sky)


def _clip(view: View, low: Array, high: Array) -> Box | None:
    x0, y0 = max(int(np.floor(low[0])), 0), max(int(np.floor(low[1])), 0)
    x1, y1 = min(int(np.ceil(high[0])) + 1, view.width), min(int(np.ceil(high[1])) + 1, view.height)
    return (x0, y0, x1, y1) if x0 < x1 and y0 < y1 else None


def _mean(a: Image, n: int) -> Image:
    h, w = a.shape[0] // n, a.shape[1] // n
    return a.reshape(h, n, w, n, -1).mean(axis=(1, 3))


def _sphere(
    eye: Image, d: Image, middle: Image, turn: Array, to_sun: Array, hole: Point, colour: Rgb, line_m: float
) -> tuple[Image, Image, Image]:
    """(sky, sun, cover) of a sphere whose centre may differ from row to row."""
    rel = middle - eye
    along = np.einsum("ijk,ijk->ij", d, np.broadcast_to(rel, d.shape))
    disc = along**2 - np.sum(rel**2, axis=-1) + np.float32(R_BALL**2)
    hit = disc > 0
    sky, sun = np.zeros_like(d), np.zeros_like(d)
    cover = np.zeros(d.shape[:2], np.float32)
    if not hit.any():
        return sky, sun, cover
    reach = along[hit] - np.sqrt(disc[hit])
    ray = d[hit]
    p = eye + reach[:, None] * ray
    m = np.broadcast_to(middle, d.shape)[hit]
    smooth = (p - m) / np.float32(R_BALL)
    own = smooth @ turn.astype(np.float32)
    # Dimples: a lattice of dents that tilts the normal a little and holds some shade.
    dents = np.sin(19 * own + 3 * np.sin(7 * own[:, [1, 2, 0]]))
    normal = smooth + np.float32(0.05) * (dents @ turn.T.astype(np.float32))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    albedo = np.asarray(colour, np.float32) * (1 - 0.03 * (dents[:, :1] * dents[:, 1:2]))
    if line_m:  # drawn with a pen right round
        line = np.abs(own[:, 2]) < line_m / 2 / R_BALL
    else:
        line = (np.abs(own[:, 2]) < 0.035) & (own[:, 0] > 0.62)
    dot = (own[:, 0] - 0.1) ** 2 + (own[:, 2] - 0.93) ** 2 < 0.02
    albedo = np.where((line | dot)[:, None], np.asarray((0.06, 0.06, 0.10), np.float32), albedo)
    up = 0.5 + 0.5 * normal[:, 2:3]
    # The sky lights a convex body by (1 + n_z) / 2; the grass gives back the rest of the half space,
    # less of it close to the ball's foot, and least from where the ball's own shadow lies.
    low = np.clip(p[:, 2:3] / R_BALL, 0, 1)
    close = 1.15 * low / (low + 0.22)
    flat = to_sun[:2] / max(float(np.hypot(*to_sun[:2])), 1e-9)
    sunny = 0.75 + 0.25 * (smooth[:, :2] @ flat.astype(np.float32))[:, None]
    bounce = np.array([0.095, 0.15, 0.05], np.float32) * (1 - up) * close
    s = to_sun.astype(np.float32)
    facing = np.clip((normal @ s + 0.03) / 1.03, 0, None)[:, None] / np.float32(max(to_sun[2], 0.2))
    half = s - ray
    half /= np.linalg.norm(half, axis=1, keepdims=True)
    gloss = np.clip(np.sum(normal * half, axis=1, keepdims=True), 0, 1) ** 60
    sky_light = (up + bounce) * albedo
    sun_light = albedo * (0.93 * facing + bounce * sunny) + np.float32(0.35) * gloss
    seen = np.ones(len(p), np.float32)
    below = p[:, 2] < 0
    if below.any():
        cross = p[below] - (p[below, 2:3] / ray[below, 2:3]) * ray[below]
        seen[below] = np.hypot(cross[:, 0] - hole[0], cross[:, 1] - hole[1]) < R_HOLE
        out = p[below] - (p[below, 2:3] / s[2]) * s
        lit = np.hypot(out[:, 0] - hole[0], out[:, 1] - hole[1]) < R_HOLE
        sun_light[below] *= lit[:, None]
        sky_light[below] *= (0.75 / (1 + (-p[below, 2:3] / 0.06) ** 1.5) + 0.1).astype(np.float32)
    sky[hit] = sky_light * seen[:, None]
    sun[hit] = sun_light * seen[:, None]
    cover[hit] = seen
    return sky, sun, cover


def _shade(
    view: View,
    camera: Camera,
    rays: Image,
    life: BallLife,
    frame_s: float,
    instants: Array,
    box: Box,
    to_sun: Array,
) -> tuple[Image, Image]:
    left, top, right, bottom = box
    d = rays[top:bottom, left:right]
    eye = view.centre.astype(np.float32)
    ground = eye + (-eye[2] / np.minimum(d[..., 2:3], -1e-3)) * d
    times = frame_s + camera.readout_s * np.arange(top, bottom) / camera.height
    s = to_sun.astype(np.float32)
    sun, sky = np.zeros(d.shape[:2], np.float32), np.zeros(d.shape[:2], np.float32)
    for instant in instants:
        middle = life.place(times + instant).astype(np.float32)[:, None, :]
        rel = middle - ground
        along = rel @ s
        off = rel - along[..., None] * s
        gap = np.sqrt(np.einsum("ijk,ijk->ij", off, off))
        soft = 0.0047 * np.maximum(along, 0) + np.float32(0.0006)
        open_sun = np.clip(0.5 + 0.5 * (gap - R_BALL) / soft, 0, 1)
        open_sun = np.where(along > 0, open_sun, 1)
        d2 = np.einsum("ijk,ijk->ij", rel, rel)
        shut = R_BALL**2 * np.maximum(middle[..., 2], 0) / np.maximum(d2, R_BALL**2) ** 1.5
        high = middle[..., 2] > 0
        sun += np.where(high, open_sun, 1)
        sky += np.where(high, 1 - 0.92 * np.clip(shut, 0, 1), 1)
    return sun / len(instants), sky / len(instants)
