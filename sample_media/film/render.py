"""Frame by frame: the still backdrop, shadows, body, tees, balls, putter and arms, in linear light.

Only boxes in which something moves are made anew; the rest of the frame comes from a kept picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_media.film import body, figure, ground, limbs, sensor, shot
from sample_media.film.body import Layer
from sample_media.film.boxes import Box, merged, overlap
from sample_media.film.optics import View, sway_turn, views_of
from sample_media.film.play import Post, Script
from sample_media.film.scene import Putter
from sample_media.film.shot import Shot
from sample_media.film.walk import is_walking, walker_sticks

Image = NDArray[np.float32]
Array = NDArray[np.float64]

SUN_RGB = np.array([1.04, 1.0, 0.92], np.float32)
SKY_RGB = np.array([0.86, 0.95, 1.12], np.float32)
MARGIN = 4


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame as it goes to the encoder."""

    number: int
    time_s: float
    yuv: NDArray[np.uint8]
    """planar 4:2:0, shape (height * 3 / 2, width)"""


@dataclass(frozen=True, slots=True)
class Sprite:
    """Something to be laid over the backdrop, with one depth to sort by."""

    box: Box
    sky: Image
    sun: Image
    alpha: Image
    depth_m: float
    depth: Image | None = None


def frame_times(script: Script) -> list[float]:
    """Middle of the first row's exposure of every frame, in seconds from the first frame's."""
    camera, duration_s = script.scene.camera, script.scene.duration_s
    n = round(duration_s * camera.fps)
    if not camera.variable_rate:
        return [i / camera.fps for i in range(n)]
    rng = np.random.default_rng([script.scene.seed, 41])
    # Whole periods with a wander of a tenth, and about one frame in fifty lost.
    kept = [i for i in range(n) if i == 0 or rng.random() > 0.02]
    return [0.0 if i == 0 else round((i + rng.uniform(-0.1, 0.1)) / camera.fps, 5) for i in kept]


def render(script: Script) -> Iterator[Frame]:
    """All frames of a clip in order."""
    scene = script.scene
    stages = [(at, Stage(script, view)) for at, view in views_of(scene.camera)]
    size = scene.camera.width, scene.camera.height
    developer = sensor.Developer(scene.light, sensor.Grain(scene.light, scene.seed, *size), *size)
    before: Stage | None = None
    for number, t in enumerate(frame_times(script)):
        stage = next(s for at, s in reversed(stages) if t >= at - 1e-9)
        light = stage.frame(t)
        changed = stage.changed if stage is before else None
        if scene.camera.sway is not None:
            light, changed = _turned(light, stage.view, sway_turn(scene.camera.sway, t)), None
        yield Frame(number, t, developer.frame(light, sensor.exposure(scene.light, scene.seed, t), changed))
        before = stage


def _turned(light: NDArray[np.uint16], view: View, turn: Array) -> NDArray[np.uint16]:
    """A picture as the camera sees it when turned about its lens: exact but for the sampling."""
    if np.any(view.distortion):
        raise ValueError("a camera that sways must have a lens without distortion")
    across = view.matrix @ turn @ np.linalg.inv(view.matrix)
    size = (view.width, view.height)
    return cv2.warpPerspective(
        light, across, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT
    ).clip(0, sensor.STEPS - 1)


class Stage:
    """Everything that is kept for one view, and the frame being made."""

    def __init__(self, script: Script, view: View) -> None:
        scene = script.scene
        self.script, self.scene, self.view, self.camera = script, scene, view, scene.camera
        self.to_sun = ground.sun_direction(scene.light.azimuth_deg, scene.light.elevation_deg)
        self.backdrop = ground.render(scene, view)
        u, v = np.meshgrid(np.arange(view.width), np.arange(view.height))
        self.rays = view.rays(u, v)
        shape = (view.height, view.width)
        self.open_sun, self.open_sky = np.ones(shape, np.float32), np.ones(shape, np.float32)
        self.body: Layer | None = None
        self.frame_joints: figure.Frame | None = None
        if scene.golfer is not None:
            self.open_sun, self.open_sky = body.ground_shade(scene.golfer, view, self.to_sun)
            self.body = body.render(scene.golfer, view, self.to_sun)
            self.frame_joints = figure.joints(scene.golfer)
        self.tees = [t for post in script.posts if (t := self._tee(post)) is not None]
        self.resting: dict[object, Shot] = {}
        self.still_sun = -1.0
        self.still: NDArray[np.uint16] | None = None
        self.current: NDArray[np.uint16] | None = None
        self.dirty: list[Box] = []
        self.changed: list[Box] | None = None
        """Boxes in which the newest frame differs from the one before; None: all of it."""
        self.shots: dict[int, tuple[object, Shot | None]] = {}
        self.sway_cache: dict[int, Layer] = {}
        self.actor_cache: tuple[object, list[Sprite], Image, Box] | None = None

    # ------------------------------------------------------------ one frame
    def frame(self, t: float) -> NDArray[np.uint16]:
        """Light of one frame as places in the tone table, shape (height, width, 3)."""
        sun_share = round(sensor.sun_share(self.scene.light, t) * 400) / 400
        moving: list[Shot] = []
        lying: list[Shot] = []
        resting: dict[object, Shot] = {}
        for i, life in enumerate(self.script.balls):
            if not life.visible(t):
                continue
            found, still, place = self._shot(i, t)
            if found is None:
                continue
            if still:
                lying.append(found)
                resting[i, place] = found
            else:
                moving.append(found)
        self.changed = self._set_still(resting, sun_share)
        assert self.current is not None
        assert self.still is not None
        for left, top, right, bottom in self.dirty:
            self.current[top:bottom, left:right] = self.still[top:bottom, left:right]
        actors, shadow, boxes = self._actors(t)
        layer = self._swayed(self._sway(t))
        boxes = boxes + [b for s in moving for b in (s.box, s.shade_box)]
        if layer is not None:
            h, w = layer.alpha.shape
            boxes.append((layer.left, layer.top, layer.left + w, layer.top + h))
        old, self.dirty = self.dirty, merged([self._wider(b) for b in boxes])
        if self.changed is not None:
            self.changed = merged([*self.changed, *old, *self.dirty])
        for box in self.dirty:
            outer = self._wider(box)
            light = sensor.lens(self._compose(outer, lying + moving, actors, shadow, layer, sun_share))
            left, top, right, bottom = box
            y, x = slice(top - outer[1], bottom - outer[1]), slice(left - outer[0], right - outer[0])
            self.current[top:bottom, left:right] = sensor.index(light[y, x])
        return self.current

    def _set_still(self, resting: dict[object, Shot], sun_share: float) -> list[Box] | None:
        """Keep the picture of all that stands still; gives the boxes made anew, None for all of it."""
        if self.still is None or sun_share != self.still_sun:
            made: list[Box] | None = None
            boxes = [(0, 0, self.view.width, self.view.height)]
            self.still = np.empty((self.view.height, self.view.width, 3), np.uint16)
            self.current = np.empty_like(self.still)
            self.dirty = []
        else:
            other = [
                s
                for a, b in ((resting, self.resting), (self.resting, resting))
                for k, s in a.items()
                if k not in b
            ]
            made = boxes = merged([self._wider(b) for s in other for b in (s.box, s.shade_box)])
        for box in boxes:
            outer = self._wider(box)
            shots = list(resting.values())
            light = sensor.lens(self._compose(outer, shots, [], None, self._swayed(0), sun_share))
            left, top, right, bottom = box
            y, x = slice(top - outer[1], bottom - outer[1]), slice(left - outer[0], right - outer[0])
            self.still[top:bottom, left:right] = sensor.index(light[y, x])
            assert self.current is not None
            self.current[top:bottom, left:right] = self.still[top:bottom, left:right]
        self.resting, self.still_sun = resting, sun_share
        return made

    def _compose(
        self,
        box: Box,
        shots: list[Shot],
        actors: list[Sprite],
        shadow: tuple[Box, Image] | None,
        layer: Layer | None,
        sun_share: float,
    ) -> Image:
        """Linear light in a box, shape (h, w, 3), before the lens."""
        left, top, right, bottom = box
        y, x = slice(top, bottom), slice(left, right)
        sun, sky = self.open_sun[y, x].copy(), self.open_sky[y, x].copy()
        if shadow is not None and (cut := overlap(box, shadow[0])):
            here, there = cut
            sun[here] = np.minimum(sun[here], 1 - shadow[1][there])
        for s in shots:
            if cut := overlap(box, s.shade_box):
                here, there = cut
                sun[here] = np.minimum(sun[here], s.shade_sun[there])
                sky[here] *= s.shade_sky[there]
        sky_rgb = SKY_RGB * self.scene.light.sky
        sun_rgb = SUN_RGB * (self.scene.light.sun * sun_share)
        out = self.backdrop.sky[y, x] * (sky[..., None] * sky_rgb)
        out += self.backdrop.sun[y, x] * (sun[..., None] * sun_rgb)
        hide: Image | None = None
        hide_depth: Image | None = None
        if layer is not None:
            h, w = layer.alpha.shape
            if cut := overlap(box, (layer.left, layer.top, layer.left + w, layer.top + h)):
                here, there = cut
                colour = layer.sky[there] * sky_rgb + layer.sun[there] * sun_rgb
                out[here] = out[here] * (1 - layer.alpha[there])[..., None] + colour
                hide = np.zeros(out.shape[:2], np.float32)
                hide_depth = np.full(out.shape[:2], np.inf, np.float32)
                hide[here], hide_depth[here] = layer.alpha[there], layer.depth[there]
        sprites = [
            *self.tees,
            *actors,
            *(Sprite(s.box, s.sky, self._shaded(s, shadow), s.alpha, s.depth_m) for s in shots),
        ]
        for sprite in sorted(sprites, key=lambda s: -s.depth_m):
            cut = overlap(box, sprite.box)
            if not cut:
                continue
            here, there = cut
            alpha = sprite.alpha[there]
            colour = sprite.sky[there] * sky_rgb + sprite.sun[there] * sun_rgb
            if hide is not None and hide_depth is not None:
                depth = sprite.depth_m if sprite.depth is None else sprite.depth[there]
                free = 1 - hide[here] * (hide_depth[here] < depth - 0.015)
                alpha, colour = alpha * free, colour * free[..., None]
            out[here] = out[here] * (1 - alpha)[..., None] + colour
        return out.astype(np.float32)

    def _shaded(self, s: Shot, shadow: tuple[Box, Image] | None) -> Image:
        """A ball's sunlit part where a shadow falls on it, that of the player or of what moves."""
        u, v = (s.box[0] + s.box[2]) // 2, min((s.box[1] + 3 * s.box[3]) // 4, self.view.height - 1)
        u, v = min(u, self.view.width - 1), min(v, self.view.height - 1)
        share = float(self.open_sun[v, u])
        if shadow is not None and (cut := overlap((u, v, u + 1, v + 1), shadow[0])):
            share = min(share, 1 - float(shadow[1][cut[1]][0, 0]))
        return s.sun if share > 0.99 else s.sun * np.float32(max(share, 0.03))

    # ------------------------------------------------------------ balls and tees
    def _shot(self, i: int, t: float) -> tuple[Shot | None, bool, object]:
        life = self.script.balls[i]
        span = np.array([t - 0.02, t + 0.04])
        ends = life.place(span)
        still = bool(np.abs(ends[1] - ends[0]).max() < 1e-6) and (life.visible(t - 0.02) or t < 0.02)
        place = tuple(np.round(ends[0], 6)) if still else None
        if still and i in self.shots and self.shots[i][0] == place:
            return self.shots[i][1], True, place
        found = shot.shoot(
            self.view, self.camera, self.rays, life, t, self.to_sun, self.scene.hole, self.scene.ball,
            self.scene.ball_line_m,
        )  # fmt: skip
        if still:
            self.shots[i] = (place, found)
        return found, still, place

    def _tee(self, post: Post) -> Sprite | None:
        foot, tip = np.array([post.x, post.y, 0.0]), np.array([post.x, post.y, post.height_m])
        px = self.view.project(np.stack([foot, tip]))
        if not np.isfinite(px).all():
            return None
        wide = 3 * post.radius_m * self.view.px_per_m(foot) + 3
        box = self._box(px.min(axis=0) - wide, px.max(axis=0) + wide)
        if box is None:
            return None
        sticks = limbs.tee_sticks(post.x, post.y, post.radius_m, post.height_m, post.colour)
        canvas = self._canvas(box)
        for s in sticks:
            canvas.stick(s, self.to_sun)
        layer = canvas.layer()
        self._cast(sticks, self.open_sun)
        return Sprite(box, layer.sky, layer.sun, layer.alpha, float(self.view.depth(foot)))

    def _cast(self, sticks: list[limbs.Stick], onto: Image) -> None:
        """Darken the sun's share on the ground by the shadow of sticks."""
        mask, box = self._shadow(sticks)
        if box is not None:
            y, x = slice(box[1], box[3]), slice(box[0], box[2])
            onto[y, x] = np.minimum(onto[y, x], 1 - mask)

    # ------------------------------------------------------------ player, putter, helper
    def _sway(self, t: float) -> int:
        """Sideways sway at hip height in tenths of a pixel."""
        sway_m = 0.0035 * np.sin(0.9 * t + 1.0) + 0.002 * np.sin(2.3 * t)
        return round(10 * sway_m * self.view.px_per_m(np.array([0.0, 0.4, 0.9])))

    def _swayed(self, tenths: int) -> Layer | None:
        if self.body is None or tenths == 0:
            return self.body
        if tenths not in self.sway_cache:
            b = self.body
            h, w = b.alpha.shape
            lean = tenths / 10 / h
            warp = np.array([[1, -lean, lean * (h - 1)], [0, 1, 0]], np.float64)

            def bent(a: Image) -> Image:
                return cv2.warpAffine(a, warp, (w, h), flags=cv2.INTER_LINEAR)

            self.sway_cache[tenths] = Layer(b.left, b.top, bent(b.sky), bent(b.sun), bent(b.alpha), b.depth)
        return self.sway_cache[tenths]

    def _actors(self, t: float) -> tuple[list[Sprite], tuple[Box, Image] | None, list[Box]]:
        """What the player and helpers do: sprites, their shadow on the ground, boxes they touch."""
        golfer, frame = self.scene.golfer, self.frame_joints
        sprites: list[Sprite] = []
        casting: list[limbs.Stick] = []
        boxes: list[Box] = []
        middle_s = t + 0.4 * self.camera.readout_s
        if golfer is not None and frame is not None:
            swing = self.script.swing
            pose = self._row_pose(t)
            shaft, hands, up = limbs.shaft_sticks(self.scene.putter, pose, frame.mirror)
            arms = [*limbs.golfer_arms(golfer, frame, hands, up, swing.lead_hand_off(t)), shaft[2]]
            sprites += self._sprite([arms])
            sprites += self._blurred_putter(t, frame.mirror)
            casting += [*arms, *shaft, *_head_sticks(self.scene.putter, pose)]
        for reach in self.script.reaches:
            if reach.from_s <= t <= reach.to_s:
                hand = reach.hand(np.array([middle_s]))[0]
                arm = limbs.helper_arm(reach.shoulder, hand, (0.34, 0.20, 0.13), (0.10, 0.13, 0.20))
                sprites += self._sprite([arm])
                casting += arm
        for towel in self.scene.towels:
            sprites += self._sprite([[]], [limbs.towel_faces(towel, middle_s)])
        for walker in self.scene.walkers:
            instants = (-0.33, 0.0, 0.33) if is_walking(walker, t) else (0.0,)
            steps = [walker_sticks(walker, middle_s + i * self.camera.exposure_s) for i in instants]
            if all(steps):
                sprites += self._sprite(steps)
                casting += steps[len(steps) // 2]
        boxes += [s.box for s in sprites]
        if not casting:
            return sprites, None, boxes
        mask, box = self._shadow(casting)
        if box is None:
            return sprites, None, boxes
        return sprites, (box, mask), [*boxes, box]

    def _row_pose(self, t: float) -> Array:
        """Pose with the head as its rows saw it and the hands as theirs did."""
        swing, h = self.script.swing, self.camera.height
        pose = swing.pose(t)
        px = self.view.project(np.stack([pose[:3], pose[5:8]]))
        rows = np.clip(np.nan_to_num(px[:, 1]), 0, h)
        head = swing.pose(t + self.camera.readout_s * rows[0] / h)
        head[5:8] = swing.pose(t + self.camera.readout_s * rows[1] / h)[5:8]
        return head

    def _blurred_putter(self, t: float, mirror: float) -> list[Sprite]:
        half = self.camera.exposure_s / 2
        a, b = self._row_pose(t - half), self._row_pose(t + half)
        way = self.view.project(np.stack([a[:3], b[:3]]))
        blur_px = float(np.nan_to_num(np.hypot(*(way[1] - way[0]))))
        k = int(np.clip(np.ceil(blur_px / 1.2), 1, 6))
        instants = self.camera.exposure_s * ((np.arange(k) + 0.5) / k - 0.5)
        poses = [self._row_pose(t + i) for i in instants]
        sticks = [limbs.shaft_sticks(self.scene.putter, p, mirror)[0][:2] for p in poses]
        faces = [limbs.head_faces(self.scene.putter, p) for p in poses]
        depth_m = float(self.view.depth(poses[k // 2][:3]))
        return self._sprite(sticks, faces, depth_m)

    def _sprite(
        self,
        instants: list[list[limbs.Stick]],
        faces: list[list[limbs.Plate]] | None = None,
        depth_m: float | None = None,
    ) -> list[Sprite]:
        """Sticks (and faces under them) at several instants of the exposure, averaged; empty out of view."""
        plates: list[list[limbs.Plate]] = faces if faces is not None else [[] for _ in instants]
        box = self._around([s for group in instants for s in group], [f for group in plates for f in group])
        if box is None:
            return []
        sky, sun, alpha, depth = [], [], [], []
        middle = np.zeros(1)
        for sticks, group in zip(instants, plates, strict=True):
            canvas = self._canvas(box)
            canvas.plates(group, self.to_sun)
            middle = self.view.depth(
                np.array([(np.asarray(s.cone.a) + s.cone.b) / 2 for s in sticks] or [group[0].corners[0]])
            )
            for i in np.argsort(middle)[::-1][: len(sticks)]:
                canvas.stick(sticks[i], self.to_sun)
            for total, part in zip(
                (sky, sun, alpha, depth), (canvas.sky, canvas.sun, canvas.alpha, canvas.depth), strict=True
            ):
                total.append(part)
        k = np.float32(1 / len(instants))
        near = float(middle.min()) if depth_m is None else depth_m
        return [Sprite(box, sum(sky) * k, sum(sun) * k, sum(alpha) * k, near, np.minimum.reduce(depth))]

    def _shadow(self, sticks: list[limbs.Stick]) -> tuple[Image, Box | None]:
        """Shadow of sticks on the ground, 0 to 1, and its box; edges softer from higher up."""
        outlines = []
        for s in sticks:
            a, b = np.asarray(s.cone.a, float), np.asarray(s.cone.b, float)
            a[2], b[2] = max(a[2], 0.0), max(b[2], 0.0)
            px = self.view.project(body.shadow_outline(a, b, s.cone.ra, s.cone.rb, self.to_sun))
            if np.isfinite(px).all() and np.abs(px).max() < 20000:
                outlines.append((px, (a[2] + b[2]) / 2))
        if not outlines:
            return np.zeros((0, 0), np.float32), None
        every = np.concatenate([px for px, _ in outlines])
        box = self._box(every.min(axis=0) - 6, every.max(axis=0) + 6)
        if box is None:
            return np.zeros((0, 0), np.float32), None
        left, top, right, bottom = box
        scale = float(self.view.matrix[0, 0]) / 3.5
        out = np.zeros((bottom - top, right - left), np.float32)
        for low, high, soft_m in ((0.0, 0.12, 0.0004), (0.12, 0.6, 0.0016), (0.6, 9.9, 0.0045)):
            mask = np.zeros(out.shape, np.uint8)
            for px, z in outlines:
                if low <= z < high:
                    hull = cv2.convexHull(((px - (left, top)) * 16).astype(np.float32)).astype(np.int32)
                    cv2.fillConvexPoly(mask, hull, 255, lineType=cv2.LINE_AA, shift=4)
            if mask.any():
                soft = cv2.GaussianBlur(mask, (0, 0), max(soft_m * scale, 0.3))
                np.maximum(out, soft.astype(np.float32) / 255, out=out)
        return out, box

    # ------------------------------------------------------------ boxes
    def _canvas(self, box: Box) -> limbs.Canvas:
        return limbs.Canvas(self.rays, self.view.centre, self.view, box)

    def _around(self, sticks: list[limbs.Stick], faces: list[limbs.Plate]) -> Box | None:
        points, wide = [], 0.0
        for s in sticks:
            points += [s.cone.a, s.cone.b]
            wide = max(wide, s.cone.ra, s.cone.rb)
        for f in faces:
            points += [tuple(c) for c in f.corners]
        at = np.array(points)
        at = at[self.view.depth(at) > 0.2]
        if not len(at):
            return None
        pad = wide * self.view.matrix[0, 0] / float(self.view.depth(at).min()) * 1.2 + 3
        px = self.view.project(at)
        return self._box(px.min(axis=0) - pad, px.max(axis=0) + pad)

    def _box(self, low: Array, high: Array) -> Box | None:
        x0, y0 = max(int(np.floor(low[0])), 0), max(int(np.floor(low[1])), 0)
        x1, y1 = min(int(np.ceil(high[0])), self.view.width), min(int(np.ceil(high[1])), self.view.height)
        return (x0, y0, x1, y1) if x0 < x1 and y0 < y1 else None

    def _wider(self, box: Box) -> Box:
        return (
            max(box[0] - MARGIN, 0),
            max(box[1] - MARGIN, 0),
            min(box[2] + MARGIN, self.view.width),
            min(box[3] + MARGIN, self.view.height),
        )


def _head_sticks(p: Putter, pose: Array) -> list[limbs.Stick]:
    turn = limbs.head_turn(pose)
    ends = [
        pose[:3] + turn @ np.array([-0.012, side * (p.length_m / 2 - 0.01), 0.012]) for side in (-1.0, 1.0)
    ]
    return [limbs.Stick(limbs.cone(ends[0], ends[1], 0.014, 0.014), p.colour)]
