"""The data model of scene.json: what pictures of a measured clip are drawn from.

``measure`` writes it beside putts.json: the camera, what stands on the green, and every putt's way in time,
in pixels as it was seen and in metres as it was fitted. Clips, report and page draw from it alone.

Frame of the green: metres, origin on the plane right under the lens, y the way the camera looks, x to
its right, z up. Pixels: of the upright picture, (x, y) from the centre of the top left pixel. Times:
seconds from the first frame. A frame's time is that of its first row; row r was exposed
``readout_s * r / height`` later: a sighting has its frame's time, a path the true one.
"""

from __future__ import annotations

import json
import math
from bisect import bisect
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, asdict, dataclass, fields
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from puttvision.errors import SceneFileError

FORMAT = "puttvision-scene/1"

Place = tuple[float, float]

_SAME_FRAME_S = 5e-4
"""Times are kept rounded, and a browser's are."""


class Seen(NamedTuple):
    """The ball in one frame."""

    time_s: float
    """The frame's presentation time."""
    x_px: float
    y_px: float
    """Projection of the ball's centre."""
    radius_px: float


class Step(NamedTuple):
    """The ball on its way."""

    time_s: float
    x_m: float
    y_m: float
    """The point of the plane under its centre."""
    speed_m_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The camera: a pinhole with OpenCV's distortion above the plane."""

    width: int
    height: int
    f_px: float
    cx_px: float
    cy_px: float
    k1: float
    k2: float
    height_m: float
    tilt_rad: float
    """How far it looks down from the level."""
    roll_rad: float
    """How far it is turned clockwise about its own axis."""
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0
    k4: float = 0.0
    k5: float = 0.0
    k6: float = 0.0
    """What a lens profile adds, in OpenCV's names; absent from older files."""


class Moved(NamedTuple):
    """The camera elsewhere than in ``view``, from a frame on until the next row.

    A point at X in the camera's frame of ``view`` (x right, y down, z forward) lies at ``R(turn) X + shift``
    in that of the camera that has moved; R by Rodrigues's formula.
    """

    time_s: float
    turn_x_rad: float
    turn_y_rad: float
    turn_z_rad: float
    shift_x_m: float
    shift_y_m: float
    shift_z_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AtHole:
    """The fitted path at the hole, as over a covered hole."""

    nearest_m: Place
    """Where it comes closest to the hole's centre."""
    heading_rad: float
    """Of its motion there, from the x axis towards the y axis."""
    time_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PuttPath:
    """One putt's way."""

    number: int
    """As in putts.json."""
    lie_m: Place
    heading_rad: float
    """Of the start, from the x axis towards the y axis."""
    start_s: float
    end_s: float
    """When it was last seen moving."""
    seen: tuple[Seen, ...]
    path: tuple[Step, ...]
    """From the start to the hole, the rest or where it was last seen; times rise."""
    at_hole: AtHole | None
    """None where it stops before, or a post turned it away."""
    rest_m: Place | None

    def __post_init__(self) -> None:
        for times in ([row.time_s for row in self.seen], [row.time_s for row in self.path]):
            if any(a >= b for a, b in pairwise(times)):
                raise ValueError(f"times rise along a putt, those of putt {self.number} do not")


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A whole scene.json."""

    view: View
    readout_s: float
    """From the first row of a picture to its last."""
    hole_m: Place
    posts_m: tuple[Place, Place] | None
    """The feet of the gate's posts, left and right as seen from the ball."""
    post_height_m: float
    putts: tuple[PuttPath, ...]
    capture_rate_hz: float | None = None
    """Frames a second the phone took, where the user said that a slow-motion file plays slower: all times are
    real ones then, not the file's."""
    moved: tuple[Moved, ...] = ()
    """How the camera moved, if it did: times rise. All pixels of this file are those of ``view`` still."""

    def __post_init__(self) -> None:
        if any(a.time_s >= b.time_s for a, b in pairwise(self.moved)):
            raise ValueError("times rise along the camera's moves")

    def moved_at(self, time_s: float) -> Moved | None:
        """Where the camera was in the frame of a time; None where it stood as in ``view``."""
        k = bisect(self.moved, time_s + _SAME_FRAME_S, key=lambda row: row.time_s)
        return self.moved[k - 1] if k else None

    def putt(self, number: int) -> PuttPath | None:
        """The way of a putt of putts.json; None for one that was entered by hand."""
        return next((putt for putt in self.putts if putt.number == number), None)


# --- writing ---------------------------------------------------------------------------------


def _putt_out(putt: PuttPath) -> dict[str, Any]:
    out = {f.name: getattr(putt, f.name) for f in fields(putt)}
    out["at_hole"] = asdict(putt.at_hole) if putt.at_hole else None
    out["seen"] = [[round(t, 6), round(x, 3), round(y, 3), round(r, 3)] for t, x, y, r in putt.seen]
    out["path"] = [[round(t, 6), round(x, 5), round(y, 5), round(v, 4)] for t, x, y, v in putt.path]
    return out


def to_text(scene: Scene) -> str:
    """The text of scene.json, a line for each putt."""
    head = {
        "format": FORMAT,
        "view": asdict(scene.view),
        "readout_s": scene.readout_s,
        "hole_m": scene.hole_m,
        "posts_m": scene.posts_m,
        "post_height_m": scene.post_height_m,
        "capture_rate_hz": scene.capture_rate_hz,
    }
    if scene.moved:
        head["moved"] = [[round(value, 6) for value in row] for row in scene.moved]
    putts = ",\n".join(json.dumps(_putt_out(putt), allow_nan=False) for putt in scene.putts)
    return json.dumps(head, indent=1, allow_nan=False).removesuffix("\n}") + f',\n "putts": [\n{putts}\n]}}\n'


# --- reading ---------------------------------------------------------------------------------


class _Reader:
    """Takes keys out of a JSON object; every fault names the place and what was due."""

    def __init__(self, data: Any, where: str) -> None:
        if not isinstance(data, Mapping):
            raise SceneFileError(f"{where}: an object was due, got {json.dumps(data)[:40]}")
        self.data, self.where = data, where

    def fault(self, key: str, due: str) -> SceneFileError:
        got = json.dumps(self.data.get(key))[:40]
        return SceneFileError(f"{self.where}, {key}: {due} was due, got {got}")

    def number(self, key: str) -> float:
        value: Any = self.data.get(key)
        if not _is_number(value):
            raise self.fault(key, "a number")
        return float(value)

    def whole(self, key: str) -> int:
        value = self.data.get(key)
        if not isinstance(value, int) or isinstance(value, bool) or value < 1:
            raise self.fault(key, "a whole number from 1")
        return value

    def place(self, key: str) -> Place:
        (row,) = self._rows(key, [self.data.get(key)], 2, "two numbers")
        return row[0], row[1]

    def rows(self, key: str, n: int) -> list[tuple[float, ...]]:
        values = self.data.get(key)
        due = f"a list of rows of {n} numbers"
        if not isinstance(values, Sequence) or isinstance(values, str):
            raise self.fault(key, due)
        return self._rows(key, values, n, due)

    def _rows(self, key: str, values: Sequence[Any], n: int, due: str) -> list[tuple[float, ...]]:
        for row in values:
            if not isinstance(row, (list, tuple)) or len(row) != n or not all(map(_is_number, row)):
                raise self.fault(key, due)
        return [tuple(map(float, row)) for row in values]


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _view_in(data: Any, where: str) -> View:
    take = _Reader(data, where)
    width, height = take.whole("width"), take.whole("height")
    rest = {
        f.name: take.number(f.name)
        for f in fields(View)
        if f.name not in ("width", "height") and (f.name in take.data or f.default is MISSING)
    }
    for key in ("f_px", "height_m"):
        if rest[key] <= 0:
            raise take.fault(key, "a number above 0")
    return View(width=width, height=height, **rest)


def _at_hole_in(data: Any, where: str) -> AtHole | None:
    if data is None:
        return None
    take = _Reader(data, where)
    return AtHole(
        nearest_m=take.place("nearest_m"),
        heading_rad=take.number("heading_rad"),
        time_s=take.number("time_s"),
    )


def _putt_in(data: Any, where: str) -> PuttPath:
    take = _Reader(data, where)
    try:
        return PuttPath(
            number=take.whole("number"),
            lie_m=take.place("lie_m"),
            heading_rad=take.number("heading_rad"),
            start_s=take.number("start_s"),
            end_s=take.number("end_s"),
            seen=tuple(Seen(*row) for row in take.rows("seen", 4)),
            path=tuple(Step(*row) for row in take.rows("path", 4)),
            at_hole=_at_hole_in(data.get("at_hole"), f"{where}, at_hole"),
            rest_m=None if data.get("rest_m") is None else take.place("rest_m"),
        )
    except ValueError as err:
        raise SceneFileError(f"{where}: {err}") from err


def from_json(data: Any, where: str = "scene.json") -> Scene:
    """Read a JSON object; unknown keys are left alone.

    Raises SceneFileError that names the place, the key and what was due.
    """
    take = _Reader(data, where)
    if data.get("format") != FORMAT:
        raise take.fault("format", f'"{FORMAT}"')
    raw = data.get("putts")
    if not isinstance(raw, list):
        raise take.fault("putts", "a list of putts")
    posts = None
    if data.get("posts_m") is not None:
        rows = take.rows("posts_m", 2)
        if len(rows) != 2:
            raise take.fault("posts_m", "two places")
        posts = (rows[0][0], rows[0][1]), (rows[1][0], rows[1][1])
    moved = tuple(Moved(*row) for row in take.rows("moved", 7)) if data.get("moved") else ()
    if any(a.time_s >= b.time_s for a, b in pairwise(moved)):
        raise take.fault("moved", "rows whose times rise")
    return Scene(
        view=_view_in(data.get("view"), f"{where}, view"),
        readout_s=take.number("readout_s"),
        hole_m=take.place("hole_m"),
        posts_m=posts,
        post_height_m=take.number("post_height_m"),
        putts=tuple(_putt_in(item, f"{where}, putt {i + 1} in the list") for i, item in enumerate(raw)),
        capture_rate_hz=None if data.get("capture_rate_hz") is None else take.number("capture_rate_hz"),
        moved=moved,
    )


def load(path: Path) -> Scene:
    """Read a scene.json; SceneFileError where it is missing, no JSON or not of the format."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as err:
        raise SceneFileError(
            f"cannot read {path}: {err.strerror or err}; `puttvision measure` writes it beside putts.json"
        ) from err
    except (UnicodeDecodeError, json.JSONDecodeError) as err:
        raise SceneFileError(f"{path} is not JSON: {err}") from err
    return from_json(data, str(path))
