"""Where it goes wrong in life: one short scene for each, told by what differs from a plain afternoon.

Putts, players and place are invented; `filmed.py` films a scene when it is asked for. A scene's truth says
what a measurement has to find.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from sample_media.film import play
from sample_media.film.scene import (
    BallGate,
    Bump,
    Camera,
    Golfer,
    Green,
    Hover,
    Light,
    Putt,
    Scene,
    Sheet,
    Stray,
    Sway,
    Towel,
)

BEFORE_S, AFTER_S = 0.8, 0.6
"""How long a ball rests in the picture before the first stroke and after the last roll."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """One scene and how it is measured."""

    scene: Scene
    capture_rate_hz: float | None = None
    lens_known: bool = False
    """Measured with a lens profile."""
    direction_deg: float = 0.25
    """No start direction may be farther off: the bound for one sheet; wider where the picture holds less."""


_GATE = BallGate(distance_m=0.45, width_mm=68.0, square_deg=0.8, right_mm=4.0)
_PLAIN = Scene(
    name="plain",
    what="nothing goes wrong",
    seed=7301,
    duration_s=1.0,  # as long as the putts take, see _timed
    hole=(2.44, 0.0),
    green=Green(stimp_ft=9.4, slope_along=-0.003, slope_left=0.005, centre=(1.3, 0.7), half_axes=(5.4, 3.8)),
    camera=Camera(
        width=1920,
        height=1080,
        focal_px=1408.0,
        centre_px=(961.7, 538.4),
        place=(1.25, -3.0, 1.45),
        look_at=(1.28, 0.12, 0.0),
        roll_deg=0.4,
        exposure_s=1 / 400,
        readout_s=0.0085,
    ),
    light=Light(azimuth_deg=-128.0, elevation_deg=42.0, drift=0.0),
    sheets=(Sheet(id=0, at=(0.34, -0.46), turn_deg=9.0), Sheet(id=3, at=(2.22, 0.44), turn_deg=-21.0)),
    gate=_GATE,
    golfer=None,
    other_balls=((-0.42, -0.20),),
    putts=(
        Putt(impact_s=BEFORE_S, offset_mm=9.0, run_out_m=0.40),
        Putt(impact_s=BEFORE_S + 4.2, offset_mm=-72.0, run_out_m=0.34, bring="rake"),
    ),
    crf=18.0,
    preset="ultrafast",
)
"""Crf 18 with the quick preset writes some 13 Mbit/s here, as a phone does."""


def _timed(scene: Scene) -> Scene:
    """As long as the last ball rolls, and a little."""
    script = play.script(scene)
    rolled = [life.rolled for life in script.balls if life.rolled is not None]
    end_s = max(begin_s + float(roll.t[-1]) for begin_s, roll in rolled)
    return replace(scene, duration_s=round(end_s + AFTER_S, 2))


def _camera(**other: object) -> Camera:
    return replace(_PLAIN.camera, **other)  # type: ignore[arg-type]


def _green(**other: object) -> Green:
    return replace(_PLAIN.green, **other)  # type: ignore[arg-type]


def _light(**other: object) -> Light:
    return replace(_PLAIN.light, **other)  # type: ignore[arg-type]


def _scene(name: str, what: str, **other: object) -> Scene:
    seed = _PLAIN.seed + sum(name.encode())
    return _timed(replace(_PLAIN, name=name, what=what, seed=seed, **other))  # type: ignore[arg-type]


_TWO = _PLAIN.putts


def bumped() -> Life:
    bump = Bump(at_s=4.0, shift_m=(0.03, 0.02, -0.01), look_shift_m=(0.05, 0.02, 0.0), roll_deg=0.8)
    camera = _camera(bumps=(bump,))
    return Life(scene=_scene("bumped", "the tripod is knocked between two putts", camera=camera))


def nudged() -> Life:
    camera = _camera(sway=Sway(pan_deg=0.15, tilt_deg=0.10, period_s=3.4))
    return Life(scene=_scene("nudged", "wind turns the tripod slowly to and fro", camera=camera))


def plain() -> Life:
    return Life(scene=_scene("plain", "nothing goes wrong"))


def one_sheet() -> Life:
    return Life(scene=_scene("one_sheet", "one sheet only, near the ball", sheets=_PLAIN.sheets[:1]))


def covered_sheet() -> Life:
    towel = Towel(at=(0.25, -0.46), size_m=(0.22, 0.36), turn_deg=9.0, away_s=6.8, away_m=(-0.9, -0.5))
    return Life(
        scene=_scene("covered_sheet", "a towel over half a sheet for most of the clip", towels=(towel,))
    )


def far_sheets() -> Life:
    sheets = (Sheet(id=0, at=(0.10, 1.35), turn_deg=9.0), Sheet(id=3, at=(2.45, 1.20), turn_deg=-21.0))
    return Life(scene=_scene("far_sheets", "both sheets 1.3 m from the line", sheets=sheets))


def low_phone() -> Life:
    camera = _camera(place=(1.25, -2.9, 1.0), look_at=(1.28, 0.25, 0.0))
    return Life(scene=_scene("low_phone", "the phone stands only 1 m high", camera=camera))


def behind_hole() -> Life:
    camera = _camera(place=(4.35, -0.55, 1.45), look_at=(1.35, 0.02, 0.0))
    return Life(scene=_scene("behind_hole", "the phone looks from behind the hole", camera=camera))


def portrait() -> Life:
    camera = _camera(place=(-1.75, -0.55, 1.5), look_at=(0.95, 0.0, 0.0), roll_deg=90.5, turn_deg=90)
    return Life(scene=_scene("portrait", "the phone stands upright behind the ball", camera=camera))


def four_k() -> Life:
    camera = _camera(width=3840, height=2160, fps=30.0, focal_px=2816.0, centre_px=(1923.9, 1077.3))
    return Life(scene=_scene("four_k", "3840x2160 at 30 frames/s", camera=camera))


def slow_motion() -> Life:
    camera = _camera(
        width=1280,
        height=720,
        fps=240.0,
        file_fps=30.0,
        focal_px=939.0,
        centre_px=(641.0, 358.6),
        exposure_s=1 / 1200,
        readout_s=0.0036,
    )
    scene = _scene("slow_motion", "720p at 240 frames/s in a file that plays at 30", camera=camera)
    return Life(scene=scene, capture_rate_hz=240.0)


def wide_lens() -> Life:
    camera = _camera(
        focal_px=695.0,
        distortion=(-0.18, 0.03, 0.0004, -0.0003, 0.0),
        place=(1.2, -1.75, 1.25),
        look_at=(1.25, 0.1, 0.0),
    )
    scene = _scene("wide_lens", "a 13 mm lens with strong distortion, its profile known", camera=camera)
    return Life(scene=scene, lens_known=True)


def hand_shadow() -> Life:
    way = ((0.0, -0.36, -0.46, 0.47), (4.4, -0.34, -0.45, 0.47), (5.4, -0.35, -0.46, 0.47))
    hover = Hover(way=way, shoulder=(-0.9, -1.0, 1.1))
    return Life(scene=_scene("hand_shadow", "a hand's shadow lies over the ball", hovers=(hover,)))


def low_sun() -> Life:
    light = _light(azimuth_deg=70.0, elevation_deg=13.0, sun=0.80, sky=0.26, gain=1.15)
    scene = _scene(
        "low_sun",
        "low sun from beyond the line, the player's shadow long",
        light=light,
        golfer=Golfer(),
        putts=_TWO[:1],
    )
    return Life(scene=scene)


def cloud() -> Life:
    light = _light(clouds=((0.0, 1.0), (1.2, 1.0), (2.6, 0.3), (5.2, 0.3), (6.2, 1.0), (60.0, 1.0)))
    return Life(scene=_scene("cloud", "a cloud passes over while balls roll", light=light))


def wet_grass() -> Life:
    green = _green(colour=(0.075, 0.125, 0.036), wet=0.8, stimp_ft=7.6)
    return Life(scene=_scene("wet_grass", "wet grass that mirrors the sky", green=green))


def dull() -> Life:
    light = _light(sun=0.0, sky=0.42, gain=2.1, noise=2.2)
    return Life(scene=_scene("dull", "a dull day: no sun, more noise", light=light))


def pale_grass() -> Life:
    green = _green(colour=(0.30, 0.30, 0.155), mottle=1.3)
    return Life(scene=_scene("pale_grass", "pale, dry grass", green=green))


def striped_grass() -> Life:
    green = _green(stripe=0.20, stripe_m=0.50, grain_deg=55.0)
    return Life(scene=_scene("striped_grass", "mown in strong stripes", green=green))


def yellow_ball() -> Life:
    return Life(scene=_scene("yellow_ball", "yellow balls", ball=(0.74, 0.80, 0.09)))


def orange_ball() -> Life:
    return Life(scene=_scene("orange_ball", "orange balls", ball=(0.85, 0.27, 0.03)))


def bold_line() -> Life:
    return Life(scene=_scene("bold_line", "a bold line drawn round the ball", ball_line_m=0.006))


def leaving() -> Life:
    putts = (
        Putt(impact_s=BEFORE_S, offset_mm=78.0, run_out_m=2.2),
        Putt(impact_s=BEFORE_S + 4.2, offset_mm=-6.0, run_out_m=0.34, bring="rake"),
    )
    what = "a ball runs past the hole and out of the picture"
    return Life(scene=_scene("leaving", what, putts=putts, gate=replace(_GATE, width_mm=84.0)))


def stray_ball() -> Life:
    stray = Stray(at_s=1.2, start=(3.9, 1.5), velocity=(-1.6, -0.10))
    what = "another player's ball rolls through while a putt does"
    return Life(scene=_scene("stray_ball", what, strays=(stray,)))


def two_at_once() -> Life:
    putts = (
        Putt(impact_s=BEFORE_S, offset_mm=70.0, run_out_m=0.38),
        Putt(impact_s=BEFORE_S + 1.1, offset_mm=-80.0, run_out_m=0.62, start=(0.12, 0.42)),
    )
    what = "another player putts from beside while the first ball rolls; no gate"
    return Life(scene=_scene("two_at_once", what, putts=putts, gate=None, other_balls=()))


LIVES = {
    make.__name__: make
    for make in (
        bumped,
        nudged,
        plain,
        one_sheet,
        covered_sheet,
        far_sheets,
        low_phone,
        behind_hole,
        portrait,
        four_k,
        slow_motion,
        wide_lens,
        hand_shadow,
        low_sun,
        cloud,
        wet_grass,
        dull,
        pale_grass,
        striped_grass,
        yellow_ball,
        orange_ball,
        bold_line,
        leaving,
        stray_ball,
        two_at_once,
    )
}
