"""What lies on the green: printed sheets to the contract's measures, and fallen leaves."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_media.film.scene import Rgb, Sheet

Image = NDArray[np.float32]

CELL_M = 0.180 / 6
PAGES_M = {"A4": (0.210, 0.297), "letter": (0.2159, 0.2794)}
TOP_MARGIN_M = 0.015


def sheet_to_world(sheet: Sheet) -> NDArray[np.float64]:
    """Sheet frame (x right, y up as printed) to world, shape (4, 4)."""
    a = np.radians(sheet.turn_deg)
    out = np.eye(4)
    out[:2, :2] = [[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]
    out[:2, 3] = sheet.at
    return out


def sheet_corners(sheet: Sheet) -> NDArray[np.float64]:
    """Corners of the black square in the world, clockwise as printed from the top left, shape (4, 3)."""
    h = 3 * CELL_M
    square = np.array([[-h, h, 0, 1], [h, h, 0, 1], [h, -h, 0, 1], [-h, -h, 0, 1]])
    return (square @ sheet_to_world(sheet).T)[:, :3]


def page_outline(sheet: Sheet, wider_m: float = 0.0) -> NDArray[np.float64]:
    """Corners of the page in the world, shape (4, 3)."""
    w, h = PAGES_M[sheet.page]
    top = 3 * CELL_M + TOP_MARGIN_M
    x, y0, y1 = w / 2 + wider_m, top + wider_m, top - h - wider_m
    page = np.array([[-x, y0, 0, 1], [x, y0, 0, 1], [x, y1, 0, 1], [-x, y1, 0, 1]])
    return (page @ sheet_to_world(sheet).T)[:, :3]


def marker_cells(number: int) -> NDArray[np.bool_]:
    """The 6 by 6 cells of a DICT_4X4_50 marker with its border, True where white."""
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return cv2.aruco.generateImageMarker(book, number, 6) > 127


def lay_sheet(base: Image, x: Image, y: Image, sheet: Sheet, cells: NDArray[np.bool_]) -> None:
    a = np.radians(sheet.turn_deg)
    dx, dy = x - sheet.at[0], y - sheet.at[1]
    sx, sy = dx * np.cos(a) + dy * np.sin(a), -dx * np.sin(a) + dy * np.cos(a)
    w, h = PAGES_M[sheet.page]
    top = 3 * CELL_M + TOP_MARGIN_M
    page = (np.abs(sx) < w / 2) & (sy < top) & (sy > top - h)
    # A strip of shade where the paper's edge stands off the grass.
    near = np.maximum(np.maximum(np.abs(sx) - w / 2, sy - top), top - h - sy)
    base *= np.where((near > 0) & (near < 0.003), 0.55, 1.0)[..., None].astype(np.float32)
    ink: Rgb = (0.028, 0.028, 0.032)
    paper = 0.80 * (1 - 0.015 * np.sin(23 * sx + 3) * np.sin(31 * sy))
    colour = np.stack([paper, paper, paper * 0.99], axis=-1)
    col = np.floor(sx / CELL_M + 3).astype(int)
    row = np.floor(3 - sy / CELL_M).astype(int)
    square = (col >= 0) & (col < 6) & (row >= 0) & (row < 6)
    dark = square & ~cells[np.clip(row, 0, 5), np.clip(col, 0, 5)]
    bar = (np.abs(sx) < 0.050) & (np.abs(sy + 0.118) < 0.0008)
    bar |= (np.abs(np.abs(sx) - 0.050) < 0.0005) & (np.abs(sy + 0.118) < 0.003)
    words = np.zeros_like(bar)
    for k, (line_y, half) in enumerate(((-0.128, 0.062), (-0.135, 0.048), (-0.150, 0.030))):
        letters = np.sin(900 * sx + 40 * np.sin(170 * sx + k)) > -0.1
        words |= (np.abs(sx) < half) & (np.abs(sy - line_y) < 0.0012) & letters
    colour = np.where((dark | bar | words)[..., None], np.asarray(ink), colour)
    pegs = ((-w / 2 + 0.008, top - 0.007), (w / 2 - 0.008, top - h + 0.008))
    for px, py in pegs:
        colour = np.where((np.hypot(sx - px, sy - py) < 0.0035)[..., None], (0.42, 0.30, 0.16), colour)
    base[page] = colour[page].astype(np.float32)


def lay_leaf(base: Image, x: Image, y: Image, at: tuple[float, float]) -> None:
    seed = np.random.default_rng(int(1e4 * abs(at[0]) + 77 * abs(at[1]) * 1e3))
    a = seed.uniform(0, np.pi)
    dx, dy = x - at[0], y - at[1]
    lx, ly = dx * np.cos(a) + dy * np.sin(a), -dx * np.sin(a) + dy * np.cos(a)
    k = np.clip(1 - (lx / 0.034) ** 2, 0, 1)
    inside = np.abs(ly) < 0.017 * k**0.8 * (1 + 0.12 * np.sin(260 * lx))
    vein = (np.abs(ly) < 0.0007) | (np.abs(np.abs(ly) - np.abs(np.mod(lx, 0.009) - 0.004) * 2) < 0.0005)
    tone = (1 + 0.2 * np.sin(120 * ly)) * np.where(vein, 0.75, 1.0)
    colour = seed.uniform(0.8, 1.1) * np.stack([0.24 * tone, 0.135 * tone, 0.055 * tone], axis=-1)
    shade = (np.hypot(dx, dy) < 0.034)[..., None] & ~inside[..., None]
    base[:] = np.where(shade, base * 0.85, base)
    base[inside] = colour[inside].astype(np.float32)
