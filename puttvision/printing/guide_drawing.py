"""The field guide's three views of one set-up: from above, from the side, and as the phone sees it.

Each view fills a box given in millimetres, y down from the paper's top left corner.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from puttvision.physics import BALL_RADIUS_M, HOLE_RADIUS_M
from puttvision.printing import guide_scene as scene
from puttvision.printing.pen import GREY, INK, Pen, ellipse, rectangle

GRASS = "#D5E4CC"
SEEN = "#EAF3E4"
WHITE = "#FFFFFF"
FAINT = "#A7B3A6"
CLOTH = "#B9C2C9"
_BLACK = "#000000"
Placing = Callable[[ArrayLike], NDArray[np.float64]]


def draw_plan(pen: Pen, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> None:
    """Draw the set-up from above, to scale; ball, hole and gate are drawn larger than they are."""
    scale = min(width_mm / 4.55, height_mm / 4.3)  # mm on paper a metre
    middle = x_mm + width_mm / 2
    line_y = y_mm + 0.92 * scale

    def at(ground_m: ArrayLike) -> NDArray[np.float64]:
        xy = np.asarray(ground_m, dtype=float).reshape(-1, 2)
        return np.column_stack([middle + (xy[:, 0] - scene.PHONE[0]) * scale, line_y - xy[:, 1] * scale])

    box = rectangle(x_mm, y_mm, width_mm, height_mm)
    pen.shapes([box], fill=GRASS)
    far = (line_y - y_mm) / scale
    spread = (far - scene.PHONE[1]) * np.tan(scene.half_angle_rad())
    half_box = width_mm / 2 / scale
    reach = half_box / np.tan(scene.half_angle_rad())
    px, py = scene.PHONE[:2]
    wedge = [
        [px, py],
        [px - half_box, py + reach],
        [px - half_box, far],
        [px + half_box, far],
        [px + half_box, py + reach],
    ]
    if spread < half_box:
        wedge = [[px, py], [px - spread, far], [px + spread, far]]
    pen.shapes([at(wedge)], fill=SEEN)
    _player_from_above(pen, at, scale)
    _sheets(pen, at)
    ball, hole = at([scene.BALL, scene.HOLE])
    pen.line([np.add(ball, [2.2, 0]), np.subtract(hole, [2.4, 0])], width_mm=0.35, dash_mm=(1.6, 1.4))
    pen.shapes([ellipse(hole, 2.0)], fill=INK)
    pen.shapes([ellipse(ball, 1.5)], fill=WHITE, stroke=INK, width_mm=0.4)
    gate = at([[scene.GATE_X_M, 0.0]])[0]
    for side in (-1, 1):
        pen.shapes([ellipse([gate[0], gate[1] + 2.1 * side], 0.75)], fill=INK)
    _plan_words(pen, at)


def _player_from_above(pen: Pen, at: Placing, scale: float) -> None:
    for shoe in scene.SHOES:
        outline = ellipse(at(shoe)[0], scene.SHOE_HALF_M[0] * scale, scene.SHOE_HALF_M[1] * scale)
        pen.shapes([outline], fill=WHITE, stroke=GREY, width_mm=0.3)


def _sheets(pen: Pen, at: Placing) -> None:
    for sheet in scene.SHEETS:
        pen.shapes([at(sheet.paper())], fill=WHITE, stroke=GREY, width_mm=0.15)
        pen.shapes([at(outline) for outline in sheet.marker()], fill=_BLACK)


def _plan_words(pen: Pen, at: Placing) -> None:
    def word(x_m: float, y_m: float, words: str, align: str = "centre", bold: bool = False) -> None:
        x, y = at([x_m, y_m])[0]
        pen.text(x, y + 1.2, words, size_pt=9, align=align, bold=bold)

    word(-0.12, 0.0, "ball", "right", bold=True)
    word(3.19, 0.0, "hole", "left", bold=True)
    word(0.40, 0.29, "gate", "left", bold=True)
    word(0.28, 0.58, "player", "left")
    word(0.42, -0.62, "sheet", "left", bold=True)
    word(2.34, 0.62, "second sheet", "right", bold=True)
    _span(pen, at([[0.0, -0.17], [scene.GATE_X_M, -0.17]]))
    word(0.52, -0.17, "0.3–0.6 m", "left")
    word(0.52, -0.36, "(1–2 ft)", "left")
    px, py = scene.PHONE[:2]
    _span(pen, at([[px, -0.07], [px, py + 0.22]]))
    word(px + 0.08, -1.55, "3 m (10 ft)", "left", bold=True)
    word(px + 0.08, -1.77, "to the side, level with", "left")
    word(px + 0.08, -1.97, "the middle of the line", "left")
    x, y = at([px, py])[0]
    for turn in (-90, 30, 150):
        a = np.radians(turn)
        pen.line([[x, y], [x + 5.2 * np.cos(a), y - 5.2 * np.sin(a)]], colour=GREY, width_mm=0.6)
    pen.shapes([rectangle(x - 3.6, y - 1.0, 7.2, 2.0)], fill=INK)
    word(px + 0.36, py + 0.06, "phone on its tripod,", "left", bold=True)
    word(px + 0.36, py - 0.15, "on the side that", "left")
    word(px + 0.36, py - 0.36, "the player faces", "left")
    _sun(pen, *at([-0.38, -2.45])[0])
    word(-0.08, -2.35, "sun from behind", "left")
    word(-0.08, -2.56, "or from the side", "left")


def _span(pen: Pen, ends_mm: NDArray[np.float64]) -> None:
    """Draw an arrow with two heads between two places."""
    middle = ends_mm.mean(axis=0)
    for end in ends_mm:
        pen.arrow([middle, end], width_mm=0.25, head_mm=1.7)


def _sun(pen: Pen, x: float, y: float) -> None:
    pen.shapes([ellipse([x, y], 2.2)], stroke=INK, width_mm=0.4)
    for a in np.radians(np.arange(0, 360, 45)):
        ray = np.array([np.cos(a), np.sin(a)])
        pen.line([ray * 3.1 + [x, y], ray * 4.3 + [x, y]], width_mm=0.4)


def draw_elevation(pen: Pen, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> None:
    """Draw the set-up as seen along the line: how high and how far the phone stands."""
    scale = min(width_mm / 4.5, (height_mm - 8) / 1.75)
    ground_y = y_mm + height_mm - 6.5
    phone_x = x_mm + 0.72 * scale
    line_x = phone_x + 3.0 * scale
    lens_y = ground_y - scene.PHONE[2] * scale
    tilt = np.arctan2(scene.PHONE[2], 3.0)
    half = np.arctan(scene.PICTURE_HEIGHT / 2 / scene.FOCAL)
    right = x_mm + width_mm
    near = phone_x + scene.PHONE[2] * scale / np.tan(tilt + half)
    far_y = lens_y + (right - phone_x) * np.tan(tilt - half)
    pen.shapes([[[phone_x, lens_y], [near, ground_y], [right, ground_y], [right, far_y]]], fill=SEEN)
    pen.rectangle(x_mm, ground_y, width_mm, 6.5, fill=GRASS)
    pen.line([[x_mm, ground_y], [right, ground_y]], colour=GREY, width_mm=0.35)
    for foot in (-0.34, 0.05, 0.34):
        pen.line([[phone_x, lens_y + 2.5], [phone_x + foot * scale, ground_y]], colour=GREY, width_mm=0.7)
    along = np.array([np.sin(tilt), -np.cos(tilt)])
    ahead = np.array([np.cos(tilt), np.sin(tilt)])
    body = [
        1.9 * along + 0.5 * ahead,
        1.9 * along - 0.5 * ahead,
        -1.9 * along - 0.5 * ahead,
        -1.9 * along + 0.5 * ahead,
    ]
    pen.shapes([np.add(body, [phone_x, lens_y])], fill=INK)
    pen.line([[phone_x, lens_y], [line_x, ground_y]], colour=FAINT, width_mm=0.25, dash_mm=(1.2, 1.2))
    pen.shapes([ellipse([line_x, ground_y - 0.9], 0.9)], fill=WHITE, stroke=INK, width_mm=0.35)
    sheet_x = line_x + scene.SHEETS[0].y_m * scale
    pen.line([[sheet_x - 1.9, ground_y - 0.25], [sheet_x + 1.9, ground_y - 0.25]], width_mm=0.7)
    height_x = x_mm + 0.20 * scale
    _span(pen, np.array([[height_x, ground_y], [height_x, lens_y]]))
    pen.line([[height_x - 1, lens_y], [phone_x - 2.2, lens_y]], colour=FAINT)
    pen.text(phone_x + 4.5, lens_y - 0.2, "lens 1.4–1.6 m (about 5 ft) up", size_pt=9, bold=True)
    pen.text(line_x + 2.4, ground_y - 1.4, "ball", size_pt=9, bold=True)
    pen.text(sheet_x - 2.4, ground_y - 1.4, "sheet", size_pt=9, bold=True, align="right")
    _span(pen, np.array([[phone_x, ground_y + 3.2], [line_x, ground_y + 3.2]]))
    x = (phone_x + line_x) / 2
    pen.rectangle(x - 10.5, ground_y + 1.2, 21, 4.2, fill=GRASS)
    pen.text(x, ground_y + 4.4, "3 m (10 ft)", size_pt=9, align="centre")


def draw_picture(pen: Pen, x_mm: float, y_mm: float, width_mm: float) -> None:
    """Draw what the phone sees, in true perspective; the box is 9/16 as high as it is wide."""
    height = width_mm * scene.PICTURE_HEIGHT

    def at(points_m: ArrayLike) -> NDArray[np.float64]:
        points = np.asarray(points_m, dtype=float)
        return scene.picture(points) * width_mm + [x_mm, y_mm]

    pen.shapes([rectangle(x_mm, y_mm, width_mm, height)], fill=SEEN)
    _player_in_picture(pen, at, y_mm)
    _sheets(pen, at)
    hole = at(ellipse(scene.HOLE, HOLE_RADIUS_M))
    pen.shapes([hole], fill=INK)
    for side in (-1, 1):
        foot = [scene.GATE_X_M, side * scene.GATE_HALF_M]
        pen.line(at([[*foot, 0.0], [*foot, 0.05]]), width_mm=0.45)
    ball = at([[*scene.BALL, BALL_RADIUS_M]])[0]
    pen.line([ball, at([scene.HOLE])[0]], colour=GREY, width_mm=0.2, dash_mm=(1.0, 1.2))
    pen.shapes([ellipse(ball, BALL_RADIUS_M * scene.FOCAL / 3.35 * width_mm)], fill=WHITE, stroke=INK)
    pen.shapes([rectangle(x_mm, y_mm, width_mm, height)], stroke=INK, width_mm=0.6)
    _picture_words(pen, at, x_mm + width_mm)


def _player_in_picture(pen: Pen, at: Placing, top_mm: float) -> None:
    for shoe in scene.SHOES:
        across, along = scene.SHOE_HALF_M
        ankle = at([[shoe[0] - 0.05, shoe[1] + 0.08, 0.06], [shoe[0] + 0.05, shoe[1] + 0.08, 0.06]])
        knee_x = shoe[0] * 0.9 - 0.01
        knee = at([[knee_x - 0.075, 0.56, 0.62], [knee_x + 0.075, 0.56, 0.62]])
        share = (ankle[:, 1] - top_mm) / (ankle[:, 1] - knee[:, 1])
        high = ankle + (knee - ankle) * share[:, None]
        outline = at(np.column_stack([ellipse(shoe, across, along), np.full(48, 0.03)]))
        pen.shapes([[ankle[0], ankle[1], high[1], high[0]]], fill=CLOTH)
        pen.shapes([outline], fill=WHITE, stroke=GREY, width_mm=0.25)
    grip, head = at([[-0.07, 0.17, 0.75], [-0.085, 0.02, 0.03]])
    share = (head[1] - top_mm) / (head[1] - grip[1])
    pen.line([head, head + (grip - head) * min(share, 1.0)], colour=GREY, width_mm=0.35)
    pen.line(at([[-0.085, -0.05, 0.015], [-0.085, 0.05, 0.015]]), colour=GREY, width_mm=1.0)


def _picture_words(pen: Pen, at: Placing, right_mm: float) -> None:
    def word(x_m: float, y_m: float, words: str, align: str = "centre") -> None:
        x, y = at([[x_m, y_m]])[0]
        pen.text(x, y + 1.1, words, size_pt=8.5, align=align)

    word(-0.17, -0.03, "ball", "right")
    word(0.44, 0.29, "gate", "left")
    word(0.40, -0.56, "sheet", "left")
    word(2.32, 0.52, "sheet", "right")
    word(3.05, -0.22, "hole")
    end, start = at([[3.17, 0.0]])[0], right_mm - 0.6
    _span(pen, np.array([[end[0], end[1]], [start, end[1]]]))
    pen.text(right_mm - 1.6, end[1] - 1.6, "room", size_pt=8.5, align="right")
    x, y = at([scene.LOOKS_AT])[0]
    pen.text(x, y + 14, "The line across the middle,", size_pt=9.5, align="centre")
    pen.text(x, y + 18.5, "nothing in front of it.", size_pt=9.5, align="centre")
