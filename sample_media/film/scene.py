"""What a scene is made of: plain values, nothing computed.

Everything is frozen and in SI units unless the name says otherwise. ``right`` is to the right of the
line from ball to hole as the player sees it; world y is to the left.
"""

from __future__ import annotations

from dataclasses import dataclass, field

Rgb = tuple[float, float, float]
"""Linear reflectance, 0 to 1."""
Point = tuple[float, float]
Point3 = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Green:
    """The putting surface: how it plays and how it looks."""

    stimp_ft: float = 9.5
    slope_along: float = 0.0
    """Fall towards +x; 0.01 is 1 %, downhill for the nominal putt."""
    slope_left: float = 0.0
    """Fall towards +y."""
    friction: float = 0.4
    """Sliding friction of ball on grass."""
    centre: Point = (1.2, 0.6)
    half_axes: Point = (5.2, 3.6)
    """Size of the mown green; the fringe begins beyond."""
    hedge_distance_m: float = 6.5
    """From the green's centre to the hedge."""
    colour: Rgb = (0.102, 0.158, 0.046)
    mottle: float = 1.0
    """Strength of the patches; 0 is a billiard table."""
    blades: int = 60000
    """Strokes in a tile of grass texture; tiny scenes in tests do with few."""
    grain_deg: float = 25.0
    stripe_m: float = 0.55
    stripe: float = 0.035
    """Relative lightness of mowing stripes."""
    old_holes: tuple[Point, ...] = ()
    """Plugs of earlier holes, a little off in colour."""
    leaves: tuple[Point, ...] = ()
    wet: float = 0.0
    """Share of the blades with water on them, 0 to 1: the sky glitters in them, more so far off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A phone on a tripod."""

    width: int = 1280
    height: int = 720
    fps: float = 60.0
    focal_px: float = 940.0
    centre_px: Point = (641.5, 357.5)
    distortion: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)
    """k1, k2, p1, p2, k3 in the Brown-Conrady order that OpenCV documents."""
    place: Point3 = (1.2, -2.8, 1.4)
    look_at: Point3 = (1.2, 0.1, 0.0)
    roll_deg: float = 0.0
    exposure_s: float = 1 / 300
    readout_s: float = 0.008
    variable_rate: bool = False
    """Frame times wander and some frames are lost, as when a phone is busy."""
    bumps: tuple[Bump, ...] = ()
    sway: Sway | None = None
    turn_deg: int = 0
    """Turn to the right, in quarters, that the file asks for before it is shown: 90 for a phone held upright
    whose sensor is wide; the rest of the camera is the sensor's."""
    file_fps: float | None = None
    """Rate at which the file plays, where it is a slow-motion one; None: in real time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bump:
    """Somebody knocks the tripod: from ``at_s`` on the camera stands and looks a little otherwise."""

    at_s: float
    shift_m: Point3 = (0.0, 0.0, 0.0)
    look_shift_m: Point3 = (0.0, 0.0, 0.0)
    roll_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sway:
    """Wind nudges the tripod: the camera turns slowly to and fro about its lens, a little unevenly."""

    pan_deg: float = 0.0
    """How far it turns to either side."""
    tilt_deg: float = 0.0
    period_s: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Sun, sky and what the sensor makes of them."""

    azimuth_deg: float = 40.0
    """Where the sun stands, from +x towards +y."""
    elevation_deg: float = 42.0
    sun: float = 0.95
    """Light of the sun on a level surface; 1 with the sky's is full white."""
    sky: float = 0.30
    gain: float = 1.05
    drift: float = 0.02
    """How far the exposure wanders, relative."""
    clouds: tuple[tuple[float, float], ...] = ()
    """(second, share of the sun that is left), linear between; empty: clear all the time."""
    noise: float = 1.0
    """1 is a phone by day, 3 at dusk."""
    sharpen: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One printed sheet lying on the plane; black square 180 mm, DICT_4X4_50."""

    id: int
    at: Point
    turn_deg: float = 0.0
    page: str = "A4"


@dataclass(frozen=True, slots=True, kw_only=True)
class BallGate:
    """Two tees on the start line, ahead of the ball."""

    distance_m: float = 0.45
    width_mm: float = 66.0
    """Clear opening between the facing sides."""
    square_deg: float = 0.0
    """Between the gate's normal and the line to the hole; positive where it faces right."""
    right_mm: float = 0.0
    post_diameter_mm: float = 4.6
    post_height_m: float = 0.035
    colour: Rgb = (0.75, 0.16, 0.05)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadGate:
    """Two tees beside the ball, a little wider than the putter head; the putter swings between."""

    x: float = -0.03
    gap_m: float = 0.130
    post_diameter_mm: float = 4.6
    post_height_m: float = 0.034
    colour: Rgb = (0.80, 0.78, 0.72)


@dataclass(frozen=True, slots=True, kw_only=True)
class Putter:
    """Length is heel to toe, depth is along the stroke."""

    length_m: float = 0.115
    depth_m: float = 0.045
    height_m: float = 0.026
    colour: Rgb = (0.20, 0.20, 0.21)
    grip: Rgb = (0.02, 0.02, 0.022)


@dataclass(frozen=True, slots=True, kw_only=True)
class Golfer:
    """Who putts, in clothes without a maker."""

    left_handed: bool = False
    trail_hand_only: tuple[int, ...] = ()
    """Numbers of the putts struck with the trail hand alone."""
    height_m: float = 1.75
    skin: Rgb = (0.40, 0.23, 0.15)
    trousers: Rgb = (0.055, 0.06, 0.075)
    shorts: bool = False
    shirt: Rgb = (0.30, 0.08, 0.06)
    shoes: Rgb = (0.80, 0.80, 0.78)
    stance_back_m: float = 0.0
    """How far the player stands behind the usual place (towards -x)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Walker:
    """Somebody who walks through the picture, or stands in it."""

    way: tuple[tuple[float, float, float], ...]
    """(second, x, y): where the walker is when; between two places the same pace"""
    trousers: Rgb = (0.10, 0.085, 0.07)
    jacket: Rgb = (0.06, 0.10, 0.075)
    shoes: Rgb = (0.07, 0.06, 0.05)
    height_m: float = 1.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Towel:
    """A flat cloth on the green, drawn away at a time."""

    at: Point
    size_m: Point = (0.30, 0.20)
    turn_deg: float = 0.0
    colour: Rgb = (0.10, 0.12, 0.30)
    away_s: float = 1e9
    away_m: Point = (0.0, 0.6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hover:
    """Somebody's hand above the green, and the shadow it casts."""

    way: tuple[tuple[float, float, float, float], ...]
    """(second, x, y, z) of the fingertips; even pace between"""
    shoulder: Point3 = (0.0, -1.2, 1.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """A ball that somebody else rolls from ``start``; there from ``at_s`` on."""

    at_s: float
    start: Point
    velocity: Point
    """Metres a second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Putt:
    """One stroke: when the ball leaves the face and where it is meant to go.

    ``offset_mm`` is the distance to the right at which the path would pass the hole's centre (or end
    beside the line where it stops short) and ``run_out_m`` how far past a covered hole it would
    run; posts and hole then do with it what they do.
    """

    impact_s: float
    offset_mm: float = 0.0
    run_out_m: float = 0.4
    start: Point = (0.0, 0.0)
    practice: int = 0
    """Practice strokes before it, about 1.5 s each."""
    bring: str = "lies"
    """How the ball came: ``lies`` (it lay there), ``hand``, ``rake`` (drawn in with the putter)."""
    bring_s: float | None = None
    """When the bringing begins; None: as late as can be."""
    take: str = "leave"
    """What becomes of a ball that missed: ``leave``, ``hand``."""
    take_s: float | None = None
    hand_from: Point3 = (1.0, -0.5, 0.75)
    """Shoulder of the helper's arm that brings or takes, from the ball."""
    unseen: bool = False
    """The picture does not show how it ended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A whole clip."""

    name: str
    what: str
    seed: int
    duration_s: float
    putts: tuple[Putt, ...]
    hole: Point = (2.4, 0.0)
    green: Green = field(default_factory=Green)
    camera: Camera = field(default_factory=Camera)
    light: Light = field(default_factory=Light)
    sheets: tuple[Sheet, ...] = (Sheet(id=0, at=(0.25, -0.42), turn_deg=10.0),)
    gate: BallGate | None = None
    head_gate: HeadGate | None = None
    golfer: Golfer | None = field(default_factory=Golfer)
    putter: Putter = field(default_factory=Putter)
    walkers: tuple[Walker, ...] = ()
    towels: tuple[Towel, ...] = ()
    hovers: tuple[Hover, ...] = ()
    strays: tuple[Stray, ...] = ()
    ball: Rgb = (0.86, 0.86, 0.84)
    ball_line_m: float = 0.0
    """Width of a bold line right round the ball; 0 for a maker's thin print."""
    other_balls: tuple[Point, ...] = ()
    codec: str = "libx264"
    crf: float = 26.0
    preset: str = "slow"
