"""The main job: a clip in, its putts out.

Two runs over the file. The first looks at a few frames spread over the clip and finds what stands:
sheets, camera, hole. The second streams every frame once and follows the balls. Then all rolls are
fitted together and read off. Memory does not grow with the length of the clip.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from puttvision.ball.bright_part import ALL_WHOLE
from puttvision.ball.colour import FrameColour, GrassHue, grass_hue
from puttvision.ball.common_error import u_centres_px
from puttvision.ball.finder import FinderSettings, field
from puttvision.ball.follow import BallFollower
from puttvision.ball.light import Light
from puttvision.ball.look import HoleView
from puttvision.ball.sightings import Lie, Roll
from puttvision.ball.template import BallTemplates
from puttvision.clip.ahead import opencv_on_one_thread, read_ahead
from puttvision.clip.facts import ClipFacts, check_measurable
from puttvision.clip.frame import Frame
from puttvision.clip.source import Clip, open_clip
from puttvision.errors import ClipError
from puttvision.green.align import align
from puttvision.green.edges import linear_light
from puttvision.green.motion import Motion
from puttvision.green.site import Site, survey
from puttvision.green.steady import Steadier
from puttvision.putt.assemble import Assembly, Readout, assemble
from puttvision.putt.bumped import marked_if_bumped
from puttvision.putt.gate_by_hand import check_gate_pixels
from puttvision.putt.hole_in_light import with_hole_in_light
from puttvision.putt.known_lens import KnownLens, lens_notes, lens_prior, sensor_readout
from puttvision.putt.lit_balls import bright_parts, grass_luma, lit_balls, luma_shows
from puttvision.putt.scenery import scene_of
from puttvision.putts import ClipInfo, Green, PuttSheet
from puttvision.scene import Scene

Pixel = tuple[float, float]

_SAMPLES = 12
_SAMPLE_BYTES = 90_000_000
"""Sampled pictures are held together for their median: fewer of them where they are large."""
_AHEAD_BYTES = 100_000_000
"""So much is decoded ahead of what is being looked at: a ball under way takes longer than its frame."""
_BY_HOLE_M = 1.0
"""A sheet farther from the hole lies by the balls."""
_BEYOND_M = 2.0
"""A missed ball runs on by so much; farther off, specks in the rough look like balls."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What the user may settle by hand; pixels of the upright picture."""

    hole_px: Pixel | None = None
    gate_px: tuple[Pixel, Pixel] | None = None
    sheet_px: Mapping[int, tuple[Pixel, ...]] | None = None
    """By a sheet's number, corners of its black square: top left, top right, bottom right, bottom left."""
    no_gate: bool = False
    capture_rate_hz: float | None = None
    lens: KnownLens | None = None
    """A lens profile; None for what metadata and usual phones tell."""
    threads: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """The sheet of putts and what pictures of it are drawn from."""

    sheet: PuttSheet
    scene: Scene
    site: Site
    assembly: Assembly
    readout: Readout


@dataclass(frozen=True, slots=True, kw_only=True)
class Followed:
    """A clip's site and every roll in it, before anybody says what a putt is."""

    facts: ClipFacts
    site: Site
    rolls: list[Roll]
    found: list[Lie]
    """Balls found at rest after they had been out of sight."""
    readout: Readout
    u_ball_px: float
    """What all ball centres may be off by together."""
    light: Light | None
    """On the clip's balls."""
    n_frames: int
    end_s: float
    """Time of the last frame."""
    warnings: tuple[str, ...]
    moves: tuple[tuple[float, Motion], ...] = ()
    """From which times on the camera was where."""
    bumps_s: tuple[float, ...] = ()
    """Times at which the tripod was moved for good."""


def follow_clip(
    path: Path, options: Options | None = None, progress: Callable[[float, float], None] | None = None
) -> Followed:
    """Look at what stands in a clip and follow every ball that rolls; arguments as ``measure_clip``."""
    options = options or Options()
    # the matrices here are small: more threads than one would only get in the decoder's way
    with (
        threadpool_limits(limits=1),
        open_clip(path, capture_rate_hz=options.capture_rate_hz, threads=options.threads) as clip,
    ):
        check_measurable(clip.facts)
        look = _look(clip, options)
        site = look.site
        if options.gate_px is not None:
            check_gate_pixels(options.gate_px, site.pose.camera)
        with opencv_on_one_thread():
            rolls, found, last = _stream(clip, look, progress)
        facts = clip.facts
        warnings = [*facts.warnings, *site.warnings, *lens_notes(options.lens), *look.steadier.found.words()]
        if clip.break_text:
            warnings.append(clip.break_text)
        if last is None:
            raise ClipError(f"{path.name} holds no frame that can be read")
    return Followed(
        facts=facts,
        site=site,
        rolls=rolls,
        found=found,
        readout=sensor_readout(options.lens, facts),
        u_ball_px=u_centres_px(look.light),
        light=look.light,
        n_frames=last[0],
        end_s=last[1],
        warnings=tuple(warnings),
        moves=tuple(look.steadier.found.moves),
        bumps_s=tuple(look.steadier.found.bumps_s),
    )


def measure_clip(
    path: Path, options: Options | None = None, progress: Callable[[float, float], None] | None = None
) -> Measurement:
    """Measure every putt in a clip.

    ``progress`` is called with the seconds of clip done and the clip's seconds in all.

    Raises
    ------
    ClipError, GreenError
        One line: what is wrong, where, what to do.
    """
    options = options or Options()
    followed = follow_clip(path, options, progress)
    site, readout, facts = followed.site, followed.readout, followed.facts
    warnings = list(followed.warnings)
    assembly = assemble(
        followed.rolls,
        followed.found,
        site,
        readout,
        u_ball_px=followed.u_ball_px,
        light=followed.light,
        gate_px=options.gate_px,
        no_gate=options.no_gate,
    )
    if not assembly.putts:
        warnings.append(
            "no putt seen: a putt is a ball at rest in the picture that is struck and rolls towards the hole"
        )
    sheet = PuttSheet(
        putts=marked_if_bumped(assembly.putts, followed.bumps_s),
        clip=ClipInfo(
            file=facts.file,
            duration_s=round(followed.end_s + (1 / facts.nominal_rate_hz), 6),
            frames=followed.n_frames,
            width=facts.width,
            height=facts.height,
        ),
        green=Green(
            sheets=tuple(sorted(sheet.id for sheet in site.sheets)),
            reprojection_rms_px=round(site.pose.rms_px, 4),
            hole_px=(round(site.hole.at_px[0], 2), round(site.hole.at_px[1], 2)),
            stimp_ft=assembly.stimp_ft,
        ),
        gate=assembly.gate,
        warnings=tuple(warnings),
    )
    scene = scene_of(site, assembly, readout, options.capture_rate_hz, followed.moves)
    return Measurement(sheet=sheet, scene=scene, site=site, assembly=assembly, readout=readout)


@dataclass(frozen=True, slots=True)
class _Look:
    """What stands, how a ball is lit, and what keeps the picture where it is."""

    site: Site
    within: NDArray[np.uint8]
    """Where balls are looked for."""
    grass: GrassHue
    light: Light | None
    luma_shows: bool
    steadier: Steadier


def sampled(clip: Clip) -> list[Frame]:
    """The frames in which it is looked for what stands, spread over the clip."""
    size = clip.facts.width * clip.facts.height * 3 // 2
    return clip.sample_together(int(max(7, min(_SAMPLES, _SAMPLE_BYTES // size))))


def _look(clip: Clip, options: Options) -> _Look:
    facts = clip.facts
    frames = sampled(clip)
    prior = lens_prior(options.lens, facts)
    aligned = align([(frame.luma, *frame.chroma()) for frame in frames])
    pictures = aligned.pictures
    site = survey(pictures, prior=prior, hole_px=options.hole_px, sheet_px=options.sheet_px)
    lumas = [luma for luma, _, _ in pictures]
    within = _field(site)
    still = site.still
    grass = grass_hue(still.luma, still.cb, still.cr, within)
    balls, light = lit_balls(pictures, site, within, grass)
    site = with_hole_in_light(site, light)
    return _Look(
        site,
        within,
        grass,
        light,
        luma_shows(balls, light),
        Steadier(still.luma, site.pose.camera, lumas),
    )


def _field(site: Site) -> NDArray[np.uint8]:
    """Where balls are looked for: no farther off than hole and sheets, and a little; anywhere, where no
    sheet tells how far off the balls are putted from."""
    height, width = site.still.luma.shape
    hole_m, *sheets_m = site.marks_m
    settings = FinderSettings()
    if any(np.hypot(*(sheet_m - hole_m)) > _BY_HOLE_M for sheet_m in sheets_m):
        settings = FinderSettings(farthest_m=float(np.hypot(*site.marks_m.T).max()) + _BEYOND_M)
    return field(site.pose.camera, (height, width), settings, site.pages_px())


def _stream(
    clip: Clip, look: _Look, progress: Callable[[float, float], None] | None
) -> tuple[list[Roll], list[Lie], tuple[int, float] | None]:
    site, table = look.site, linear_light(look.site.gamma)
    shading = None if look.light is None else look.light.shading
    part, templates = ALL_WHOLE, None
    if shading is not None:
        grass = grass_luma(site, look.within)
        part = bright_parts(site, grass, shading)
        if look.luma_shows:
            templates = BallTemplates(site.pose.camera, table, shading, grass)
    follower = BallFollower(
        site.pose.camera,
        table,
        shading=shading,
        hole=HoleView(site.hole_box, site.hole_look),
        within=look.within,
        part=part,
        luma_shows=look.luma_shows,
        templates=templates,
    )
    rolls: list[Roll] = []
    found: list[Lie] = []
    last: tuple[int, float] | None = None
    total_s = clip.total_s
    told_s = -1.0
    n_ahead = max(2, _AHEAD_BYTES // (clip.facts.width * clip.facts.height * 3 // 2))
    for frame in read_ahead(clip.frames(), n_ahead):
        luma = look.steadier.view(frame.luma, frame.time_s)
        if luma is not None:
            colour = FrameColour(luma, frame.chroma, look.grass, look.steadier.warp)
            follower.feed(luma, frame.time_s, colour if look.grass.tells else None)
        last = (frame.index + 1, frame.time_s)
        if frame.time_s - told_s > 0.25:
            told_s = frame.time_s
            rolls += follower.take()
            found += follower.take_found()
            if progress and total_s:
                progress(frame.time_s, total_s)
    rolls += follower.finish()
    found += follower.take_found()
    if progress and total_s:
        progress(total_s, total_s)
    return sorted(rolls, key=lambda roll: roll.sightings[0].time_s), found, last
