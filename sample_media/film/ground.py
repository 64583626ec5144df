"""The part of the picture that stands still: green, fringe, hedge, hole, sheets.

Rendered once a view, several rays a pixel, in linear light. What comes out is reflectance with the
share of sky and sun that reaches it, so that light, clouds and shadows are put on frame by frame.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.physics import HOLE_RADIUS_M, LINER_DEPTH_M
from sample_media.film import paper, texture
from sample_media.film.optics import View
from sample_media.film.scene import Scene

Image = NDArray[np.float32]

CUP_FLOOR_M = 0.125


@dataclass(frozen=True, slots=True)
class Backdrop:
    """Linear reflectance times light share, shape (height, width, 3) each."""

    sky: Image
    """what the sky lights, for sky light 1"""
    sun: Image
    """what the sun lights, for sunlight 1 on the level, nothing in shadow"""


@dataclass(frozen=True, slots=True)
class Turf:
    """The textures of one green."""

    fine: texture.Tile
    other: texture.Tile
    patch: texture.Tile
    broad: texture.Tile


@lru_cache(maxsize=4)
def turf(seed: int, grain_deg: float, count: int) -> Turf:
    """Textures by seed; kept, since a session films the same green again and again."""
    rng = np.random.default_rng([seed, 11])
    patch = np.stack([texture.noise(rng, 512, 0.5, 0.006, 1.15) for _ in range(3)], axis=-1)
    broad = np.stack([texture.noise(rng, 512, 0.7, 0.01, 1.5) for _ in range(3)], axis=-1)
    return Turf(
        texture.tile(texture.blades(rng, 1024, 0.36, grain_deg, count), 0.36),
        texture.tile(texture.blades(rng, 1024, 0.36, grain_deg + 20, count), 0.53),
        texture.tile(patch, 1.9),
        texture.tile(broad, 9.0),
    )


def render(scene: Scene, view: View, samples: int = 2) -> Backdrop:
    """The still picture of a scene from one view."""
    painter = _Painter(scene, view)
    reflect = painter.whole(samples)
    sky, sun = reflect, reflect.copy()
    for box in painter.fine_boxes():
        painter.paint_fine(box, sky, sun, 6)
    return Backdrop(sky, sun)


class _Painter:
    def __init__(self, scene: Scene, view: View) -> None:
        self.scene = scene
        self.view = view
        self.green = scene.green
        self.turf = turf(scene.seed, scene.green.grain_deg, scene.green.blades)
        self.rng = np.random.default_rng([scene.seed, 12])
        self.eye = view.centre.astype(np.float32)
        self.marks = {s.id: paper.marker_cells(s.id) for s in scene.sheets}
        self.wobble = self.rng.normal(0, 1, (4, 2)) * np.array([0.035, 0.02, 0.012, 0.008])[:, None]

    # ------------------------------------------------------------ whole picture
    def whole(self, n: int) -> Image:
        w, h = self.view.width, self.view.height
        out = np.empty((h * n, w * n, 3), np.float32)
        u = (np.arange(w * n) + 0.5) / n - 0.5
        rows = 16 * n
        for r in range(0, h * n, rows):
            v = (np.arange(r, min(r + rows, h * n)) + 0.5) / n - 0.5
            d = self.view.rays(*np.meshgrid(u, v))
            out[r : r + rows] = self.far_and_grass(d, n)
        self._draw_hedge(out, n)
        self._draw_long_grass(out, n)
        return cv2.resize(out, (w, h), interpolation=cv2.INTER_AREA)

    def far_and_grass(self, d: Image, n: int) -> Image:
        """Reflectance along rays, without hole and sheets; shape (h, w, 3)."""
        down = np.minimum(d[..., 2], -1e-3)
        reach = -self.eye[2] / down
        x = self.eye[0] + reach * d[..., 0]
        y = self.eye[1] + reach * d[..., 1]
        cx, cy = self.green.centre
        beyond = (np.hypot(x - cx, y - cy) > self.green.hedge_distance_m) | (d[..., 2] > -2e-3)
        # Footprint of one sample: geometric mean of across and along the view.
        mid = float(np.median(reach))
        foot = mid / (self.view.matrix[0, 0] * n) / np.sqrt(max(float(np.median(-down)), 0.05))
        out = self.grass(x, y, foot)
        if self.green.wet:
            out += self._water(x, y, down, foot)
        if beyond.any():
            out[beyond] = self._hedge_ground(d[beyond])
        return out

    def grass(self, x: Image, y: Image, foot: float) -> Image:
        """Reflectance of green, collar and rough at ground points."""
        g, t = self.green, self.turf
        m = g.mottle
        broad = t.broad.sample(x, y, foot)
        patch = t.patch.sample(x, y, foot)
        fine = 0.62 * t.fine.sample(x, y, foot) + 0.38 * t.other.sample(
            x * 0.94 + y * 0.34, y * 0.94 - x * 0.34, foot
        )
        edge = self._edge(x, y)
        c, s = np.cos(np.radians(g.grain_deg)), np.sin(np.radians(g.grain_deg))
        across = (x * -s + y * c + 0.02 * broad[..., 0]) / g.stripe_m
        stripe = g.stripe * np.tanh(8 * np.sin(np.pi * across))
        light = 1 + m * (0.07 * broad[..., 0] + 0.08 * patch[..., 0]) + stripe
        hue = m * (0.055 * broad[..., 1] + 0.060 * patch[..., 1])
        blue = m * (0.03 * broad[..., 2] + 0.04 * patch[..., 2])
        base = np.stack([light * (1 + hue), light * (1 + 0.1 * hue), light * (1 - 0.3 * hue + blue)], axis=-1)
        for hx, hy in g.old_holes:
            r = np.hypot(x - hx, y - hy)
            plug = 0.5 - 0.5 * np.tanh((r - HOLE_RADIUS_M) / 0.003)
            ring = np.exp(-(((r - HOLE_RADIUS_M) / 0.004) ** 2))
            base *= (1 - 0.13 * plug - 0.22 * ring)[..., None]
        out = base * fine**1.25 * np.asarray(g.colour, np.float32)
        if float(edge.max()) > 0.97:
            long = t.fine.sample(x * 0.3, y * 0.3, foot * 0.3)
            rough = (
                base
                * (long**1.4)
                * (np.asarray(g.colour, np.float32) * np.array([0.62, 0.66, 0.62], np.float32))
            )
            k = np.clip((edge - 1.0) / 0.015 + 0.5, 0, 1)[..., None]
            out = out * (1 - k) + rough * k
        return out.astype(np.float32)

    def _water(self, x: Image, y: Image, down: Image, foot: float) -> Image:
        """Drops that mirror the sky: Fresnel's share by Schlick's formula (1994), refractive index 1.33."""
        # Blades stand: no drop is met quite as flat as the green.
        mirror = 0.02 + 0.98 * np.minimum(1 + down, 0.82) ** 5
        drops = self.turf.other.sample(x * 2.7, y * 2.7, foot * 2.7)[..., 1:2] ** 3
        return (self.green.wet * 0.9 * mirror[..., None] * drops).astype(np.float32)

    def _edge(self, x: Image, y: Image) -> Image:
        """1 on the edge of the mown green, less inside."""
        (cx, cy), (ax, ay) = self.green.centre, self.green.half_axes
        angle = np.arctan2((y - cy) / ay, (x - cx) / ax)
        r = np.hypot((x - cx) / ax, (y - cy) / ay)
        wave = sum(a * np.sin((k + 2) * angle + 40 * b) for k, (a, b) in enumerate(self.wobble))
        return (r / (1 + wave)).astype(np.float32)

    # ------------------------------------------------------------ what stands around
    def _hedge_ground(self, d: Image) -> Image:
        up = np.clip(d[..., 2] * 4 + 0.3, 0, 1)[..., None]
        return (np.array([0.010, 0.016, 0.006]) * (1 + up)).astype(np.float32)

    def _draw_hedge(self, image: Image, n: int) -> None:
        """Leaves, back to front, on a ring around the green."""
        rng, g = self.rng, self.green
        count = int(80000 * min(1.0, self.view.width * n / 2560) ** 1.2)
        front = self._heading() + rng.uniform(-1.5, 1.5, count)
        deep = np.sort(rng.beta(1.3, 1.8, count))[::-1] * 0.45
        ring = g.hedge_distance_m + deep + 0.12 * np.sin(9 * front)
        z = rng.uniform(-0.02, 2.4, count)
        at = np.stack([g.centre[0] + ring * np.cos(front), g.centre[1] + ring * np.sin(front), z], axis=-1)
        size = rng.uniform(0.022, 0.05, count)
        tone = np.exp(rng.normal(0, 0.42, count)) * (1.25 - deep * 2.4) * np.clip(0.42 + 0.5 * z, 0.35, 1.0)
        warm = rng.normal(0, 0.15, count)
        colour = np.stack([0.030 * (1 + warm), 0.055 + 0 * warm, 0.014 * (1 - warm)], axis=-1) * tone[:, None]
        turn = rng.uniform(0, np.pi, count)
        slim = rng.uniform(0.3, 0.75, count)
        px = self.view.project(at)
        ok = np.isfinite(px).all(axis=1) & (px > -30).all(axis=1) & (px[:, 0] < self.view.width + 30)
        ok &= px[:, 1] < self.view.height
        scale = self.view.matrix[0, 0] / np.maximum(self.view.depth(at), 0.5) * n
        for i in np.flatnonzero(ok):
            c = (px[i] + 0.5) * n - 0.5
            a = size[i] * scale[i] * np.array([np.cos(turn[i]), np.sin(turn[i])])
            b = slim[i] * 0.5 * np.array([-a[1], a[0]])
            quad = np.array([c - a, c - b - 0.1 * a, c + a, c + b - 0.1 * a])
            cv2.fillConvexPoly(
                image, np.rint(quad * 16).astype(np.int32), tuple(map(float, colour[i])), shift=4
            )

    def _heading(self) -> float:
        forward = self.view.rotation[2]
        return float(np.arctan2(forward[1], forward[0]))

    def _draw_long_grass(self, image: Image, n: int) -> None:
        """Upright blades beyond the green's edge, far ones first."""
        rng, g = self.rng, self.green
        count = int(45000 * min(1.0, self.view.width * n / 2560) ** 1.2)
        angle = self._heading() + rng.uniform(-1.2, 1.2, count)
        eye = self.eye[:2]
        far = rng.uniform(0.15, 1, count) ** 0.7 * 14
        x, y = eye[0] + far * np.cos(angle), eye[1] + far * np.sin(angle)
        edge = self._edge(x.astype(np.float32), y.astype(np.float32))
        inside = np.hypot(x - g.centre[0], y - g.centre[1]) < g.hedge_distance_m + 0.05
        keep = (edge > 0.998) & inside
        x, y, edge, far = x[keep], y[keep], edge[keep], far[keep]
        k = len(x)
        tall = np.clip((edge - 1.0) * 0.35, 0.006, 0.045) * rng.uniform(0.5, 1.3, k)
        foot = np.stack([x, y, np.zeros(k)], axis=-1)
        tip = foot + np.stack([rng.normal(0, 0.45, k) * tall, rng.normal(0, 0.45, k) * tall, tall], axis=-1)
        a, b = self.view.project(foot), self.view.project(tip)
        broad = self.turf.broad.sample(x[None].astype(np.float32), y[None].astype(np.float32), 0.05)[0]
        tone = np.exp(rng.normal(0, 0.3, k)) * (1 + 0.12 * broad[:, 0]) * 0.95
        warm = rng.normal(0, 0.13, k) + 0.08 * broad[:, 1]
        colour = np.asarray(g.colour) * np.stack(
            [0.72 * (1 + warm), 0.78 + 0 * warm, 0.66 * (1 - warm)], axis=-1
        )
        colour *= tone[:, None]
        ok = np.isfinite(a).all(axis=1) & np.isfinite(b).all(axis=1)
        for i in np.argsort(-far):
            if ok[i]:
                p, q = (a[i] + 0.5) * n - 0.5, (b[i] + 0.5) * n - 0.5
                cv2.line(
                    image,
                    (round(p[0]), round(p[1])),
                    (round(q[0]), round(q[1])),
                    tuple(map(float, colour[i])),
                    1,
                )

    # ------------------------------------------------------------ what needs sharp edges
    def fine_boxes(self) -> list[tuple[int, int, int, int]]:
        """Pixel boxes (left, top, right, bottom) round hole, sheets and leaves."""
        rings = [_circle(self.scene.hole, HOLE_RADIUS_M * 1.25)]
        rings += [paper.page_outline(s, 0.006) for s in self.scene.sheets]
        rings += [_circle(p, 0.07) for p in self.green.leaves]
        boxes = []
        for ring in rings:
            px = self.view.project(ring)
            if not np.isfinite(px).all():
                continue
            low = np.floor(px.min(axis=0)).astype(int) - 2
            high = np.ceil(px.max(axis=0)).astype(int) + 3
            left, top = max(low[0], 0), max(low[1], 0)
            right, bottom = min(high[0], self.view.width), min(high[1], self.view.height)
            if left < right and top < bottom:
                boxes.append((int(left), int(top), int(right), int(bottom)))
        return boxes

    def paint_fine(self, box: tuple[int, int, int, int], sky: Image, sun: Image, n: int) -> None:
        """Redo one box with ``n`` by ``n`` rays a pixel, with all that lies on or in the green."""
        left, top, right, bottom = box
        u = left + (np.arange((right - left) * n) + 0.5) / n - 0.5
        v = top + (np.arange((bottom - top) * n) + 0.5) / n - 0.5
        d = self.view.rays(*np.meshgrid(u, v))
        base = self.far_and_grass(d, n)
        reach = -self.eye[2] / np.minimum(d[..., 2], -1e-3)
        x, y = self.eye[0] + reach * d[..., 0], self.eye[1] + reach * d[..., 1]
        for leaf in self.green.leaves:
            paper.lay_leaf(base, x, y, leaf)
        for sheet in self.scene.sheets:
            paper.lay_sheet(base, x, y, sheet, self.marks[sheet.id])
        lit_sky, lit_sun = base.copy(), base
        self._hole(lit_sky, lit_sun, x, y, d)
        size = (right - left, bottom - top)
        sky[top:bottom, left:right] = cv2.resize(lit_sky, size, interpolation=cv2.INTER_AREA)
        sun[top:bottom, left:right] = cv2.resize(lit_sun, size, interpolation=cv2.INTER_AREA)

    def _hole(self, sky: Image, sun: Image, x: Image, y: Image, d: Image) -> None:
        hx, hy = self.scene.hole
        px, py = x - hx, y - hy
        r = np.hypot(px, py)
        # Bruised grass and a shade of soil round the cut.
        rim = (
            np.exp(-(((r - HOLE_RADIUS_M - 0.002) / 0.0035) ** 2))[..., None] * (r > HOLE_RADIUS_M)[..., None]
        )
        sky *= 1 - 0.45 * rim
        sun *= 1 - 0.40 * rim
        inside = r < HOLE_RADIUS_M
        if not inside.any():
            return
        px, py, d = px[inside], py[inside], d[inside]
        # Along the ray from the opening to the wall: |p + s d| = R, the farther root.
        dd = d[:, 0] ** 2 + d[:, 1] ** 2
        pd = px * d[:, 0] + py * d[:, 1]
        s = (-pd + np.sqrt(np.maximum(pd**2 + dd * (HOLE_RADIUS_M**2 - px**2 - py**2), 0))) / np.maximum(
            dd, 1e-9
        )
        z = s * d[:, 2]
        floor = z < -CUP_FLOOR_M
        s = np.where(floor, -CUP_FLOOR_M / d[:, 2], s)
        z = np.maximum(z, -CUP_FLOOR_M)
        wx, wy = px + s * d[:, 0], py + s * d[:, 1]
        angle = np.arctan2(wy, wx)
        grit = self.turf.fine.sample_points(angle * 0.054, z, 0.001)[:, 1]
        ragged = LINER_DEPTH_M + 0.0007 * np.sin(7 * angle) + 0.0005 * np.sin(31 * angle + 1)
        soil = np.asarray([0.050, 0.033, 0.021]) * (0.5 + 0.5 * grit)[:, None]
        root = (z > -0.006)[:, None]
        soil = np.where(root, np.asarray(self.green.colour) * 0.45 * grit[:, None], soil)
        wall = np.where(
            (z > -ragged)[:, None], soil, np.asarray([0.74, 0.74, 0.72]) * (1 - 0.04 * (grit[:, None] - 1))
        )
        wall = np.where(floor[:, None], np.asarray([0.30, 0.30, 0.29]), wall)
        to_sun = sun_direction(self.scene.light.azimuth_deg, self.scene.light.elevation_deg)
        out_x = wx - z / to_sun[2] * to_sun[0]
        out_y = wy - z / to_sun[2] * to_sun[1]
        edge = (HOLE_RADIUS_M - np.hypot(out_x, out_y)) / 0.0015
        open_sun = np.clip(edge + 0.5, 0, 1)
        inward = -(wx * to_sun[0] + wy * to_sun[1]) / HOLE_RADIUS_M
        facing = np.where(floor, 1.0, np.maximum(inward, 0) / to_sun[2])
        open_sky = 0.75 / (1 + (-z / 0.06) ** 1.5) + 0.12
        sky[inside] = (wall * open_sky[:, None]).astype(np.float32)
        # A lit liner sends light on to the rest of the cup.
        glow = 0.16 * (wall * open_sky[:, None])
        sun[inside] = (wall * (open_sun * facing)[:, None] + glow).astype(np.float32)


def sun_direction(azimuth_deg: float, elevation_deg: float) -> NDArray[np.float64]:
    """Unit vector towards the sun."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])


def _circle(at: tuple[float, float], radius_m: float) -> NDArray[np.float64]:
    a = np.linspace(0, 2 * np.pi, 33)
    return np.stack([at[0] + radius_m * np.cos(a), at[1] + radius_m * np.sin(a), 0 * a], axis=-1)
