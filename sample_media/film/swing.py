"""How the putter is held and swung at any time of a clip: practice strokes, strokes, raking balls in."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.physics import BALL_RADIUS_M as R_BALL
from sample_media.film.roll import Roll
from sample_media.film.scene import Point, Putt, Scene

Array = NDArray[np.float64]

BACK_S, DOWN_S, THROUGH_S = 0.72, 0.30, 0.42
HOLD_S = 0.55
PRACTICE_S = 1.45
RAKE_S = 1.15
HEAD_SPEED_SHARE = 1 / 1.6
"""Putter head speed over ball speed at impact; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Played:
    """A putt with its path."""

    number: int
    putt: Putt
    roll: Roll
    covered: Roll
    """the same stroke over a covered hole"""
    launch: Point


def ease(s: ArrayLike) -> Array:
    """Smooth way from 0 to 1 with no jerk at the ends."""
    s = np.clip(np.asarray(s, dtype=float), 0, 1)
    return s**3 * (10 - 15 * s + 6 * s * s)


class Swing:
    """Pose of the putter at any time: (face centre x, y, z, yaw, pitch, hands x, y, z)."""

    def __init__(self, scene: Scene, played: tuple[Played, ...]) -> None:
        self.golfer = scene.golfer
        self.mirror = -1.0 if scene.golfer is not None and scene.golfer.left_handed else 1.0
        self.parts: list[tuple[float, float, Callable[[float], Array]]] = []
        self.rakes: dict[int, tuple[float, Point, Point]] = {}
        pile = list(scene.other_balls)
        free_s = -10.0
        for p in played:
            stroke_s = p.putt.impact_s - BACK_S - DOWN_S
            practice_s = stroke_s - 0.45 - p.putt.practice * PRACTICE_S
            if p.putt.bring == "rake":
                if not pile:
                    raise ValueError(f"putt {p.number} is raked in, but no ball is left in other_balls")
                begin = p.putt.bring_s if p.putt.bring_s is not None else practice_s - RAKE_S
                if begin < free_s + 0.3 and self.golfer is not None:
                    raise ValueError(f"putt {p.number}: no time to rake a ball in before {stroke_s:.2f} s")
                spot = pile.pop(0)
                self.rakes[p.number] = (begin, spot, p.putt.start)
                self.parts.append((begin, begin + RAKE_S, self._rake(begin, spot, p.putt.start)))
            for k in range(p.putt.practice):
                self.parts.append(
                    self._stroke(practice_s + k * PRACTICE_S + BACK_S + DOWN_S, p, practice=True)
                )
            if stroke_s < free_s and self.golfer is not None:
                raise ValueError(f"putt {p.number} begins before the one before is over ({free_s:.2f} s)")
            self.parts.append(self._stroke(p.putt.impact_s, p, practice=False))
            free_s = p.putt.impact_s + THROUGH_S + HOLD_S
        if not self.parts:
            idle = np.array([-0.03, 0.0, 0.0, 0.0, 0.0, *self._hands(0.0, 0.0)])
            self.parts.append((0.0, 0.0, lambda _t: idle))
        self.alone = tuple(
            (p.putt.impact_s, scene.golfer is not None and p.number in scene.golfer.trail_hand_only)
            for p in played
        )

    def pose(self, t: float) -> Array:
        """Pose at a time, shape (8,)."""
        before = None
        for begin, end, motion in self.parts:
            if t < begin:
                if before is None:
                    return motion(begin)
                old_end, old = before
                span = min(begin - old_end, 0.95)
                s = float(ease((t - old_end) / span)) if span > 0 else 1.0
                a, b = old(old_end), motion(begin)
                out = a + s * (b - a)
                if np.hypot(*(b - a)[:2]) > 0.10:  # lifted over ball and tees
                    out[2] += 0.07 * math.sin(math.pi * s)
                    out[7] += 0.03 * math.sin(math.pi * s)
                return out
            if t <= end:
                return motion(t)
            before = (end, motion)
        assert before is not None
        old_end, old = before
        a = old(old_end)
        rest = self.parts[0][2](self.parts[0][0])
        s = float(ease((t - old_end) / 0.95))
        return a + s * (rest - a)

    def lead_hand_off(self, t: float) -> float:
        """How far the lead hand has left the grip, 0 to 1."""
        out = 1.0 if self.alone and self.alone[0][1] else 0.0
        for (_, was), (at, now) in zip(self.alone, self.alone[1:], strict=False):
            if was != now:
                s = float(ease((t - (at - BACK_S - DOWN_S - 1.0)) / 0.7))
                out = out + s * (float(now) - out)
        return out

    def _hands(self, x: float, y: float) -> tuple[float, float, float]:
        return (x - 0.012, y + self.mirror * 0.262, 0.70)

    def _rake(self, begin: float, spot: Point, goal: Point) -> Callable[[float], Array]:
        a, b = np.asarray(spot), np.asarray(goal)
        way = (b - a) / np.linalg.norm(b - a)
        yaw = math.atan2(way[1], way[0])

        def motion(t: float) -> Array:
            s = ease((t - begin) / RAKE_S)
            at = a + s * (b - a) - (R_BALL + 0.002) * way
            # Hands follow halfway: the player leans and reaches.
            hands = 0.55 * (at - b)
            hx, hy, hz = self._hands(b[0] + hands[0], b[1] + 0.75 * hands[1])
            return np.array([at[0], at[1], 0.0, yaw, 0.0, hx, hy, hz])

        return motion

    def _stroke(
        self, impact_s: float, p: Played, practice: bool
    ) -> tuple[float, float, Callable[[float], Array]]:
        """Pendulum about a point between the shoulders; the face meets the ball at ``impact_s``."""
        ball = np.array([*p.putt.start, 0.0])
        speed = math.hypot(*p.launch) * HEAD_SPEED_SHARE * (0.85 if practice else 1.0)
        heading = 0.0 if practice else math.atan2(p.launch[1], p.launch[0])
        face = np.array([-R_BALL, 0.0, 0.0])
        hands = np.array(self._hands(0.0, 0.0))
        pivot = np.array([-0.03, self.mirror * 0.34, 1.36])
        radius = float(np.hypot(pivot[1], pivot[2]))
        axis = np.array([0.0, -pivot[2], pivot[1]]) / radius  # a positive angle carries the head to +x
        rate = speed / radius
        back, through = 0.5 * rate * DOWN_S, 0.5 * 0.85 * rate * THROUGH_S
        address = -0.010 / radius
        shift = np.array([0.0, self.mirror * 0.085, 0.012]) if practice else np.zeros(3)
        begin, end = impact_s - BACK_S - DOWN_S, impact_s + THROUGH_S + (0.0 if practice else HOLD_S)
        end = min(end, begin + PRACTICE_S) if practice else end

        def angle(t: float) -> float:
            s = t - impact_s
            if s < -DOWN_S:
                return address + float(ease((s + DOWN_S + BACK_S) / BACK_S)) * (-back - address)
            if s < 0:
                return -back + 0.5 * rate / DOWN_S * (s + DOWN_S) ** 2
            u = min(s / THROUGH_S, 1.0)
            return through * (2 * u - u * u)

        turn_z = about(np.array([0.0, 0.0, 1.0]), heading)

        def motion(t: float) -> Array:
            r = about(axis, angle(t))
            g = pivot + r @ (hands - pivot)
            nose = turn_z @ r @ np.array([1.0, 0.0, 0.0])
            h = ball + turn_z @ (pivot + r @ (face - pivot)) + shift
            return np.array(
                [
                    h[0],
                    h[1],
                    max(h[2], 0.0),
                    math.atan2(nose[1], nose[0]),
                    math.asin(nose[2]),
                    *(g + ball + shift),
                ]
            )

        return begin, end, motion


def about(axis: Array, angle: float) -> Array:
    """Rotation about a unit axis (Rodrigues), shape (3, 3)."""
    k = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    return np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * k @ k
