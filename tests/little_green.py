"""A little ray tracer for tests: grass, a hole, tees and balls under one sun, seen by a pinhole camera.

Written apart from the library and from the sample clips' film: rays against plane, cylinder and sphere,
Lambert's cosine law, light averaged over a pixel before the tone curve. Metres; z up; the lens stands at
(0, 0, height) and looks along y. Pixels are counted from the centre of the top left one.
"""

from dataclasses import dataclass, field, replace
from functools import lru_cache

import cv2
import numpy as np
from scipy.ndimage import map_coordinates

from puttvision.green.camera import Camera

BALL_RADIUS_M = 0.04267 / 2  # Equipment Rules: 1.680 in
HOLE_RADIUS_M = 0.108 / 2  # Rules of Golf, Definition "Hole"
LINER_TOP_M = -0.0254  # at least 1 in below the surface, same
GRASS = np.array([0.085, 0.135, 0.045])  # linear red, green, blue; luma near 0.12
SOIL = np.array([0.030, 0.024, 0.018])


@dataclass(frozen=True)
class View:
    """A camera that can be asked for rays and given to the library."""

    width: int = 640
    height: int = 360
    f_px: float = 1100.0
    height_m: float = 1.3
    tilt_deg: float = 25.0
    roll_deg: float = 0.0

    def camera(self) -> Camera:
        return Camera(
            width=self.width, height=self.height, f_px=self.f_px,
            cx_px=(self.width - 1) / 2, cy_px=(self.height - 1) / 2, height_m=self.height_m,
            tilt_rad=float(np.radians(self.tilt_deg)), roll_rad=float(np.radians(self.roll_deg)),
        )  # fmt: skip

    def turn(self):
        """Shape (3, 3): right, down and forward axes as rows."""
        t, r = np.radians(self.tilt_deg), np.radians(self.roll_deg)
        right, forward = np.array([1.0, 0, 0]), np.array([0, np.cos(t), -np.sin(t)])
        down = np.cross(forward, right)
        return np.array([np.cos(r) * right + np.sin(r) * down, np.cos(r) * down - np.sin(r) * right, forward])

    def project(self, points_m):
        """Pixels of points, (..., 3) to (..., 2)."""
        seen = (np.asarray(points_m, float) - (0, 0, self.height_m)) @ self.turn().T
        return seen[..., :2] / seen[..., 2:] * self.f_px + ((self.width - 1) / 2, (self.height - 1) / 2)

    def rays(self, px):
        """Directions of pixels, (n, 2) to (n, 3)."""
        flat = (px - ((self.width - 1) / 2, (self.height - 1) / 2)) / self.f_px
        return np.column_stack([flat, np.ones(len(px))]) @ self.turn()


@dataclass(frozen=True)
class Tee:
    """A tee pushed into the green: a shank with a wider cup on top."""

    at_m: tuple
    height_m: float = 0.032
    colour: tuple = (0.75, 0.06, 0.05)
    shank_m: float = 0.0046
    cup_m: float = 0.0095


@dataclass(frozen=True)
class Scene:
    """What stands on the green."""

    hole_m: tuple | None = None
    balls_m: tuple = ()
    tees: tuple = ()
    dark: tuple = ()
    """Circles (x, y, radius) of dead grass or shadow."""
    dark_share: float = 0.25
    """Light that they leave."""
    ball_colour: tuple = (0.82, 0.82, 0.80)
    sun: tuple = (-0.5, -0.35, 0.8)
    sun_light: float = 0.9
    sky_light: float = 0.35
    seed: int = 1
    speckle: float = 0.12
    """Spread of the grass's light, as a share of it."""

    def with_ball(self, at_m):
        return replace(self, balls_m=(*self.balls_m, (float(at_m[0]), float(at_m[1]))))


@dataclass
class Picture:
    """Luma and chroma, 8 bit, 4:2:0."""

    luma: np.ndarray
    cb: np.ndarray = field(repr=False)
    cr: np.ndarray = field(repr=False)


def _hit_sphere(start, rays, centre, radius):
    away = start - np.asarray(centre)
    a, b = np.sum(rays**2, axis=1), np.sum(rays * away, axis=1)
    inside = b * b - a * (np.sum(away * away, axis=-1) - radius**2)
    return np.where(inside > 0, (-b - np.sqrt(np.maximum(inside, 0))) / a, np.inf)


def _hit_cylinder(start, rays, at, radius, low, high, far=False):
    """First (or far) meeting with an upright cylinder between two heights."""
    away = (start - np.array([*at, 0.0]))[..., :2]
    d = rays[:, :2]
    a, b = np.sum(d**2, axis=1), np.sum(d * away, axis=1)
    inside = b * b - a * (np.sum(away * away, axis=-1) - radius**2)
    share = (-b + (1 if far else -1) * np.sqrt(np.maximum(inside, 0))) / a
    z = start[..., 2] + share * rays[:, 2]
    return np.where((inside > 0) & (z >= low) & (z <= high), share, np.inf)


def _grass(points, scene):
    rng = np.random.default_rng(scene.seed)
    light = np.ones(len(points))
    for cell_m, weight in ((0.006, 1.0), (0.04, 0.5)):
        patch = rng.normal(0, scene.speckle * weight, (256, 256)).astype(np.float32)
        light = light + map_coordinates(patch, points.T / cell_m, order=1, mode="grid-wrap")
    return GRASS * np.clip(light, 0.3, 2.0)[:, None]


def light(view, scene, px):
    """Linear red, green, blue of pixels, (n, 2) to (n, 3)."""
    rays = view.rays(px)
    lens = np.array([0, 0, view.height_m])
    sun = np.array(scene.sun) / np.linalg.norm(scene.sun)
    ground = lens + rays * (-view.height_m / rays[:, 2])[:, None]
    lit = np.full(len(px), 1.0)
    for ball in scene.balls_m:  # shadows of balls on the grass
        lit = np.where(np.isfinite(_hit_sphere(ground, np.tile(sun, (len(px), 1)), (*ball, BALL_RADIUS_M),
                                               BALL_RADIUS_M)), 0.0, lit)  # fmt: skip
    colour = _grass(ground[:, :2], scene)
    for x, y, radius in scene.dark:
        within = np.hypot(*(ground[:, :2] - (x, y)).T) < radius
        colour = np.where(within[:, None], scene.dark_share * colour, colour)
    seen = colour * (scene.sky_light + scene.sun_light * sun[2] * lit)[:, None]
    depth = -view.height_m / rays[:, 2]
    if scene.hole_m is not None:
        over = np.hypot(*(ground[:, :2] - scene.hole_m).T) < HOLE_RADIUS_M
        seen = np.where(over[:, None], _inside_hole(ground, rays, scene, sun), seen)
    for tee in scene.tees:
        for radius, low, high in (
            (tee.shank_m / 2, 0.0, tee.height_m - 0.006),
            (tee.cup_m / 2, tee.height_m - 0.006, tee.height_m),
        ):
            share = _hit_cylinder(np.tile(lens, (len(px), 1)), rays, tee.at_m, radius, low, high)
            near = share < depth
            normal = (lens + rays * np.where(near, share, 0)[:, None])[:, :2] - tee.at_m
            cosine = np.maximum(normal @ sun[:2], 0) / radius
            body = np.array(tee.colour) * (scene.sky_light + scene.sun_light * cosine)[:, None]
            seen, depth = np.where(near[:, None], body, seen), np.where(near, share, depth)
    for ball in scene.balls_m:
        centre = np.array([*ball, BALL_RADIUS_M])
        share = _hit_sphere(np.tile(lens, (len(px), 1)), rays, centre, BALL_RADIUS_M)
        near = share < depth
        normal = (lens + rays * np.where(near, share, 0)[:, None] - centre) / BALL_RADIUS_M
        sky = scene.sky_light * (0.6 + 0.4 * normal[:, 2])
        body = np.array(scene.ball_colour) * (sky + scene.sun_light * np.maximum(normal @ sun, 0))[:, None]
        seen, depth = np.where(near[:, None], body, seen), np.where(near, share, depth)
    return seen


def _inside_hole(ground, rays, scene, sun):
    """Soil above the lining, the pale lining below it, and the dark bottom."""
    share = _hit_cylinder(ground, rays, scene.hole_m, HOLE_RADIUS_M, -0.11, 0.0, far=True)
    at = ground + rays * np.where(np.isfinite(share), share, 0)[:, None]
    normal = (np.array(scene.hole_m) - at[:, :2]) / HOLE_RADIUS_M
    facing = np.clip(0.5 + 0.5 * (normal @ sun[:2]), 0, 1)
    lining = 0.5 * (0.15 + 0.5 * facing) * np.exp((at[:, 2] - LINER_TOP_M) / 0.06)
    soil = SOIL * (0.3 + 0.5 * facing)[:, None]
    wall = np.where((at[:, 2] > LINER_TOP_M)[:, None], soil, lining[:, None] * np.ones(3))
    return np.where(np.isfinite(share)[:, None], wall, 0.02)


def film(view, scenes, *, fine=(), n=5, blur_px=0.6, gamma=2.4, noise=1.0, seed=0):
    """A picture of one scene, or of several that share the exposure (a moving ball).

    ``fine``: boxes (x0, y0, x1, y1) that are drawn with n x n rays a pixel; outside of them there is bare
    grass, so all that stands on it must lie in one.
    """
    scenes = scenes if isinstance(scenes, (list, tuple)) else [scenes]
    rgb = _bare(view, _without_things(scenes[0]), 1).copy()
    for box in fine:
        x0, y0, x1, y1 = _clipped(view, box)
        rgb[y0:y1, x0:x1] = _fine(view, scenes, (x0, y0, x1, y1), n)
    luma, cb, cr = _coded(rgb, blur_px, gamma)
    noisy = luma + np.random.default_rng(seed).normal(0, noise, luma.shape)
    half = (view.width // 2, view.height // 2)
    small = [cv2.resize(c, half, interpolation=cv2.INTER_AREA) for c in (cb, cr)]
    return Picture(*(np.clip(np.round(p), 0, 255).astype(np.uint8) for p in (noisy, *small)))


class Reel:
    """Frames of a clip in which little moves: only boxes round what moves are drawn anew."""

    def __init__(self, view, scene, *, n=3, noise=1.0, seed=0, lay=None):
        """``lay``: puts something more into the luma of the empty scene, in place."""
        self.view, self.n = view, n
        self._grass = _without_things(scene)
        self._luma = _coded(_bare(view, self._grass, n), 0.6, 2.4)[0]
        rng = np.random.default_rng(seed)
        self._noise = [rng.normal(0, noise, self._luma.shape) for _ in range(5)]
        self._count = 0
        self._draw(self._luma, [scene], [box_round(view, spot, 0.1) for spot in _spots(scene)])
        if lay is not None:
            lay(self._luma)

    def _draw(self, luma, scenes, boxes):
        for box in boxes:
            x0, y0, x1, y1 = _clipped(self.view, box)
            if x1 - x0 < 9 or y1 - y0 < 9:
                continue
            patch = _coded(_fine(self.view, scenes, (x0, y0, x1, y1), self.n), 0.6, 2.4)[0]
            # blurring needs what is around: a margin is left as it was, save at the picture's edge
            a, b = (4 if x0 else 0), (4 if y0 else 0)
            c, d = (4 if x1 < self.view.width else 0), (4 if y1 < self.view.height else 0)
            luma[y0 + b : y1 - d, x0 + a : x1 - c] = patch[b : y1 - y0 - d, a : x1 - x0 - c]

    def frame(self, scenes=(), moving_m=()):
        """Luma of the next frame; ``scenes`` share the exposure, ``moving_m`` are the places to draw."""
        luma = self._luma.copy()
        if scenes:
            self._draw(luma, scenes, [box_round(self.view, at, 0.05) for at in moving_m])
        self._count += 1
        return np.clip(np.round(luma + self._noise[self._count % 5]), 0, 255).astype(np.uint8)


def _without_things(scene):
    return replace(scene, hole_m=None, balls_m=(), tees=(), dark=())


def _spots(scene):
    holes = () if scene.hole_m is None else (scene.hole_m,)
    return [*holes, *scene.balls_m, *(tee.at_m for tee in scene.tees), *(spot[:2] for spot in scene.dark)]


def _clipped(view, box):
    x0, y0, x1, y1 = box
    return max(0, x0), max(0, y0), min(view.width, x1), min(view.height, y1)


def _fine(view, scenes, box, n):
    """Linear light of a box with n x n rays a pixel, mean of all scenes: (h, w, 3)."""
    x0, y0, x1, y1 = box
    step = (np.arange(n) + 0.5) / n - 0.5
    rows, columns = (np.arange(a, b)[:, None] + step for a, b in ((y0, y1), (x0, x1)))
    v, u = np.meshgrid(rows.ravel(), columns.ravel(), indexing="ij")
    px = np.column_stack([u.ravel(), v.ravel()])
    fresh = np.mean([light(view, scene, px) for scene in scenes], axis=0)
    return fresh.reshape(y1 - y0, n, x1 - x0, n, 3).mean(axis=(1, 3))


@lru_cache(maxsize=8)
def _bare(view, scene, n):
    """Linear light of a whole picture of grass: (h, w, 3)."""
    bands = range(0, view.height, 60)
    return np.concatenate(
        [_fine(view, [scene], (0, y, view.width, min(y + 60, view.height)), n) for y in bands]
    )


def _coded(rgb, blur_px, gamma):
    """Luma and colour differences before rounding, from linear light."""
    blurred = cv2.GaussianBlur(rgb, (0, 0), blur_px) if blur_px else rgb
    coded = np.clip(blurred, 0, 1) ** (1 / gamma)
    # ITU-R BT.709, items 3.2 to 3.4, 8 bit
    luma = coded @ (0.2126, 0.7152, 0.0722)
    cb, cr = (coded[..., 2] - luma) / 1.8556, (coded[..., 0] - luma) / 1.5748
    return 16 + 219 * luma, 128 + 224 * cb, 128 + 224 * cr


def box_round(view, at_m, margin_m, top_m=0.05):
    """The pixels round a place on the plane, for ``film``'s ``fine``."""
    x, y = at_m
    corners = [
        (x + a * margin_m, y + b * margin_m, z) for a in (-1, 1) for b in (-1, 1) for z in (0.0, top_m)
    ]
    px = view.project(corners)
    x0, y0 = np.floor(px.min(axis=0)).astype(int) - 4
    x1, y1 = np.ceil(px.max(axis=0)).astype(int) + 5
    return int(x0), int(y0), int(x1), int(y1)
