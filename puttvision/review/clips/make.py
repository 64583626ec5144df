"""Annotated clips written: one a putt and one of the whole drill, streamed frame by frame."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.clip.facts import ClipFacts
from puttvision.clip.frame import Frame
from puttvision.clip.sound import RATE_HZ, Samples, has_sound, silence, sound_of
from puttvision.clip.source import Clip
from puttvision.clip.writer import ClipWriter, OpenPicture
from puttvision.drill.rules import Rules
from puttvision.errors import ClipError
from puttvision.files import replacing
from puttvision.putts import ClipInfo, Putt, PuttSheet
from puttvision.review.clips.close_look import places
from puttvision.review.clips.drawing import Drawing, draw, moments
from puttvision.review.clips.held import Held, brought_back
from puttvision.review.clips.on_green import Look, room_for_words_at_hole
from puttvision.review.clips.panel import place_for
from puttvision.review.clips.score import standings
from puttvision.review.clips.spans import BEFORE_S, Span, of_drill, of_putt
from puttvision.review.perspective import Ground
from puttvision.scene import PuttPath, Scene

Plane = NDArray[np.uint8]
Progress = Callable[[float, float], None]

MOST_PX = 1920
"""Longest side of what is written: enough for a phone, and 4K would not encode in real time."""
DRILL_FILE = "drill.mp4"


@dataclass(frozen=True, slots=True)
class Filmed:
    """A putt with its way."""

    putt: Putt
    way: PuttPath
    start_s: float
    end_s: float


class Studio:
    """Everything that the clips of one session share."""

    def __init__(self, clip: Clip, sheet: PuttSheet, scene: Scene, rules: Rules | None) -> None:
        facts = clip.facts
        _check_same_clip(facts, sheet.clip, scene)
        scale = min(1.0, MOST_PX / max(facts.width, facts.height))
        size = (int(facts.width * scale) // 2 * 2, int(facts.height * scale) // 2 * 2)
        self.clip, self.sheet = clip, sheet
        self.ground = Ground(scene, scale)
        self.look = Look(size, facts.full_range)
        self.frame_s = 1 / facts.nominal_rate_hz
        self.clip_s = sheet.clip.duration_s if sheet.clip else clip.total_s or float("inf")
        self.sound = has_sound(clip.path) and facts.time_scale == 1.0
        self.stands = standings(rules, sheet.putts)
        self.filmed = self._filmed(scene)
        self.zero_s = self.filmed[0].start_s if self.filmed else 0.0
        balls, players = self._action()
        self.place = place_for(size, np.vstack([balls, players]))
        self.windows = places(size, balls, players, self.place, gated=scene.posts_m is not None)

    def _filmed(self, scene: Scene) -> list[Filmed]:
        found = []
        for putt in self.sheet.putts:
            way = scene.putt(putt.number)
            if way is not None and len(way.path) > 1:
                when = moments(putt, way, self.ground_at(way.start_s))
                found.append(Filmed(putt, way, when.start_s, max(way.end_s, when.call_s)))
        return found

    def _action(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Where balls roll and words are put at the hole, and where players stand, pixels."""
        words = room_for_words_at_hole(self.ground, self.look)
        balls, players = [self.ground.hole(), np.repeat(words, 10, axis=0)], []
        for item in self.filmed:
            ground = self.ground_at(item.start_s)
            balls += [ground.hole(), ground.path(item.way)[0]]
            players.append(_player(item.way, ground))
        if self.ground.scene.posts_m is not None:
            balls.append(np.repeat(self.ground.px(self.ground.scene.posts_m), 20, axis=0))
        found = [np.vstack(points) if points else np.zeros((0, 2)) for points in (balls, players)]
        seen = [points[np.isfinite(points).all(axis=1)] for points in found]
        return seen[0], seen[1]

    def ground_at(self, time_s: float) -> Ground:
        """The green as the camera saw it at a time."""
        scene = self.ground.scene
        return Ground(scene, self.ground.scale, moved=scene.moved_at(time_s))

    def drawing(self, item: Filmed) -> Drawing:
        """What is drawn over a putt."""
        of = f" of {len(self.sheet.putts)}" if len(self.sheet.putts) > 1 else ""
        return draw(
            item.putt, item.way, self.sheet.gate, self.stands[item.putt.number],
            self.ground_at(item.start_s), self.look, self.place, self.windows, self.zero_s,
            f"Putt {item.putt.number}{of}",
        )  # fmt: skip


def _check_same_clip(facts: ClipFacts, measured: ClipInfo | None, scene: Scene) -> None:
    """Refuse a clip of another size, or of another name and another length, than the measured one.

    A copy may be renamed, and a clip that is cut off holds fewer frames than its header says: either alone
    is no other clip.
    """
    if (facts.width, facts.height) != (scene.view.width, scene.view.height):
        raise ClipError(
            f"{facts.file} is {facts.width} x {facts.height} but its putts were measured in a picture of "
            f"{scene.view.width} x {scene.view.height}: give the clip that was measured"
        )
    if measured is None or Path(measured.file).name == facts.file:
        return
    if facts.n_frames_header not in (None, measured.frames):
        raise ClipError(
            f"{facts.file} has {facts.n_frames_header} frames, but the putts were measured in "
            f"{measured.file}, of {measured.frames}: give the clip that was measured"
        )


def _player(way: PuttPath, ground: Ground) -> NDArray[np.float64]:
    """Where the player stands, on either side of the ball: the stroke is worth seeing, too."""
    heading = np.array([np.cos(way.heading_rad), np.sin(way.heading_rad)])
    aside = np.array([-heading[1], heading[0]])
    return np.vstack([
        ground.px(np.array(way.lie_m) + aside * a, h)[None]
        for a in (-0.45, 0.0, 0.45)
        for h in np.linspace(0.0, 1.7, 15)
    ])  # fmt: skip


def write_putt(studio: Studio, item: Filmed, path: Path, told: Progress | None = None) -> None:
    """One putt, in real time and then slowed down."""
    _write(studio, [item], of_putt(item.start_s, item.end_s, studio.clip_s), path, told)


def write_drill(studio: Studio, path: Path, told: Progress | None = None) -> None:
    """The whole drill without what lies between the putts."""
    times = [(item.start_s, item.end_s) for item in studio.filmed]
    _write(studio, studio.filmed, of_drill(times, studio.clip_s), path, told)


def _write(
    studio: Studio, items: Sequence[Filmed], spans: list[Span], path: Path, told: Progress | None
) -> None:
    total_s = sum(span.until_s - span.from_s for span in spans)
    done_s = shown_s = 0.0
    k, drawing = 0, studio.drawing(items[0])
    held = Held(drawing.ground)
    with (
        replacing(path) as temporary,
        ClipWriter(
            temporary, *studio.look.size, rate_hz=1 / studio.frame_s, sound=studio.sound,
            full_range=studio.look.full_range,
        ) as out,
    ):  # fmt: skip
        for span in spans:
            sound: Iterator[Samples] = iter(())
            first_s, each_s = None, studio.frame_s / span.speed
            for frame in studio.clip.span(span.from_s, span.until_s):
                if first_s is None:
                    first_s, begins_s = frame.time_s, shown_s
                    if studio.sound and span.speed == 1.0:
                        sound = sound_of(studio.clip, first_s, span.until_s)
                while k + 1 < len(items) and frame.time_s >= items[k + 1].start_s - BEFORE_S:
                    k += 1
                    drawing = studio.drawing(items[k])
                    held = Held(drawing.ground)
                picture = _filled(out.open_picture(), frame, studio.ground.scale, held.at(frame.time_s))
                _lay(drawing, picture, frame.time_s, studio.frame_s, slow=span.speed < 1)
                at_s = begins_s + (frame.time_s - first_s) / span.speed
                out.write(picture, at_s, each_s)
                shown_s = at_s + each_s
                if studio.sound:
                    _sound_to(out, sound, shown_s)
                if told:
                    told(done_s + frame.time_s - span.from_s, total_s)
            done_s += span.until_s - span.from_s
        if out.n_pictures == 0:
            raise ClipError(
                f"{studio.clip.facts.file} shows no picture at {spans[0].from_s:.1f} s: is it the clip that "
                "was measured?"
            )


def _sound_to(out: ClipWriter, sound: Iterator[Samples], until_s: float) -> None:
    """Let the sound go on up to a moment of the written clip; slowed-down stretches are silent."""
    while (due := round((until_s - out.sound_s) * RATE_HZ)) > 0:
        out.write_sound([next(sound, silence(due / RATE_HZ))])


def _filled(
    picture: OpenPicture, frame: Frame, scale: float, from_px: NDArray[np.float64] | None = None
) -> OpenPicture:
    """The film itself in ``picture``, brought to its size and, where the camera moved, back to its place."""
    for plane, values, half in zip(
        (picture.luma, picture.cb, picture.cr), (frame.luma, *frame.chroma()), (1, 2, 2), strict=True
    ):
        height, width = plane.shape
        if (
            scale == 1.0
            and values.shape[0] >= height
            and values.shape[1] >= width
            and (values.shape[0] - height < 2 and values.shape[1] - width < 2)
        ):
            plane[:] = values[:height, :width]
        else:
            plane[:] = cv2.resize(values, (width, height), interpolation=cv2.INTER_AREA)
        if from_px is not None:
            plane[:] = brought_back(plane, from_px, scale / half)
    return picture


def _lay(drawing: Drawing, picture: OpenPicture, time_s: float, frame_s: float, *, slow: bool) -> None:
    """Draw over the picture, and put the ball back as it was filmed."""
    ball = drawing.ball(time_s, frame_s)
    kept = [_cut(plane, ball, half) for plane, half in _planes(picture)] if ball else []
    for window in drawing.close:
        window.look(picture, time_s)
    for item in drawing.layers(time_s, slow=slow):
        item.lay(picture, time_s)
    for window in drawing.close:
        window.lay(picture, time_s)
    for patch in kept:
        if patch is not None:
            around, before, inside = patch
            around[inside] = before[inside]


def _planes(picture: OpenPicture) -> tuple[tuple[Plane, int], ...]:
    return (picture.luma, 1), (picture.cb, 2), (picture.cr, 2)


def _cut(
    plane: Plane, ball: tuple[float, float, float], half: int
) -> tuple[Plane, Plane, NDArray[np.bool_]] | None:
    """A window of the plane around the ball, its samples before drawing, and which of them are kept."""
    height, width = plane.shape
    x, y, radius = (ball[0] + 0.5) / half - 0.5, (ball[1] + 0.5) / half - 0.5, ball[2] / half + 0.5
    x0, x1 = max(0, int(x - radius)), min(width, int(x + radius) + 2)
    y0, y1 = max(0, int(y - radius)), min(height, int(y + radius) + 2)
    if x0 >= x1 or y0 >= y1:
        return None
    rows, columns = np.ogrid[y0:y1, x0:x1]
    window = plane[y0:y1, x0:x1]
    return window, window.copy(), (columns - x) ** 2 + (rows - y) ** 2 <= radius**2
