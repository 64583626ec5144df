"""A close look: the film around gate or hole, enlarged and held at the moment that counts.

The gap at a gate is a few pixels wide in a picture of a whole putt. The window shows the frame in which the
ball went through with the room drawn in it, in a corner where nothing happens, from that moment on.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision import looks
from puttvision.clip.writer import OpenPicture
from puttvision.review.clips import paint
from puttvision.review.clips.layer import Layer, layer
from puttvision.review.clips.paint import Paint, Size
from puttvision.review.clips.panel import Place, Sizes, corners, covered
from puttvision.review.perspective import Ground
from puttvision.scene import Place as PlaceM

Plane = NDArray[np.uint8]
Floats = NDArray[np.float64]

_LEAST, _MOST = 2.0, 8.0
"""Enlarged less it shows nothing new; enlarged more it is a blur."""


@dataclass(slots=True)
class CloseLook:
    """One window."""

    shows_s: float
    place: Place
    from_px: tuple[int, int, int, int]
    """x, y, width and height of the film that is enlarged, pixels of the written picture, all even."""
    lines: Layer
    _held: tuple[Plane, Plane, Plane] | None = field(default=None)

    def look(self, picture: OpenPicture, time_s: float) -> None:
        """Take the film from a picture not yet drawn on, where the moment has come."""
        if time_s < self.shows_s or self._held is not None:
            return
        x, y, w, h = self.from_px
        planes: list[Plane] = []
        for plane, half in ((picture.luma, 1), (picture.cb, 2), (picture.cr, 2)):
            window = plane[y // half : (y + h) // half, x // half : (x + w) // half]
            size = (self.place.w // half, self.place.h // half)
            enlarged = cv2.resize(window, size, interpolation=cv2.INTER_CUBIC)
            planes.append(np.ascontiguousarray(enlarged, dtype=np.uint8))
        self._held = planes[0], planes[1], planes[2]
        self.lines.lay(OpenPicture(None, planes[0], planes[1], planes[2]), 0.0)

    def lay(self, picture: OpenPicture, time_s: float) -> None:
        """Show it."""
        if time_s < self.shows_s or self._held is None:
            return
        at = self.place
        for plane, held, half in zip(
            (picture.luma, picture.cb, picture.cr), self._held, (1, 2, 2), strict=True
        ):
            height, width = held.shape
            plane[at.y // half : at.y // half + height, at.x // half : at.x // half + width] = held


def places(
    size: Size, balls_px: Floats, players_px: Floats, panel: Place, *, gated: bool
) -> tuple[Place, Place] | None:
    """Room for windows on gate and hole, or for one on the hole; None where there is none.

    Away from the panel and from wherever a ball rolls, (n, 2); from the players, (m, 2), if it can be: the
    stroke is over when a window opens.
    """
    gap = Sizes.of(size).gap // 2 * 2
    room = 0.21 * size[0] if size[0] > size[1] else (size[0] - 5 * gap) / 2
    for share, beside in ((1.0, True), (1.0, False), (0.75, True), (0.75, False)):
        w, h = (round(side * share) // 2 * 2 for side in (room, 0.75 * room))
        over, under = ((w + gap, 0) if beside else (0, h + gap)) if gated else (0, 0)
        free = [at for at in corners(size, w + over, h + under) if not _meet(at, panel)]
        free = [at for at in free if covered(size, at, balls_px) == 0]
        best = min(free, key=lambda at: covered(size, at, players_px), default=None)
        if best is not None:
            x, y = best.x // 2 * 2, best.y // 2 * 2
            return Place(x, y, w, h, best.low), Place(x + over, y + under, w, h, best.low)
    return None


def _meet(a: Place, b: Place) -> bool:
    return a.x < b.x + b.w and b.x < a.x + a.w and a.y < b.y + b.h and b.y < a.y + a.h


def close_look(
    ground: Ground, size: Size, at_m: PlaceM, wide_m: float, place: Place, title: str, shows_s: float,
    draw: Callable[[Ground, Size], Paint], *, full_range: bool,
) -> CloseLook | None:  # fmt: skip
    """A window on ``wide_m`` around a place of the plane; ``draw`` gives what is drawn in it.

    None where the film shows it large enough, or it lies at the picture's edge.
    """
    x, y = ground.px(at_m)
    if not np.isfinite([x, y]).all():
        return None
    per_m = ground.camera.px_per_m([*at_m, 0.0]) * ground.scale
    zoom = min(_MOST, place.w / (wide_m * per_m))
    w, h = (round(side / zoom) // 2 * 2 for side in (place.w, place.h))
    x0, y0 = (round(v) // 2 * 2 for v in (x - w / 2, y - 0.6 * h))
    if zoom < _LEAST or x0 < 0 or y0 < 0 or x0 + w > size[0] or y0 + h > size[1]:
        return None
    # width and height are even, so the two axes are enlarged a little differently: less than a pixel's worth
    zoom = place.w / w
    near = Ground(ground.scene, ground.scale * zoom, (x0 * zoom, y0 * zoom), ground.moved)
    inside = (place.w, place.h)
    s = Sizes.of(size)
    bar = s.label * 1.5
    edge = np.array([[0, 0], [place.w - 1, 0], [place.w - 1, place.h - 1], [0, place.h - 1], [0, 0]], float)
    lines = paint.over(
        inside,
        draw(near, inside),
        paint.area(inside, [(0, 0), (place.w, 0), (place.w, bar), (0, bar)], looks.FILM.card, 0.74),
        paint.text(inside, title, 0.6 * s.gap, 0.15 * bar, s.label, looks.FILM.ink, bold=True),
        paint.stroke(inside, edge, looks.FILM.ink, 2.0, opacity=0.8),
    )
    return CloseLook(shows_s, place, (x0, y0, w, h), layer(lines, full_range=full_range))
