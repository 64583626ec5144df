"""Scenes of chance: everything that differs from one afternoon to the next is drawn at once, by seed.

The grid varies conditions one by one and the life scenes show faults that somebody thought of; here players
stand on sheets, shadows fall across them, balls are yellow, orange or marked, and nobody thought of anything.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sample_media.film import play
from sample_media.film.scene import (
    BallGate,
    Camera,
    Golfer,
    Green,
    HeadGate,
    Light,
    Putt,
    Scene,
    Sheet,
    Sway,
)

N_PUTTS, FIRST_S, EVERY_S = 3, 2.0, 6.5
_FT = 0.3048
_WHITE, _YELLOW, _ORANGE = (0.86, 0.86, 0.84), (0.74, 0.80, 0.09), (0.85, 0.27, 0.03)
_BALLS = {"white": _WHITE, "yellow": _YELLOW, "orange": _ORANGE}
_MOSTLY_WHITE = ("white", "white", "yellow", "orange")
_GRASS = ((0.102, 0.158, 0.046), (0.075, 0.125, 0.036), (0.2, 0.22, 0.1))


@dataclass(frozen=True, slots=True)
class Mode:
    """How a phone films."""

    width: int
    height: int
    rate_hz: float
    focal_px: float
    upright: bool = False
    slow_motion: bool = False


_MODES = {
    "1080p60": Mode(1920, 1080, 60, 1400),
    "1080p30": Mode(1920, 1080, 30, 1400),
    "720p120": Mode(1280, 720, 120, 930),
    "720p240 slow motion": Mode(1280, 720, 240, 930, slow_motion=True),
    "4K30": Mode(3840, 2160, 30, 2800),
    "1080p60 upright": Mode(1920, 1080, 60, 1400, upright=True),
}
_MOSTLY_60 = ("1080p60", *_MODES)
_PLACES = ("right", "left", "behind the ball", "behind the hole", "at an angle")


def scene(seed: int) -> Scene:
    """One afternoon."""
    rng = np.random.default_rng([77, seed])
    feet = float(rng.choice([3.5, 6, 8, 8, 9, 10, 10, 12]))
    long_m = round(feet * _FT, 3)
    mode_name, place = str(rng.choice(_MOSTLY_60)), str(rng.choice(_PLACES))
    mode = _MODES[mode_name]
    if mode.upright:
        place = "behind the ball"
    camera = _camera(rng, mode, place, long_m)
    light_name = str(rng.choice(["sun", "sun", "low sun", "overcast", "clouds"]))
    ball = str(rng.choice(_MOSTLY_WHITE))
    gate = str(rng.choice(["ball", "ball", "none", "head"]))
    left = camera.place[1] > 0
    made = Scene(
        name=f"chance_{seed:03d}",
        what=f"{feet:g} ft, {mode_name}, {place}, {light_name}, {ball} ball, gate: {gate}",
        seed=9900 + seed,
        duration_s=FIRST_S + N_PUTTS * EVERY_S,
        hole=(long_m, 0.0),
        putts=_putts(rng),
        green=_green(rng, long_m),
        camera=camera,
        light=_light(rng, light_name),
        sheets=_sheets(rng, long_m, left=place == "left"),
        gate=_gate(rng, long_m) if gate == "ball" else None,
        head_gate=HeadGate() if gate == "head" else None,
        golfer=_golfer(rng, left=left) if rng.random() < 0.75 else None,
        ball=_BALLS[ball],
        ball_line_m=0.006 if rng.random() < 0.25 else 0.0,
        crf=20.0,
        preset="ultrafast",
    )
    rolled = [life.rolled for life in play.script(made).balls if life.rolled is not None]
    end_s = max(begin_s + float(roll.t[-1]) for begin_s, roll in rolled)
    return replace(made, duration_s=round(end_s + 0.6, 2))


def _camera(rng: np.random.Generator, mode: Mode, place: str, long_m: float) -> Camera:
    height_m, beside_m = rng.uniform(1.05, 1.6), max(1.9, 0.62 * (long_m + 0.9) + 0.5)
    side, middle_m = rng.choice([-1, 1]), long_m / 2
    if place in ("right", "left"):
        side = -1 if place == "right" else 1
        at = (middle_m + rng.uniform(-0.3, 0.3), side * beside_m * rng.uniform(1, 1.25), height_m)
        look_at = (middle_m, -0.05 * side, 0.0)
    elif place == "behind the ball":
        at = (-1.5 - 0.1 * long_m, side * rng.uniform(0.45, 0.9), height_m)
        look_at = (0.45 * long_m, 0.0, 0.0)
    elif place == "behind the hole":
        at = (1.1 * long_m + 1.6, side * rng.uniform(0.45, 0.9), height_m)
        look_at = (0.55 * long_m, 0.0, 0.0)
    else:
        turn, away_m = rng.uniform(0.5, 1.0), 1.15 * beside_m
        at = (middle_m - away_m * np.cos(turn), side * away_m * np.sin(turn), height_m)
        look_at = (middle_m, 0.0, 0.0)
    return Camera(
        width=mode.width,
        height=mode.height,
        fps=mode.rate_hz,
        focal_px=float(mode.focal_px * rng.uniform(0.93, 1.07)),
        centre_px=(float(mode.width / 2 + rng.normal(0, 4)), float(mode.height / 2 + rng.normal(0, 4))),
        place=(float(at[0]), float(at[1]), float(at[2])),
        look_at=(float(look_at[0]), float(look_at[1]), 0.0),
        roll_deg=float(rng.normal(0, 0.7)) + (90 if mode.upright else 0),
        turn_deg=90 if mode.upright else 0,
        exposure_s=1 / 1000 if mode.slow_motion else float(rng.choice([1 / 240, 1 / 400, 1 / 800])),
        readout_s=0.0035 if mode.slow_motion else float(rng.uniform(0.004, 0.01)),
        file_fps=30.0 if mode.slow_motion else None,
        sway=Sway(pan_deg=0.05, tilt_deg=0.03) if rng.random() < 0.2 else None,
    )


def _light(rng: np.random.Generator, name: str) -> Light:
    high = rng.uniform(12, 22) if name == "low sun" else rng.uniform(28, 60)
    light = Light(
        azimuth_deg=float(rng.uniform(0, 360)), elevation_deg=float(high), drift=float(rng.choice([0, 0.02]))
    )
    if name == "low sun":
        return replace(light, sun=0.8, sky=0.26, gain=1.15)
    if name == "overcast":
        return replace(light, sun=0.0, sky=0.42, gain=2.1, noise=2.0)
    if name == "clouds":
        return replace(light, clouds=((0, 1.0), (5, 1.0), (7, 0.35), (12, 0.35), (14, 1.0), (99, 1.0)))
    return light


def _green(rng: np.random.Generator, long_m: float) -> Green:
    places = zip(rng.uniform(-0.3, long_m, 4), rng.uniform(-0.8, 0.8, 4), strict=True)
    return Green(
        stimp_ft=float(rng.uniform(7.5, 11.5)),
        slope_along=float(rng.normal(0, 0.006)),
        slope_left=float(rng.normal(0, 0.01)),
        centre=(long_m / 2, 0.3),
        half_axes=(long_m / 2 + 3.6, long_m / 4 + 3.4),
        hedge_distance_m=long_m / 2 + 5,
        colour=_GRASS[rng.integers(len(_GRASS))],
        stripe=float(rng.choice([0.035, 0.1])),
        leaves=tuple((float(x), float(y)) for x, y in places) if rng.random() < 0.3 else (),
    )


def _sheets(rng: np.random.Generator, long_m: float, *, left: bool) -> tuple[Sheet, ...]:
    by_ball = Sheet(
        id=0,
        at=(float(rng.uniform(0.1, 0.4)), 0.45 if left else -0.45),
        turn_deg=float(rng.uniform(-40, 40)),
    )
    side = rng.choice([-1, 1])
    by_hole = Sheet(
        id=3,
        at=(long_m - 0.2, float(side * rng.uniform(0.4, 0.55))),
        turn_deg=float(rng.uniform(-40, 40)),
    )
    return (by_ball, by_hole) if rng.random() < 0.75 else (by_ball,)


def _gate(rng: np.random.Generator, long_m: float) -> BallGate:
    return BallGate(
        distance_m=min(0.45, 0.4 * long_m),
        width_mm=float(rng.uniform(62, 85)),
        square_deg=float(rng.normal(0, 1.2)),
        right_mm=float(rng.normal(0, 4)),
    )


def _golfer(rng: np.random.Generator, *, left: bool) -> Golfer:
    shirt, trousers = rng.uniform(0.05, 0.6, 3), rng.uniform(0.04, 0.5, 3)
    return Golfer(
        left_handed=left,
        shorts=bool(rng.random() < 0.4),
        shoes=(0.8, 0.8, 0.78) if rng.random() < 0.5 else (0.1, 0.1, 0.1),
        shirt=(float(shirt[0]), float(shirt[1]), float(shirt[2])),
        trousers=(float(trousers[0]), float(trousers[1]), float(trousers[2])),
    )


def _putts(rng: np.random.Generator) -> tuple[Putt, ...]:
    putts = []
    for number in range(N_PUTTS):
        wide = rng.random() < 0.45
        offset_mm = rng.choice([-1, 1]) * rng.uniform(75, 180) if wide else rng.normal(0, 14)
        short = rng.random() < 0.15
        putts.append(
            Putt(
                impact_s=FIRST_S + number * EVERY_S,
                offset_mm=float(offset_mm),
                run_out_m=float(rng.uniform(-0.5, -0.15) if short else rng.uniform(0.2, 0.7)),
                bring="hand" if number else "lies",
                take="hand" if rng.random() < 0.3 else "leave",
            )
        )
    return tuple(putts)
