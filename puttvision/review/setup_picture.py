"""One picture of a set-up with everything drawn that was found, and the verdicts beside it."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure as Plot
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from puttvision.files import replacing
from puttvision.green.camera import circle_on_plane
from puttvision.green.still import StillPicture
from puttvision.looks import FILM, LIGHT
from puttvision.physics import HOLE_RADIUS_M
from puttvision.putt.check_clip import SetUpCheck
from puttvision.putt.verdicts import Grade, Verdict

Floats = NDArray[np.float64]

_WIDE_IN = 13.0
_DPI = 110
_LINE_IN = 0.30
_MARKS: dict[Grade, str] = {"mend": "✕", "could be better": "△", "good": "✓"}
_POST_M = 0.035


def write_picture(check: SetUpCheck, verdicts: list[Verdict], path: Path) -> None:
    """Write the picture as PNG, whole or not at all. Raises PuttvisionError where it cannot be written."""
    luma = check.site.still.luma
    height, width = luma.shape
    theme = LIGHT
    text_in = 0.35 + _LINE_IN * len(verdicts)
    wide_in = _WIDE_IN if width >= height else 0.62 * _WIDE_IN
    picture_in = wide_in * height / width
    plot = Plot(figsize=(wide_in, picture_in + text_in), dpi=_DPI, facecolor=theme.paper)
    FigureCanvasAgg(plot)
    share = picture_in / (picture_in + text_in)
    axes = plot.add_axes((0, 1 - share, 1, share))
    axes.imshow(_colours(check.site.still), interpolation="bilinear")
    axes.set_axis_off()
    axes.set_xlim(-0.5, width - 0.5)
    axes.set_ylim(height - 0.5, -0.5)
    _draw(axes, check)
    for i, verdict in enumerate(verdicts):
        y = 1 - share - (0.30 + _LINE_IN * i) / (picture_in + text_in)
        colour = {"mend": theme.bad, "could be better": theme.ink, "good": theme.soft}[verdict.grade]
        mark = _MARKS[verdict.grade]
        plot.text(0.012, y, mark, family="DejaVu Sans", size=13, color=colour, va="center")
        weight = "bold" if verdict.grade == "mend" else "normal"
        plot.text(0.034, y, verdict.words, fontsize=11, color=colour, va="center", weight=weight)
    with replacing(path) as temporary:
        plot.savefig(temporary, format="png")


def _colours(still: StillPicture) -> NDArray[np.uint8]:
    """RGB of the still picture."""
    height, width = still.luma.shape
    planes = [still.luma] + [
        np.asarray(cv2.resize(plane, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
        for plane in (still.cr, still.cb)
    ]
    return np.asarray(cv2.cvtColor(np.dstack(planes), cv2.COLOR_YCrCb2RGB), dtype=np.uint8)


def _draw(axes: Axes, check: SetUpCheck) -> None:
    site, theme = check.site, FILM
    camera = site.pose.camera
    for sheet in site.sheets:
        _outline(axes, sheet.corners_px, theme.accent)
        below = sheet.corners_px[np.argmax(sheet.corners_px[:, 1])] + (0, 0.025 * site.still.luma.shape[0])
        _label(axes, below, f"sheet {sheet.id}", theme.accent)
    hole = camera.to_plane(site.hole.at_px)
    if check.hole_found:
        ring = circle_on_plane(camera, hole, HOLE_RADIUS_M)
        _outline(axes, ring, theme.good)
        _label(axes, ring[np.argmin(ring[:, 1])] - (0, 8), "hole", theme.good)
    if check.lie_m is None:
        return
    lie = np.array(check.lie_m)
    ball = circle_on_plane(camera, lie, 0.035)
    _outline(axes, ball, theme.good)
    _label(axes, ball[np.argmax(ball[:, 1])] + (0, 22), "ball", theme.good)
    line = lie + np.linspace(0, 1, 40)[:, None] * (hole - lie)
    px = camera.project(np.column_stack([line, np.zeros(len(line))]))
    axes.plot(*px.T, color="white", linewidth=1.2, linestyle=(0, (6, 4)), path_effects=_halo())
    if check.gate is None:
        return
    feet = camera.to_plane(check.gate.posts.feet_px)
    for foot in feet:
        post = camera.project(np.array([[*foot, 0.0], [*foot, _POST_M]]))
        axes.plot(*post.T, color=theme.bad, linewidth=2.5, path_effects=_halo())
    across = np.array([[*feet[0], 0.0], [*feet[1], 0.0]])
    axes.plot(*camera.project(across).T, color=theme.bad, linewidth=1.5, path_effects=_halo())
    turned = check.gate.square_deg.value or 0.0
    words = f"{check.gate.kind}: {check.gate.gap_mm.value or 0:.0f} mm, {abs(turned):.1f}° " + (
        "right" if turned > 0 else "left"
    )
    top = camera.project(np.array([*((feet[0] + feet[1]) / 2), 0.10]))
    _label(axes, top, words, theme.bad)


def _outline(axes: Axes, px: Floats, colour: str) -> None:
    closed = np.vstack([px, px[:1]])
    axes.plot(*closed.T, color=colour, linewidth=1.8, path_effects=_halo())


def _label(axes: Axes, at: Floats, words: str, colour: str) -> None:
    axes.text(
        float(at[0]), float(at[1]), words, color=colour, fontsize=11, ha="center", va="center",
        weight="bold", path_effects=_halo(), clip_on=True,
    )  # fmt: skip


def _halo() -> list[withStroke]:
    return [withStroke(linewidth=3.5, foreground="#000000b0")]
