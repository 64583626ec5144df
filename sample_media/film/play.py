"""Who does what when: the putts rolled out, where each ball is and how the putter is held at any time."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.physics import BALL_RADIUS_M as R_BALL
from sample_media.film import roll as rolling
from sample_media.film.roll import Ground, Roll
from sample_media.film.scene import Point, Putt, Scene
from sample_media.film.swing import BACK_S, DOWN_S, RAKE_S, Played, Swing, about, ease

Array = NDArray[np.float64]

REACH_S, GRASP_S = 0.65, 0.15


@dataclass(frozen=True, slots=True)
class Post:
    """A tee in the ground."""

    name: str
    x: float
    y: float
    radius_m: float
    height_m: float
    colour: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Piece:
    """One stretch of a ball's or a hand's life."""

    from_s: float
    to_s: float
    place: Callable[[Array], Array]


@dataclass(frozen=True, slots=True)
class BallLife:
    """All that a ball does in the clip."""

    number: int
    """putt number; 0: lies about"""
    pieces: tuple[Piece, ...]
    rolled: tuple[float, Roll] | None
    turns: Array
    """orientation at 240 Hz from the stroke, shape (n, 3, 3)"""

    def visible(self, t: float) -> bool:
        return self.pieces[0].from_s <= t < self.pieces[-1].to_s

    def place(self, t: ArrayLike) -> Array:
        """Centre at times, shape (..., 3)."""
        t = np.asarray(t, dtype=float)
        out = np.empty((*t.shape, 3))
        for i, piece in enumerate(self.pieces):
            here = (t < piece.to_s) if i == 0 else (t >= piece.from_s)
            if here.any():
                out[here] = piece.place(t[here])
        return out

    def orientation(self, t: float) -> Array:
        """Rotation of the ball's marks since it lay still."""
        if self.rolled is None:
            return self.turns[0]
        k = int(np.clip((t - self.rolled[0]) * 240, 0, len(self.turns) - 1))
        return self.turns[k]


@dataclass(frozen=True, slots=True)
class Reach:
    """A helper's arm: from the shoulder to a hand that moves."""

    from_s: float
    to_s: float
    shoulder: Array
    hand: Callable[[Array], Array]


@dataclass(frozen=True, slots=True)
class Script:
    """A scene with all its movements worked out."""

    scene: Scene
    ground: Ground
    posts: tuple[Post, ...]
    played: tuple[Played, ...]
    balls: tuple[BallLife, ...]
    reaches: tuple[Reach, ...]
    swing: Swing


def script(scene: Scene) -> Script:
    """Roll every putt and set all movements."""
    posts = (*gate_posts(scene), *head_gate_posts(scene))
    g = scene.green
    ground = Ground(
        stimp_ft=g.stimp_ft,
        slope_along=g.slope_along,
        slope_left=g.slope_left,
        friction=g.friction,
        hole=scene.hole,
        posts=tuple((p.name, p.x, p.y, p.radius_m) for p in posts if p.name in ("left", "right")),
    )
    played = tuple(_play(scene, ground, i + 1, p) for i, p in enumerate(scene.putts))
    swing = Swing(scene, played)
    balls, reaches = _balls(scene, ground, played, swing)
    return Script(scene, ground, posts, played, balls, reaches, swing)


def _play(scene: Scene, ground: Ground, number: int, putt: Putt) -> Played:
    launch = rolling.aim(ground, putt.start, scene.hole, putt.offset_mm / 1000, putt.run_out_m)
    return Played(
        number,
        putt,
        rolling.simulate(ground, putt.start, launch),
        rolling.simulate(ground.covered(), putt.start, launch),
        launch,
    )


def gate_posts(scene: Scene) -> tuple[Post, ...]:
    """Posts of the ball gate in the world, left one first."""
    gate = scene.gate
    if gate is None:
        return ()
    line = np.asarray(scene.hole) / np.hypot(*scene.hole)
    right = np.array([line[1], -line[0]])
    centre = gate.distance_m * line + gate.right_mm / 1000 * right
    a = math.radians(gate.square_deg)
    normal = math.cos(a) * line + math.sin(a) * right
    across = np.array([normal[1], -normal[0]])
    half = (gate.width_mm + gate.post_diameter_mm) / 2000
    radius = gate.post_diameter_mm / 2000
    return tuple(
        Post(name, *(centre + side * half * across), radius, gate.post_height_m, gate.colour)
        for name, side in (("left", -1), ("right", 1))
    )


def head_gate_posts(scene: Scene) -> tuple[Post, ...]:
    """Posts of the head gate, either side of the putter head."""
    gate = scene.head_gate
    if gate is None:
        return ()
    r = gate.post_diameter_mm / 2000
    half = gate.gap_m / 2 + r
    return tuple(
        Post(name, gate.x, y, r, gate.post_height_m, gate.colour)
        for name, y in (("head", half), ("head", -half))
    )


# ---------------------------------------------------------------- balls and hands
def _still(at: ArrayLike) -> Callable[[Array], Array]:
    place = np.asarray(at, dtype=float)
    return lambda t: np.broadcast_to(place, (*t.shape, 3))


def _on_grass(p: Point) -> Array:
    return np.array([p[0], p[1], R_BALL])


def _along(at: Array, xyz: Array) -> Callable[[Array], Array]:
    """Even pace between places."""
    return lambda t: np.stack([np.interp(t, at, xyz[:, i]) for i in range(3)], axis=-1)


def _balls(
    scene: Scene, ground: Ground, played: tuple[Played, ...], swing: Swing
) -> tuple[tuple[BallLife, ...], tuple[Reach, ...]]:
    rng = np.random.default_rng([scene.seed, 31])
    balls: list[BallLife] = []
    reaches: list[Reach] = []
    for p in played:
        t0 = p.putt.impact_s
        pieces: list[Piece] = []
        if p.putt.bring == "rake":
            begin, spot, goal = swing.rakes[p.number]
            a, b = _on_grass(spot), _on_grass(goal)
            pieces.append(Piece(-1e9, begin, _still(a)))
            pieces.append(Piece(begin, t0, _glide(a, b, begin, RAKE_S)))
        elif p.putt.bring == "hand":
            begin = p.putt.bring_s if p.putt.bring_s is not None else t0 - BACK_S - DOWN_S - 1.9
            reach, path = _bringing(p, begin)
            reaches.append(reach)
            pieces.append(Piece(begin, t0, path))
        else:
            pieces.append(Piece(-1e9, t0, _still(_on_grass(p.putt.start))))
        end = t0 + float(p.roll.t[-1])
        pieces.append(Piece(t0, end, lambda t, r=p.roll, t0=t0: r.at(t - t0)))  # type: ignore[misc]
        if p.roll.holed:
            pieces.append(Piece(end, end + 0.8, _still(p.roll.at_rest)))
        elif p.putt.take == "hand":
            begin = p.putt.take_s if p.putt.take_s is not None else end + 0.2
            if begin < end:
                raise ValueError(
                    f"putt {p.number} is taken up at {begin:.2f} s while it rolls until {end:.2f} s"
                )
            reach, path = _taking(p, begin)
            reaches.append(reach)
            pieces.append(Piece(end, begin + REACH_S + GRASP_S, _still(p.roll.at_rest)))
            pieces.append(Piece(begin + REACH_S + GRASP_S, begin + 2 * REACH_S + GRASP_S, path))
        else:
            pieces.append(Piece(end, 1e9, _still(p.roll.at_rest)))
        balls.append(BallLife(p.number, tuple(pieces), (t0, p.roll), _turns(p.roll, rng)))
    for stray in scene.strays:
        rolled = rolling.simulate(ground, stray.start, stray.velocity)
        end = stray.at_s + float(rolled.t[-1])
        pieces = [
            Piece(stray.at_s, end, lambda t, r=rolled, t0=stray.at_s: r.at(t - t0)),  # type: ignore[misc]
            Piece(end, 1e9, _still(rolled.at_rest)),
        ]
        balls.append(BallLife(0, tuple(pieces), (stray.at_s, rolled), _turns(rolled, rng)))
    for hover in scene.hovers:
        at, *xyz = (np.array(c) for c in zip(*hover.way, strict=True))
        reaches.append(Reach(at[0], at[-1], np.asarray(hover.shoulder), _along(at, np.stack(xyz, axis=-1))))
    for spot in scene.other_balls[len(swing.rakes) :]:
        balls.append(BallLife(0, (Piece(-1e9, 1e9, _still(_on_grass(spot))),), None, _random_turn(rng)[None]))
    return tuple(balls), tuple(reaches)


def _glide(a: Array, b: Array, begin: float, span: float) -> Callable[[Array], Array]:
    return lambda t: a + ease((t - begin) / span)[..., None] * (b - a)


def _arm(p: Played, at: Array) -> tuple[Array, Array]:
    """Shoulder of the helper and the place where the hand waits, out of the picture."""
    shoulder = at + np.asarray(p.putt.hand_from)
    return shoulder, at + 1.25 * np.asarray(p.putt.hand_from) + (0, 0, 0.1)


def _bringing(p: Played, begin: float) -> tuple[Reach, Callable[[Array], Array]]:
    goal = _on_grass(p.putt.start)
    shoulder, away = _arm(p, goal)
    lift = np.array([0, 0, 0.10])

    def hand(t: Array) -> Array:
        come, go = ease((t - begin) / REACH_S), ease((t - begin - REACH_S - GRASP_S) / REACH_S)
        s = (come * (1 - go))[..., None]
        return away + s * (goal - away) + lift * (s * (1 - s)) * 2

    def ball(t: Array) -> Array:
        return np.where((t < begin + REACH_S)[..., None], hand(t), goal)

    return Reach(begin, begin + 2 * REACH_S + GRASP_S, shoulder, hand), ball


def _taking(p: Played, begin: float) -> tuple[Reach, Callable[[Array], Array]]:
    at = p.roll.at_rest
    shoulder, away = _arm(p, at)
    lift = np.array([0, 0, 0.10])

    def hand(t: Array) -> Array:
        come, go = ease((t - begin) / REACH_S), ease((t - begin - REACH_S - GRASP_S) / REACH_S)
        s = (come * (1 - go))[..., None]
        return away + s * (at - away) + lift * (s * (1 - s)) * 2

    return Reach(begin, begin + 2 * REACH_S + GRASP_S, shoulder, hand), hand


def _random_turn(rng: np.random.Generator) -> Array:
    q, _ = np.linalg.qr(rng.standard_normal((3, 3)))
    return q * np.sign(np.linalg.det(q))


def _turns(roll: Roll, rng: np.random.Generator) -> Array:
    n = int(roll.t[-1] * 240) + 2
    out = np.empty((n, 3, 3))
    out[0] = _random_turn(rng)
    for k in range(1, n):
        w = roll.spin_at((k - 0.5) / 240)
        rate = float(np.linalg.norm(w))
        out[k] = about(w / rate, rate / 240) @ out[k - 1] if rate > 1e-6 else out[k - 1]
    return out
