"""Printed sheets laid into the pictures of ``little_green``.

OpenCV's own marker at 50 dots a cell, warped by ``cv2.warpPerspective`` into a picture of eight times the
size, averaged down in light (``cv2.INTER_AREA``: what a pixel does), blurred and bent by the tone curve.
"""

import cv2
import numpy as np

SIDE_M = 0.180  # the printed sheet: 180.0 mm
DOTS, WHITE = 50, (66, 100, 25, 25)  # of the print: a cell of 30 mm, and paper above, below, left and right


def square_px(view, x, y, turn, side_m=SIDE_M):
    """Corners of a square on the green: top left, top right, bottom right, bottom left as printed."""
    half = side_m / 2
    flat = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    c, s = np.cos(turn), np.sin(turn)
    return view.project(np.column_stack([flat @ np.array([[c, s], [-s, c]]) + (x, y), np.zeros(4)]))


def lay(view, luma, sheet_id, x, y, turn, side_m=SIDE_M):
    """Lay a sheet into a picture, ``luma`` (h, w), in place."""
    codes = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    code = cv2.aruco.generateImageMarker(codes, sheet_id, 6 * DOTS)
    paper = cv2.copyMakeBorder(code, *WHITE, cv2.BORDER_CONSTANT, value=255)
    light = np.where(paper > 127, 0.62, 0.035).astype(np.float32)
    left, top, end = WHITE[2] - 0.5, WHITE[0] - 0.5, 6 * DOTS
    black = np.array([(left, top), (left + end, top), (left + end, top + end), (left, top + end)], np.float32)
    around = square_px(view, x, y, turn, 0.5)
    x0, y0 = np.floor(around.min(axis=0)).astype(int).clip(0)
    x1, y1 = np.ceil(around.max(axis=0)).astype(int).clip(None, [view.width, view.height])
    to_large = cv2.getPerspectiveTransform(
        black, ((square_px(view, x, y, turn, side_m) - (x0, y0)) * 8 + 3.5).astype(np.float32)
    )
    size = (int(x1 - x0) * 8, int(y1 - y0) * 8)
    page, share = (
        cv2.resize(
            cv2.warpPerspective(p, to_large, size), (size[0] // 8, size[1] // 8), interpolation=cv2.INTER_AREA
        )
        for p in (light, np.ones_like(light))
    )
    page, share = (cv2.GaussianBlur(p, (0, 0), 0.6) for p in (page, share))
    grass = ((luma[y0:y1, x0:x1].astype(np.float32) - 16) / 219).clip(0) ** 2.4
    laid = page + (1 - share) * grass
    luma[y0:y1, x0:x1] = np.where(
        share > 1e-3, np.round(16 + 219 * laid ** (1 / 2.4)), luma[y0:y1, x0:x1]
    ).astype(np.uint8)
