"""The grid of filmed scenes on which accuracy is told: distance, camera's place, frame rate, light, slope.

Every clip is one draw of all conditions; levels come equally often, and what else differs from clip to clip
in life (green speed, lens, gate, where the sun stands) is drawn at random from the clip's number.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from puttvision.physics import BALL_RADIUS_M, FOOT_M
from sample_media.film import play
from sample_media.film import roll as rolling
from sample_media.film.roll import Ground
from sample_media.film.scene import BallGate, Camera, Green, Light, Point, Point3, Putt, Scene, Sheet

DISTANCES_FT = (3.0, 6.0, 10.0, 15.0, 20.0)
PLACES = ("side near", "side far", "left side", "behind ball", "behind hole")
RATES = (30.0, 60.0, 120.0)
LIGHTS = ("high sun", "low sun", "overcast")
SLOPES = (0.0, 0.01, 0.02, 0.03)
FULL_CLIPS, FULL_PUTTS = 90, 6
SMALL_CLIPS, SMALL_PUTTS = 6, 3
_KEPT_APART_M = 2 * BALL_RADIUS_M + 0.03
_BEFORE_S, _AFTER_S = 0.8, 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What a clip of the grid was filmed under."""

    number: int
    distance_ft: float
    place: str
    rate_hz: float
    light: str
    slope: float
    n_putts: int = FULL_PUTTS

    def names(self) -> dict[str, str]:
        """Each condition with its level in words."""
        return {
            "distance": f"{self.distance_ft:.0f} ft",
            "camera": self.place,
            "frames a second": f"{self.rate_hz:.0f}",
            "light": self.light,
            "slope": f"{100 * self.slope:.0f} %",
        }


def full() -> list[Conditions]:
    """All clips of the grid: 540 putts; any number of them from the first on is a fair sample."""
    return _drawn(FULL_CLIPS, FULL_PUTTS, seed=9001)


def small() -> list[Conditions]:
    """A few clips for every day."""
    return _drawn(SMALL_CLIPS, SMALL_PUTTS, seed=9002)


def _drawn(n: int, n_putts: int, seed: int) -> list[Conditions]:
    rng = np.random.default_rng(seed)

    def column(levels: tuple[object, ...]) -> list[object]:
        # whole shuffled rounds of the levels, one after another: balanced wherever one stops
        rounds = -(-n // len(levels))
        return [levels[i] for _ in range(rounds) for i in rng.permutation(len(levels))][:n]

    columns = [column(levels) for levels in (DISTANCES_FT, PLACES, RATES, LIGHTS, SLOPES)]
    return [
        Conditions(
            number=i, distance_ft=ft, place=place, rate_hz=rate, light=light, slope=slope, n_putts=n_putts
        )  # type: ignore[arg-type]
        for i, (ft, place, rate, light, slope) in enumerate(zip(*columns, strict=True), 1)
    ]


def scene(at: Conditions) -> Scene:
    """The scene of a clip."""
    rng = np.random.default_rng([9100, at.number, at.n_putts])
    hole = (round(at.distance_ft * FOOT_M, 3), 0.0)
    green = _green(at, hole, rng)
    gate = _gate(green, hole, rng)
    bare = Scene(
        name=f"grid_{at.number:03d}",
        what=", ".join(f"{key} {value}" for key, value in at.names().items()),
        seed=9200 + at.number,
        duration_s=1.0,
        hole=hole,
        green=green,
        camera=_camera(at, hole, rng),
        light=_light(at, rng),
        sheets=_sheets(at, hole, rng),
        gate=gate,
        golfer=None,
        putts=(),
        crf=18.0,
        preset="ultrafast",
    )
    return _with_putts(bare, at.n_putts, rng)


def _green(at: Conditions, hole: Point, rng: np.random.Generator) -> Green:
    way = rng.uniform(0, 2 * math.pi)
    return Green(
        stimp_ft=round(rng.uniform(8.0, 11.0), 2),
        slope_along=round(at.slope * math.cos(way), 5),
        slope_left=round(at.slope * math.sin(way), 5),
        centre=(hole[0] / 2, rng.uniform(-0.4, 0.4)),
        half_axes=(hole[0] / 2 + 3.6, hole[0] / 4 + 3.4),
        hedge_distance_m=hole[0] / 2 + 5.2,
        grain_deg=rng.uniform(0, 180),
        mottle=rng.uniform(0.7, 1.3),
    )


def _gate(green: Green, hole: Point, rng: np.random.Generator) -> BallGate:
    """On the line on which a putt starts that falls into the middle of the hole, as players set it."""
    ground = Ground(stimp_ft=green.stimp_ft, slope_along=green.slope_along, slope_left=green.slope_left)
    vx, vy = rolling.aim(ground, (0.0, 0.0), hole, 0.0, 0.35)
    distance_m = min(0.45, 0.4 * hole[0])
    aside_deg = math.degrees(math.atan2(-vy, vx))
    return BallGate(
        distance_m=distance_m,
        width_mm=round(rng.uniform(66.0, 86.0), 1),
        square_deg=round(aside_deg + rng.normal(0, 1.2), 2),
        right_mm=round(1000 * distance_m * math.tan(math.radians(aside_deg)) + rng.normal(0, 4.0), 1),
    )


def _camera(at: Conditions, hole: Point, rng: np.random.Generator) -> Camera:
    long = hole[0]
    off = 0.62 * (long + 0.9) + 0.45  # the line and a little fill the picture's width
    middle = long / 2 + rng.uniform(-0.15, 0.15)
    high = rng.uniform(1.3, 1.6)
    look: Point3 = (long / 2, 0.0, 0.0)
    place: Point3
    if at.place == "side near":
        place = (middle, -off, high)
    elif at.place == "side far":
        place = (middle, -1.4 * off, high)
    elif at.place == "left side":
        place = (middle, 1.1 * off, high)
    elif at.place == "behind ball":
        off, aside = 1.8 + 0.05 * long, rng.uniform(-0.7, -0.4)
        place, look = (-off, aside, high), (_between(high, off, off + long) - off, 0.0, 0.0)
    else:
        off, aside = 1.6 + 0.05 * long, rng.uniform(-0.7, 0.7)
        place, look = (long + off, aside, high), (long + off - _between(high, off, off + long), 0.0, 0.0)
    readout_s = {30.0: 0.013, 60.0: 0.0085, 120.0: 0.0052}[at.rate_hz] * rng.uniform(0.85, 1.15)
    exposure_s = {"high sun": 1 / 700, "low sun": 1 / 400, "overcast": 1 / 200}[at.light]
    return Camera(
        width=1920,
        height=1080,
        fps=at.rate_hz,
        focal_px=round(1408.0 * rng.uniform(0.97, 1.03), 1),
        centre_px=(round(959.5 + rng.normal(0, 3), 1), round(539.5 + rng.normal(0, 3), 1)),
        distortion=(round(rng.normal(0, 0.01), 4), round(rng.normal(0, 0.004), 4), 0.0, 0.0, 0.0),
        place=place,
        look_at=look,
        roll_deg=round(rng.normal(0, 0.6), 2),
        exposure_s=exposure_s,
        readout_s=round(readout_s, 5),
    )


def _between(high_m: float, near_m: float, far_m: float) -> float:
    """Where to look so that what is near lies as far below the picture's middle as what is far lies above."""
    return high_m / math.tan((math.atan(high_m / near_m) + math.atan(high_m / far_m)) / 2)


def _light(at: Conditions, rng: np.random.Generator) -> Light:
    azimuth_deg = rng.uniform(0, 360)
    if at.light == "high sun":
        return Light(azimuth_deg=azimuth_deg, elevation_deg=rng.uniform(48, 62), drift=0.0)
    if at.light == "low sun":
        elevation_deg = rng.uniform(16, 26)
        return Light(
            azimuth_deg=azimuth_deg, elevation_deg=elevation_deg, sun=0.82, sky=0.28, gain=1.1, drift=0.0
        )
    return Light(azimuth_deg=azimuth_deg, sun=0.0, sky=0.42, gain=2.05, noise=1.6, drift=0.0)


def _sheets(at: Conditions, hole: Point, rng: np.random.Generator) -> tuple[Sheet, ...]:
    """One by the ball, one by the hole, as the guide says; out of the way of putts."""
    side = 1.0 if at.place == "left side" else -1.0
    short = hole[0] < 1.2
    return (
        Sheet(id=0, at=(0.20 if short else 0.38, side * 0.48), turn_deg=rng.uniform(-180, 180)),
        Sheet(id=3, at=(hole[0] - 0.12, -side * 0.46), turn_deg=rng.uniform(-180, 180)),
    )


def _with_putts(bare: Scene, n: int, rng: np.random.Generator) -> Scene:
    """Putts one after another, each with its ball raked in meanwhile; no ball runs into another."""
    for _ in range(20):
        found = _one_after_another(bare, n, rng)
        if found is not None:
            return found
    raise RuntimeError(f"{bare.name}: no room for {n} putts")


def _one_after_another(bare: Scene, n: int, rng: np.random.Generator) -> Scene | None:
    """Putts as drawn; None where balls that lie about leave no way for the next."""
    pile = tuple((-0.40 - 0.085 * i, -0.20 + 0.05 * (i % 2)) for i in range(n - 1))
    at_s, putts = _BEFORE_S, []
    resting: list[np.ndarray] = []
    end_s = at_s
    for k in range(n):
        for _ in range(12):
            putt = _putt(bare, at_s, first=k == 0, rng=rng)
            roll = play.script(replace(bare, putts=(replace(putt, bring="lies"),))).played[0].roll
            if all(np.hypot(*(roll.xyz[:, :2] - spot).T).min() > _KEPT_APART_M for spot in resting):
                break
        else:
            return None
        putts.append(putt)
        if not roll.holed:
            resting.append(roll.at_rest[:2])
        end_s = at_s + float(roll.t[-1])
        at_s = round(max(end_s + 0.25, at_s + 2.0), 3)
    return replace(bare, putts=tuple(putts), other_balls=pile, duration_s=round(end_s + _AFTER_S, 2))


def _putt(bare: Scene, at_s: float, first: bool, rng: np.random.Generator) -> Putt:
    """Half or so holed, some wide, some short; the odd one off a post."""
    assert bare.gate is not None
    wide_mm = min(55.0, 9.0 * bare.hole[0] / bare.gate.distance_m)
    short = rng.random() < 0.15
    return Putt(
        impact_s=at_s,
        offset_mm=round(float(np.clip(rng.normal(0, wide_mm), -150, 150)), 1),
        run_out_m=round(-rng.uniform(0.12, 0.45) if short else rng.uniform(0.15, 0.75), 3),
        start=(round(rng.uniform(-0.012, 0.012), 4), round(rng.uniform(-0.006, 0.006), 4)),
        bring="lies" if first else "rake",
    )
