"""A look at a set-up before the drill: what stands, how well, and what it will be good for.

Only some frames spread over the clip are read, so it takes seconds. Nothing here is measured of putts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from puttvision.ball.colour import grass_hue
from puttvision.ball.finder import REACH_PX, FinderSettings, NoBall, ball_radius_px, field, find_balls
from puttvision.ball.light import Light as BallLight
from puttvision.ball.look import Look
from puttvision.clip.facts import ClipFacts, check_measurable
from puttvision.clip.frame import Frame
from puttvision.clip.source import open_clip
from puttvision.errors import ClipError, HoleNotFoundError
from puttvision.green.align import align
from puttvision.green.edges import linear_light
from puttvision.green.site import Site, survey
from puttvision.green.steady import Steadier
from puttvision.putt.advice import Change, best_change
from puttvision.putt.foresee import SetUp, start_line_u95_deg
from puttvision.putt.hole_in_light import with_hole_in_light
from puttvision.putt.known_lens import lens_prior, sensor_readout
from puttvision.putt.lit_balls import lit_balls
from puttvision.putt.measure import Options
from puttvision.putt.standing_gate import StandingGate, find_gate

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_SAMPLES = 12
_BALL_LOOKS = 6
_MOST_BALLS = 6
"""A gate is looked for ahead of so many balls, those that lie alone and were seen most often first."""
_PILE_M = 0.2
_SAME_M = 0.03
_SHORTEST_M = 0.45
"""A ball nearer to the hole is none that is putted."""
_NARROW_MM = 100.0
"""A ball gate for a start line is 50 to 80 mm wide, one for a putter's head 95 to 150 (common practice)."""
_BURNT = 235
"""ITU-R BT.709's white; phones' video burns out a little above it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """How far the picture shifted between frames, by the sheets."""

    most_px: float
    at_s: float
    """When it was farthest off."""
    n_frames: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """How the sheets and a ball are exposed; luma 0 to 255."""

    paper: float
    ink: float
    burnt: float | None
    """Share of the ball's pixels at the end of the scale; None without a ball."""
    blur_px: float
    """Of the sheets' edges, standard deviation."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetUpCheck:
    """All that a look at some frames tells."""

    facts: ClipFacts
    site: Site
    hole_found: bool
    steady: Steadiness | None
    light: Light
    balls_m: tuple[tuple[float, float], ...]
    """All balls at rest."""
    lie_m: tuple[float, float] | None
    """The one to be putted."""
    gate: StandingGate | None
    start_line_u95_deg: float | None
    change: Change | None


def check_clip(path: Path, options: Options | None = None) -> SetUpCheck:
    """Look at some frames of a clip.

    Raises
    ------
    ClipError, GreenError
        The clip cannot be read, or no sheet carries a pose.
    """
    options = options or Options()
    with (
        threadpool_limits(limits=1),
        open_clip(path, capture_rate_hz=options.capture_rate_hz, threads=options.threads) as clip,
    ):
        check_measurable(clip.facts)
        frames = list(clip.sample(_SAMPLES))
        facts = clip.facts
        if not frames:
            raise ClipError(f"{path.name} holds no frame that can be read")
        return check_frames(frames, facts, options)


def check_frames(frames: Sequence[Frame], facts: ClipFacts, options: Options) -> SetUpCheck:
    """The same for frames at hand."""
    prior = lens_prior(options.lens, facts)
    pictures = align([(frame.luma, *frame.chroma()) for frame in frames]).pictures
    lumas = [luma for luma, _, _ in pictures]
    hole_found = True
    try:
        site = survey(pictures, prior=prior, hole_px=options.hole_px, sheet_px=options.sheet_px)
    except HoleNotFoundError:
        hole_found = False
        middle = (facts.width / 2, facts.height / 2)
        site = survey(pictures, prior=prior, hole_px=middle, sheet_px=options.sheet_px)
    within = _field(site)
    balls, burnt = _balls(lumas, site, within)
    lie, gate = None, None
    if hole_found:
        still = site.still
        lit, light = lit_balls(pictures, site, within, grass_hue(still.luma, still.cb, still.cr, within))
        site = with_hole_in_light(site, light)
        balls = balls or _places([fit.at_m for _, fit in lit])  # those that only their colour shows
        lie, gate = _lie_and_gate(site, balls, light, no_gate=options.no_gate)
    u95, change = None, None
    if lie is not None:
        setup = SetUp(
            camera=site.pose.camera,
            sheets=site.pose.sheets,
            lie_m=np.array(lie),
            hole_m=site.pose.camera.to_plane(site.hole.at_px),
            hole_cov_px2=site.hole.cov_px2,
            rate_hz=facts.nominal_rate_hz,
            readout_s=sensor_readout(options.lens, facts).seconds,
            prior=prior,
        )
        u95 = start_line_u95_deg(setup, site.pose)
        foreseen, change = best_change(setup)
        if change is not None:  # what the model gives, on the scale of what this clip's pose gives
            change = replace(change, u95_deg=change.u95_deg * u95 / foreseen)
    return SetUpCheck(
        facts=facts,
        site=site,
        hole_found=hole_found,
        steady=_steadiness(frames, lumas, site),
        light=_light(site, burnt),
        balls_m=tuple(balls),
        lie_m=lie,
        gate=gate,
        start_line_u95_deg=u95,
        change=change,
    )


def _field(site: Site) -> Plane:
    """Where balls are looked for."""
    marks = site.marks_m[np.isfinite(site.marks_m).all(axis=1)]
    reach = FinderSettings(farthest_m=float(np.hypot(*marks.T).max()) + 1.0)
    return field(site.pose.camera, site.still.luma.shape[:2], reach, site.pages_px())


def _balls(
    lumas: Sequence[Plane], site: Site, within: Plane
) -> tuple[list[tuple[float, float]], float | None]:
    """Places of balls at rest, those seen most often first, and how burnt out the first is."""
    camera = site.pose.camera
    look = Look(camera=camera, table=linear_light(site.gamma))
    seen: list[tuple[float, float]] = []
    burnt: list[float] = []
    others: list[NoBall] = []
    for luma in lumas[:: max(1, len(lumas) // _BALL_LOOKS)]:
        found = find_balls(
            luma, camera, partial(look.at, luma, reach_px=REACH_PX), within=within, others=others
        )
        others += found.others
        seen += [fit.at_m for fit in found.balls]
        at_px = [np.array(fit.at_px) for fit in found.balls]
        burnt += [_burnt(luma, px, ball_radius_px(camera, px)) for px in at_px]
    return _places(seen), float(np.median(burnt)) if burnt else None


def _places(seen: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Where balls were seen again and again, the most often first."""
    places: list[list[tuple[float, float]]] = []
    for at_m in seen:
        same = next((group for group in places if _apart(group[0], at_m) < _SAME_M), None)
        if same is None:
            places.append([at_m])
        else:
            same.append(at_m)
    places.sort(key=lambda group: -len(group))
    if any(len(group) > 1 for group in places):  # what is seen once is a putter or a ball on its way
        places = [group for group in places if len(group) > 1]
    middles = [tuple(map(float, np.median(np.array(group), axis=0))) for group in places]
    return [(x, y) for x, y in middles]


def _apart(a: tuple[float, float], b: tuple[float, float]) -> float:
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))


def _burnt(luma: Plane, at_px: Floats, radius_px: float) -> float:
    x, y = at_px
    r = max(1, int(radius_px))
    part = luma[max(0, int(y) - r) : int(y) + r + 1, max(0, int(x) - r) : int(x) + r + 1]
    return float((part >= _BURNT).mean() / (np.pi / 4)) if part.size else 0.0


def _lie_and_gate(
    site: Site, balls: list[tuple[float, float]], light: BallLight | None, *, no_gate: bool
) -> tuple[tuple[float, float] | None, StandingGate | None]:
    """The ball to be putted is the one that has a gate; without gates the one seen most often."""
    hole = site.pose.camera.to_plane(site.hole.at_px)
    far = [ball for ball in balls if _apart(ball, (float(hole[0]), float(hole[1]))) > _SHORTEST_M]
    # the ball to be putted lies alone; those that wait lie together
    far = sorted(far, key=lambda ball: any(0 < _apart(ball, other) < _PILE_M for other in balls))
    if no_gate:
        return (far[0], None) if far else (None, None)
    gates = [(ball, find_gate(site, np.array(ball), light)) for ball in far[:_MOST_BALLS]]
    # a gate for the head, beside one ball, looks like a wide ball gate to another that lies behind it
    found = [(_rank(gate), ball, gate) for ball, gate in gates if gate is not None]
    if found:
        return min(found, key=lambda item: item[0])[1:]
    return (far[0], None) if far else (None, None)


def _rank(gate: StandingGate) -> tuple[int, float]:
    narrow = gate.kind == "ball gate" and (gate.gap_mm.value or 0.0) < _NARROW_MM
    order = 0 if narrow else 1 if gate.kind == "head gate" else 2
    return order, abs(gate.off_mm.value or 0.0)


def _steadiness(frames: Sequence[Frame], lumas: Sequence[Plane], site: Site) -> Steadiness | None:
    """How far the picture has moved, frame by frame, from the view that all is measured in."""
    steadier = Steadier(site.still.luma, site.pose.camera, lumas)
    moves = [(steadier.moved_px(frame.luma), frame.time_s) for frame in frames]
    shifts = [(px, time_s) for px, time_s in moves if px is not None]
    if len(shifts) < 2:
        return None
    most, at_s = max(shifts)
    return Steadiness(most_px=most, at_s=at_s, n_frames=len(shifts))


def _light(site: Site, burnt: float | None) -> Light:
    whites, blacks = [], []
    luma = site.still.luma
    for sheet in site.sheets:
        mask = np.zeros(luma.shape, np.uint8)
        cv2.fillConvexPoly(mask, np.round(sheet.corners_px).astype(np.int32), 1)
        values = luma[mask > 0]
        if values.size:
            whites.append(float(np.percentile(values, 97)))
            blacks.append(float(np.percentile(values, 5)))
    return Light(
        paper=float(np.median(whites)) if whites else 0.0,
        ink=float(np.median(blacks)) if blacks else 0.0,
        burnt=burnt,
        blur_px=float(np.median([sheet.blur_px for sheet in site.sheets])),
    )
