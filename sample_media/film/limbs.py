"""What moves in front of the backdrop: arms, hands, shaft, putter head, tees.

Rounded cones are drawn by the closest approach of each pixel's ray to their axis, with the edge's share of
the pixel; the putter head is made of boxes, filled several times finer than the picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from sample_media.film.body import Layer
from sample_media.film.figure import Cone, Frame
from sample_media.film.optics import View
from sample_media.film.scene import Golfer, Putter, Rgb, Towel

Image = NDArray[np.float32]
Array = NDArray[np.float64]

GREEN_BOUNCE = np.array([0.10, 0.16, 0.05], np.float32)
GRIP_M = 0.22
"""Length of the grip below the butt."""
SHAFT_M = 0.86


@dataclass(frozen=True, slots=True)
class Stick:
    """A rounded cone with its material."""

    cone: Cone
    colour: Rgb
    shine: float = 0.0
    """0 cloth or skin, 1 polished metal"""
    open_end: bool = False
    """Cut off flat at the far end, as a sleeve is."""


@dataclass(frozen=True, slots=True)
class Plate:
    """A convex flat face of the putter head, corners counter-clockwise seen from outside."""

    corners: Array
    colour: Rgb
    shine: float


class Canvas:
    """A box of the picture that moving things are drawn into, farthest first."""

    def __init__(self, rays: Image, eye: Array, view: View, box: tuple[int, int, int, int]) -> None:
        self.left, self.top, self.right, self.bottom = box
        shape = (self.bottom - self.top, self.right - self.left)
        self.rays, self.eye, self.view = rays, eye.astype(np.float32), view
        self.sky = np.zeros((*shape, 3), np.float32)
        self.sun = np.zeros((*shape, 3), np.float32)
        self.alpha = np.zeros(shape, np.float32)
        self.depth = np.full(shape, np.inf, np.float32)

    def layer(self) -> Layer:
        return Layer(self.left, self.top, self.sky, self.sun, self.alpha, self.depth)

    def put(self, y: slice, x: slice, sky: Image, sun: Image, alpha: Image, depth: Image) -> None:
        """Lay premultiplied colour over what is farther off and under what is nearer."""
        front = depth < self.depth[y, x]
        old = np.where(front, 1 - alpha, 1)[..., None]
        new = np.where(front, 1, 1 - self.alpha[y, x])[..., None]
        self.sky[y, x] = self.sky[y, x] * old + sky * new
        self.sun[y, x] = self.sun[y, x] * old + sun * new
        self.alpha[y, x] = self.alpha[y, x] * old[..., 0] + alpha * new[..., 0]
        self.depth[y, x] = np.where(front & (alpha > 0.5), depth, self.depth[y, x])

    def stick(self, s: Stick, to_sun: Array) -> None:
        """Draw one rounded cone."""
        a, b = np.asarray(s.cone.a, float), np.asarray(s.cone.b, float)
        px = self.view.project(np.stack([a, b]))
        if not np.isfinite(px).all():
            return
        wide = max(s.cone.ra * self.view.px_per_m(a), s.cone.rb * self.view.px_per_m(b)) * 1.3 + 2
        x0, y0 = (
            max(int(v), lo) for v, lo in zip(np.floor(px.min(0) - wide), (self.left, self.top), strict=True)
        )
        x1, y1 = (
            min(int(v), hi)
            for v, hi in zip(np.ceil(px.max(0) + wide), (self.right, self.bottom), strict=True)
        )
        if x0 >= x1 or y0 >= y1:
            return
        d = self.rays[y0:y1, x0:x1]
        af, ab = a.astype(np.float32), (b - a).astype(np.float32)
        w0 = self.eye - af
        long, dw = np.float32(max(ab @ ab, 1e-12)), np.float32(ab @ w0)
        along, e = d @ ab, d @ w0
        # A cut end needs the axis a little beyond it, for the near side of the cut.
        last = 1 + 2 * max(s.cone.ra, s.cone.rb) / float(np.sqrt(long)) if s.open_end else 1.0
        share = np.clip((dw - along * e) / np.maximum(long - along * along, 1e-9), 0, np.float32(last))
        t = share * along - e
        off = w0 + t[..., None] * d - share[..., None] * ab
        gap = np.sqrt(np.einsum("ijk,ijk->ij", off, off))
        radius = np.float32(s.cone.ra) + np.float32(s.cone.rb - s.cone.ra) * share
        scale = np.float32(self.view.matrix[0, 0]) / np.maximum(t, 0.1)
        # A stick thinner than a pixel covers its width of it.
        cover = np.clip((radius - gap) * scale + 0.5, 0, np.minimum(1.0, 2 * radius * scale))
        k = np.minimum(gap / radius, 1.0)
        lift = np.sqrt(1 - k * k)
        if s.open_end:
            ended = ((w0 + (t - lift * radius)[..., None] * d) @ ab) / long  # where the surface is met
            cover = cover * np.clip((1 - ended) * np.sqrt(long) * scale + 0.5, 0, 1)
        if not cover.any():
            return
        normal = off / radius[..., None] - lift[..., None] * d
        if s.cone.ra > 0.05:  # cloth hangs in folds
            p = self.eye + t[..., None] * d - af
            x, y, z = p[..., 0], p[..., 1], p[..., 2]
            bend = (
                np.sin(7 * z + 11 * x + 1.7) + np.sin(9 * y - 6 * z) + 0.5 * np.sin(23 * x + 19 * y - 8 * z)
            )
            slack = 0.5 + 0.5 * np.sin(6.3 * z + 4.1 * x - 5.2 * y)
            wave = slack * np.sin(27 * z + 19 * x + 2.9 * bend)
            wave += 0.6 * np.sin(24 * x - 21 * y + 7 * z + 2.6 * bend)
            normal = normal + (0.13 * wave)[..., None] * np.array([0.5, 0.5, 1.0], np.float32)
        normal /= np.linalg.norm(normal, axis=-1, keepdims=True) + 1e-6
        sky, sun = _lit(normal, d, np.asarray(s.colour, np.float32), s.shine, to_sun)
        rows, columns = slice(y0 - self.top, y1 - self.top), slice(x0 - self.left, x1 - self.left)
        depth = (t - lift * radius) * (d @ self.view.rotation[2].astype(np.float32))
        self.put(rows, columns, sky * cover[..., None], sun * cover[..., None], cover, depth)

    def plates(self, faces: Sequence[Plate], to_sun: Array, n: int = 4) -> None:
        """Draw the faces that look this way of a body made of convex boxes, far boxes first."""
        seen = [f for f in faces if _outward(f.corners) @ (self.view.centre - f.corners[0]) > 0]
        if not seen:
            return
        rings = [self.view.project(f.corners) for f in seen]
        every = np.concatenate(rings)
        if not np.isfinite(every).all():
            return
        x0, y0 = (
            max(int(v), lo) for v, lo in zip(np.floor(every.min(0)) - 1, (self.left, self.top), strict=True)
        )
        x1, y1 = (
            min(int(v), hi)
            for v, hi in zip(np.ceil(every.max(0)) + 2, (self.right, self.bottom), strict=True)
        )
        if x0 >= x1 or y0 >= y1:
            return
        h, w = y1 - y0, x1 - x0
        sky, sun = np.zeros((h * n, w * n, 3), np.float32), np.zeros((h * n, w * n, 3), np.float32)
        mask = np.zeros((h * n, w * n), np.float32)
        look = (seen[0].corners.mean(axis=0) - self.view.centre).astype(np.float32)
        look /= np.linalg.norm(look)
        for face, ring in zip(seen, rings, strict=True):
            corners = np.rint(((ring - (x0, y0) + 0.5) * n - 0.5) * 16).astype(np.int32)
            a, b = _lit(
                _outward(face.corners).astype(np.float32),
                look,
                np.asarray(face.colour, np.float32),
                face.shine,
                to_sun,
            )
            cv2.fillConvexPoly(sky, corners, tuple(map(float, a)), shift=4)
            cv2.fillConvexPoly(sun, corners, tuple(map(float, b)), shift=4)
            cv2.fillConvexPoly(mask, corners, (1.0,), shift=4)
        size = (w, h)
        small = [cv2.resize(i, size, interpolation=cv2.INTER_AREA) for i in (sky, sun, mask)]
        depth = np.full((h, w), float(self.view.depth(seen[0].corners.mean(axis=0))), np.float32)
        y, x = slice(y0 - self.top, y1 - self.top), slice(x0 - self.left, x1 - self.left)
        self.put(y, x, small[0], small[1], small[2], depth)


def _outward(corners: Array) -> Array:
    n = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    return n / (np.linalg.norm(n) + 1e-12)


def _lit(normal: Image, look: Image, colour: Image, shine: float, to_sun: Array) -> tuple[Image, Image]:
    """What sky and sun make of a surface; metal mirrors both."""
    s = to_sun.astype(np.float32)
    up = (0.5 + 0.5 * normal[..., 2])[..., None]
    facing = np.clip(normal @ s, 0, None)[..., None] / np.float32(max(s[2], 0.2))
    bounce = GREEN_BOUNCE * (1 - up)
    sky = colour * (up + bounce)
    sun = colour * (facing * np.float32(0.9) + bounce)
    if shine:
        mirror = look - 2 * np.sum(look * normal, axis=-1, keepdims=True) * normal
        high = np.clip(mirror[..., 2:3], 0, 1)
        glint = np.clip(np.sum(mirror * s, axis=-1, keepdims=True), 0, 1) ** 40
        sky = sky * (1 - 0.6 * shine) + np.float32(shine * 0.5) * high
        sun = sun * (1 - 0.5 * shine) + np.float32(shine * 2.2) * glint + np.float32(shine * 0.25) * high
    return sky.astype(np.float32), sun.astype(np.float32)


# ---------------------------------------------------------------- shapes
def head_faces(putter: Putter, pose: Array) -> list[Plate]:
    """Faces of the putter head at a pose (face centre, yaw, pitch)."""
    length, deep, high = putter.length_m, putter.depth_m, putter.height_m
    blade = _box((-0.013, 0.0), (-length / 2, length / 2), (0.003, high), 0.0015)
    flange = _box((-deep, -0.011), (-length / 2 + 0.012, length / 2 - 0.012), (0.003, 0.012), 0.002)
    line = np.array(
        [
            [-deep + 0.004, -0.0012, 0.0122],
            [-0.014, -0.0012, 0.0122],
            [-0.014, 0.0012, 0.0122],
            [-deep + 0.004, 0.0012, 0.0122],
        ]
    )
    out = [Plate(f, putter.colour, 0.35) for f in flange]
    out.append(Plate(line, (0.8, 0.8, 0.78), 0.0))
    out += [Plate(f, putter.colour, 0.45) for f in blade]
    turn = head_turn(pose)
    return [Plate(f.corners @ turn.T + pose[:3], f.colour, f.shine) for f in out]


def towel_faces(towel: Towel, t_s: float) -> list[Plate]:
    """A towel's upper side where it lies at a time; drawn away within a second."""
    pulled = np.clip((t_s - towel.away_s) / 0.8, 0, 1) ** 2
    a = np.radians(towel.turn_deg)
    w, h = towel.size_m[0] / 2, towel.size_m[1] / 2
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    flat = (
        np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) @ turn.T + towel.at + pulled * np.array(towel.away_m)
    )
    return [Plate(np.column_stack([flat, np.full(4, 0.004)]), towel.colour, 0.0)]


def head_turn(pose: Array) -> Array:
    """Rotation of the head: yaw about z, nose up by pitch."""
    yaw, pitch = pose[3], pose[4]
    c, s, cp, sp = np.cos(yaw), np.sin(yaw), np.cos(pitch), np.sin(pitch)
    return np.array([[c * cp, -s, -c * sp], [s * cp, c, -s * sp], [sp, 0, cp]])


def _box(x: tuple[float, float], y: tuple[float, float], z: tuple[float, float], bevel: float) -> list[Array]:
    """Faces of a box whose top is a little smaller than its bottom."""
    (x0, x1), (y0, y1), (z0, z1) = x, y, z
    low = [(x0, y0, z0), (x1, y0, z0), (x1, y1, z0), (x0, y1, z0)]
    b = bevel
    shoulder = [(p[0], p[1], z1 - b) for p in low]
    top = [(x0 + b, y0 + b, z1), (x1 - b, y0 + b, z1), (x1 - b, y1 - b, z1), (x0 + b, y1 - b, z1)]
    faces = [top]
    for ring, over in ((low, shoulder), (shoulder, top)):
        for i in range(4):
            j = (i + 1) % 4
            faces.append([ring[i], ring[j], over[j], over[i]])
    return [np.array(f) for f in faces]


def shaft_sticks(putter: Putter, pose: Array, mirror: float) -> tuple[list[Stick], Array, Array]:
    """Hosel, shaft and grip; also a point on the grip and the unit vector up the shaft."""
    turn = head_turn(pose)
    socket = pose[:3] + turn @ np.array([-0.007, mirror * putter.length_m * 0.30, putter.height_m - 0.004])
    hands = pose[5:8]
    up = (hands - socket) / np.linalg.norm(hands - socket)
    neck = socket + 0.045 * up
    butt = socket + SHAFT_M * up
    grip = butt - GRIP_M * up
    metal: Rgb = (0.42, 0.42, 0.43)
    return (
        [
            Stick(cone(socket, neck, 0.0065, 0.0055), putter.colour, 0.4),
            Stick(cone(neck, grip, 0.0045, 0.0062), metal, 0.8),
            Stick(cone(grip, butt, 0.0125, 0.0145), putter.grip, 0.05),
        ],
        hands,
        up,
    )


def cone(a: ArrayLike, b: ArrayLike, ra: float, rb: float) -> Cone:
    p, q = np.asarray(a, float), np.asarray(b, float)
    return Cone((p[0], p[1], p[2]), (q[0], q[1], q[2]), ra, rb)


def hand_sticks(centre: Array, along: Array, out: Array, skin: Rgb, wrist: Array, side: float) -> list[Stick]:
    """A fist round the grip; ``along`` points up the grip, ``out`` away from the player."""
    across = np.cross(along, out)
    across /= np.linalg.norm(across)
    back = centre - 0.012 * out + side * 0.012 * across
    sticks = [
        Stick(cone(wrist, back + 0.012 * along, 0.026, 0.031), skin),
        Stick(cone(back + 0.022 * along, back - 0.028 * along, 0.031, 0.027), skin),
    ]
    for k in range(4):
        at = centre + (0.034 - 0.021 * k) * along
        knuckle = at + side * 0.027 * across + 0.006 * out
        tip = at - side * 0.014 * across + 0.024 * out
        shade = 1.0 - 0.05 * (k % 2)
        sticks.append(
            Stick(cone(knuckle, tip, 0.0115, 0.0095), (skin[0] * shade, skin[1] * shade, skin[2] * shade))
        )
    thumb = centre + 0.017 * out
    sticks.append(Stick(cone(thumb + 0.03 * along, thumb - 0.035 * along, 0.011, 0.009), skin))
    return sticks


def arm_sticks(
    shoulder: Array, wrist: Array, outward: Array, golfer: Golfer, upper_m: float, lower_m: float
) -> list[Stick]:
    """Sleeve, upper arm and forearm with the elbow where two bones of these lengths put it."""
    elbow, _ = bent_limb(shoulder, wrist, outward, upper_m, lower_m)
    cuff = shoulder + 0.80 * (elbow - shoulder)
    return [
        Stick(cone(shoulder, elbow, 0.046, 0.038), golfer.skin),
        Stick(cone(elbow, wrist, 0.041, 0.026), golfer.skin),
        Stick(cone(shoulder, cuff, 0.062, 0.056), golfer.shirt, 0.0, True),
    ]


def bent_limb(root: Array, end: Array, towards: Array, upper_m: float, lower_m: float) -> tuple[Array, Array]:
    """Where two bones from ``root`` to ``end`` meet, bent ``towards``; and the end they reach."""
    way = end - root
    reach = float(np.linalg.norm(way))
    full = min(reach, upper_m + lower_m - 1e-3)
    cos = (upper_m**2 + full**2 - lower_m**2) / (2 * upper_m * full)
    unit = way / reach
    side = towards - (towards @ unit) * unit
    side /= np.linalg.norm(side) + 1e-9
    joint = root + upper_m * (cos * unit + np.sqrt(max(1 - cos * cos, 0)) * side)
    return joint, root + full * unit


def golfer_arms(golfer: Golfer, frame: Frame, hands: Array, up: Array, lead_off: float) -> list[Stick]:
    """Both arms with hands on the grip; the lead hand hangs at the side where ``lead_off`` is 1."""
    s, m = frame.scale, frame.mirror
    out = np.array([0.0, -m, 0.0]) - (np.array([0.0, -m, 0.0]) @ up) * up
    out /= np.linalg.norm(out)
    trail = hands
    lead_grip = hands + 0.085 * up
    aside = frame.lead_shoulder + np.array([0.13, m * 0.16, -0.60 * s])
    lead = lead_grip + lead_off * (aside - lead_grip)
    sticks: list[Stick] = []
    for shoulder, hand, side in ((frame.lead_shoulder, lead, 1.0), (frame.trail_shoulder, trail, -1.0)):
        wrist = hand + 0.055 * up - 0.035 * out + np.array([side * 0.028, 0, 0])
        elbow_to = np.array([side * 0.75, m * 0.5, -0.25])
        sticks += arm_sticks(shoulder, wrist, elbow_to, golfer, 0.325 * s, 0.285 * s)
        sticks += hand_sticks(hand, up, out, golfer.skin, wrist, side * m)
    return sticks


def helper_arm(shoulder: Array, hand: Array, skin: Rgb, sleeve: Rgb) -> list[Stick]:
    """A helper's arm that picks a ball up from above with the fingertips at ``hand``."""
    palm = hand + np.array([0, 0, 0.075])
    toward = shoulder - palm
    toward /= np.linalg.norm(toward)
    wrist = palm + 0.07 * toward
    elbow = wrist + 0.26 * toward + np.array([0, 0, -0.02])
    sticks = [
        Stick(cone(elbow, elbow + 0.8 * (toward + np.array([0, 0, 0.15])), 0.062, 0.085), sleeve),
        Stick(cone(wrist, elbow, 0.028, 0.043), skin),
        Stick(cone(elbow, wrist + 0.09 * toward, 0.061, 0.049), sleeve, 0.0, True),
        Stick(cone(wrist, palm, 0.026, 0.036), skin),
    ]
    side = np.cross(toward, (0, 0, 1.0))
    side /= np.linalg.norm(side) + 1e-9
    flat = np.array([toward[0], toward[1], 0.0])
    for k in (-1.5, -0.5, 0.5, 1.5):
        root = palm + 0.016 * k * side - 0.02 * flat
        tip = hand + 0.010 * k * side - 0.024 * flat + (0, 0, 0.012)
        sticks.append(Stick(cone(root, tip, 0.0115, 0.0085), skin))
    sticks.append(Stick(cone(palm + 0.02 * flat, hand + 0.024 * flat + (0, 0, 0.012), 0.013, 0.010), skin))
    return sticks


def tee_sticks(x: float, y: float, radius: float, height: float, colour: Rgb) -> list[Stick]:
    """A golf tee stuck in the ground: stem and a wider cup."""
    return [
        Stick(cone((x, y, height - 0.006), (x, y, 0.0), radius, radius), colour, 0.0, True),
        Stick(cone((x, y, height - 0.007), (x, y, height - 0.001), radius * 1.2, radius * 1.9), colour),
    ]
