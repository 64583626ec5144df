"""Whether there is a ball at all, at a glance: a rendered one matched with the picture.

Normalised cross-correlation, blind to how light and how contrasty a patch is (Lewis, "Fast normalized
cross-correlation", 1995; from memory). What it lets pass is fitted; most shoes, legs and leaves are not.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.disc import TOP_LUMA
from puttvision.ball.finder import REACH_PX
from puttvision.ball.outline import Outline, outline_of
from puttvision.ball.rendering import Singles, window
from puttvision.ball.shading import Shading
from puttvision.green.camera import Camera

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

LEAST_ALIKE = 0.5
"""What correlates less is no ball: clear ones have 0.64 and more, half of all other bright patches less
(measured on filmed scenes)."""
WELL_ALIKE = 0.85
"""Beyond this hardly anything but a ball is (the same)."""
_REACH = int(np.ceil(REACH_PX))
_SAME_SIZE_PX, _SAME_VIEW_PX = 0.5, 160
"""Balls whose radii differ by less, so near to each other in the picture, look the same."""


class BallTemplates:
    """What a ball looks like in a clip's light before its grass, wherever in the picture it lies."""

    def __init__(
        self, camera: Camera, table: NDArray[np.float32], shading: Shading, grass_luma: float
    ) -> None:
        self._camera, self._table, self._shading = camera, table, shading
        self._lawn = np.broadcast_to(np.uint8(round(grass_luma)), (camera.height, camera.width))
        self._top = np.float32(table[TOP_LUMA])
        self._made: dict[tuple[int, ...], list[Singles]] = {}

    def likeness(self, luma: Plane, at_m: tuple[float, float] | Floats) -> float:
        """Coefficient of correlation, -1 to 1, of the likeliest ball near a place on the plane.

        It is 1 where it cannot be told: at the picture's border.
        """
        outline = outline_of(self._camera, np.asarray(at_m, dtype=float))
        templates = [] if outline is None else self._templates(outline)
        if outline is None or not templates:
            return 1.0
        x, y = np.round(outline.middle_px).astype(int).tolist()
        half = len(templates[0]) // 2 + _REACH
        height, width = luma.shape
        if min(x, y) < half or x + half >= width or y + half >= height:
            return 1.0
        light = cv2.LUT(luma[y - half : y + half + 1, x - half : x + half + 1], self._table)
        light = np.minimum(light, self._top)
        return max(
            float(cv2.matchTemplate(light, template, cv2.TM_CCOEFF_NORMED).max()) for template in templates
        )

    def _templates(self, outline: Outline) -> list[Singles]:
        """Light on and about a ball in the sun and in shade."""
        x, y = (outline.centre_px / _SAME_VIEW_PX).astype(int).tolist()
        key = (round(outline.radius_px / _SAME_SIZE_PX), x, y)
        if key not in self._made:
            self._made[key] = self._render(outline)
        return self._made[key]

    def _render(self, outline: Outline) -> list[Singles]:
        shading = self._shading
        about = window(
            self._lawn, self._camera, outline, outline.centre_px, self._table, float(self._top), shading
        )
        if about is None:
            return []
        even, sky, sun = shading.lights
        looks = [
            about.render(shading.sun, np.array([even, sky, direct]), np.zeros(2), shading.blur_px).light
            for direct in (sun, 0.0)
        ]
        return [np.minimum(light, self._top) for light in looks]
