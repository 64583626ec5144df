"""How a ball looks in a picture: a lit sphere before grass, blurred by the lens and by its move.

All in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.outline import Outline, Picture
from puttvision.ball.shading import Shading, Sun
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

MISFIT = 0.056
"""Light, as a share of white, that a pixel may differ by from a rendered one, times what neighbours are
alike; print and what stands before a ball differ by more and count little (Cauchy's loss)."""
_ROUND_PX = 3.0
"""The picture is compared so far beyond the outline: blur and a fit that is off reach no farther."""
_GRASS_PX = 4
"""So much farther out the grass is taken from."""
_FINE = 2
"""A pixel is rendered in so many pieces across, where the ball is small."""
_MOST_ACROSS = 70
"""Pieces across a window: of a large ball they are coarser, and its blur matters less."""
_SMEARS_PX = 0.3
"""A move during the exposure by less blurs nothing."""

_SLOPE = np.array([[-0.5, 0.0, 0.5]], dtype=np.float32)
"""Central differences."""


@dataclass(frozen=True, slots=True)
class Rendered:
    """A ball as it would look, before it is cut off at the picture's top."""

    light: Singles
    """Shape (n, n)."""
    diffuse: Singles
    """Shape (n, n, 2): what even light and sky of unit strength add."""
    sunny: Singles
    """Shape (n, n, 3): what a sun of unit strength would add towards the lens, the right and up as seen."""


@dataclass(frozen=True, slots=True)
class Window:
    """The picture about one ball."""

    seen: Singles
    """Light of its pixels, shape (n, n), cut off at the top."""
    used: NDArray[np.bool_]
    """Which are compared, shape (n, n)."""
    grass: Singles
    """Light of the pieces where the ball does not hide them, shape (m, m)."""
    axes: Singles
    """Shape (3, 3): towards the camera, sideways, up, in the frame of the green."""
    radius_px: float
    x: Singles
    """Of the pieces, from the outline's middle, in pixels, shape (m,); and ``y``."""
    y: Singles
    to_disc: Singles
    """Shape (2, 2): from pixels to the disc's own frame, in which its rim has radius one."""
    fine: int
    """Pieces across a pixel."""

    def render(
        self,
        sun: Sun | Floats,
        lights: Floats,
        move_px: Floats,
        blur_px: float,
        streak: Singles | None = None,
    ) -> Rendered:
        """The ball moved by ``move_px`` under these lights (even, of the sky, of the sun; shape (3,)).

        ``streak``: of its move during the exposure (``streak``).
        """
        n = len(self.seen)
        across = np.outer(self.to_disc[:, 0], self.x - np.float32(move_px[0]))
        down = np.outer(self.to_disc[:, 1], self.y - np.float32(move_px[1]))
        a, b = across[:, None, :] + down[:, :, None]
        square = a * a + b * b
        lens = np.sqrt(np.maximum(1 - square, 0))
        to_sun = self.axes @ np.array(sun, dtype=np.float32)
        up = self.axes[:, 2] / 2
        from_rim_px = (1 - np.sqrt(square)) * np.float32(self.radius_px * self.fine)
        inside = np.clip(from_rim_px + np.float32(0.5), 0, 1)
        sunny = inside * (lens * to_sun[0] + a * to_sun[1] + b * to_sun[2] > 0)
        parts = np.empty((*inside.shape, 6), dtype=np.float32)
        parts[..., 0] = inside
        parts[..., 1] = inside * (lens * up[0] + a * up[1] + b * up[2] + np.float32(0.5))
        parts[..., 2], parts[..., 3], parts[..., 4] = sunny * lens, sunny * a, sunny * b
        parts[..., 5] = self.grass * (1 - inside)
        parts = cv2.GaussianBlur(parts, (0, 0), blur_px * self.fine)
        if streak is not None:
            parts = cv2.filter2D(parts, -1, streak)
        parts = np.asarray(cv2.resize(parts, (n, n), interpolation=cv2.INTER_AREA), dtype=np.float32)
        shares = np.array([*lights[:2], *(lights[2] * to_sun), 1.0], dtype=np.float32)
        return Rendered(np.asarray(parts @ shares), parts[..., :2], parts[..., 2:5])


def window(
    picture: Picture,
    camera: Camera,
    outline: Outline,
    at_px: Floats,
    table: NDArray[np.float32],
    top: float,
    shading: Shading | None = None,
    *,
    smear_px: float = 0.0,
) -> Window | None:
    """The picture about a ball; None where it is not whole within it.

    Parameters
    ----------
    outline : of a ball near there
    at_px : shape (2,), projection of the ball's centre
    table : ``puttvision.green.edges.linear_light`` of the clip's tone curve
    top : light from which on a pixel may have been brighter than it looks
    shading : the light in which it shades the grass; None for no shade
    smear_px : length of its move during the exposure
    """
    middle_x, middle_y = (outline.middle_px + at_px - outline.centre_px).tolist()
    beyond = _ROUND_PX + smear_px / 2
    half = ceil(outline.radius_px + beyond) + _GRASS_PX
    x0, y0, n = round(middle_x) - half, round(middle_y) - half, 2 * half + 1
    height, width = picture.shape
    if x0 < 0 or y0 < 0 or x0 + n > width or y0 + n > height:
        return None
    light = cv2.LUT(picture[y0 : y0 + n, x0 : x0 + n], table)
    to_disc = np.linalg.inv(outline.rays_px[[0, len(outline.rays_px) // 4]].T)
    pixel = np.arange(n)
    across = np.outer(to_disc[:, 0], pixel + (x0 - middle_x))
    down = np.outer(to_disc[:, 1], pixel + (y0 - middle_y))
    a, b = across[:, None, :] + down[:, :, None]
    beyond_px = (np.sqrt(a * a + b * b) - 1) * outline.radius_px
    inner = slice(_GRASS_PX, n - _GRASS_PX)
    n_inner = n - 2 * _GRASS_PX
    fine = max(1, min(_FINE, _MOST_ACROSS // n_inner))
    piece = (np.arange(n_inner * fine) + 0.5) / fine - 0.5 + _GRASS_PX
    around = beyond_px > beyond - 0.5
    left = np.ones((n, n), dtype=np.float32)
    if shading is not None:
        left = _light_left(camera, at_px, shading, (x0, y0, n))
    grass = median(light[around] / left[around])
    shaded = cv2.resize(left[inner, inner], (n_inner * fine, n_inner * fine), interpolation=cv2.INTER_LINEAR)
    return Window(
        seen=np.minimum(light[inner, inner], np.float32(top)),
        used=beyond_px[inner, inner] < beyond,
        grass=np.float32(grass) * shaded,
        axes=outline.axes.astype(np.float32),
        radius_px=outline.radius_px,
        x=(piece + (x0 - middle_x)).astype(np.float32),
        y=(piece + (y0 - middle_y)).astype(np.float32),
        to_disc=to_disc.astype(np.float32),
        fine=fine,
    )


def _light_left(camera: Camera, at_px: Floats, shading: Shading, box: tuple[int, int, int]) -> Singles:
    """Share of the light that a ball leaves to the grass about it, shape (n, n), in a box (x0, y0, n)."""
    x0, y0, n = box
    here = camera.to_plane(at_px, BALL_RADIUS_M)
    # shade is soft: every other pixel tells it
    between = np.arange(0.5, n, 2.0)
    rays = _rays_between(camera, x0 + between, y0 + between)
    reach = -camera.height_m / np.minimum(rays[2], -1e-6)
    away_x, away_y = rays[0] * reach - here[0], rays[1] * reach - here[1]
    square = away_x**2 + away_y**2 + BALL_RADIUS_M**2
    sun_x, sun_y, sun_z = shading.sun
    along = sun_x * away_x + sun_y * away_y - sun_z * BALL_RADIUS_M
    beside = np.sqrt(np.maximum(square - along**2, 0.0))
    px_per_m = camera.px_per_m([here[0], here[1], BALL_RADIUS_M])
    shadow = np.clip((BALL_RADIUS_M - beside) * px_per_m + 0.5, 0, 1) * (along < 0)
    _, sky, direct = shading.lights
    share = direct * sun_z / max(direct * sun_z + sky, 1e-6)
    # configuration factor of a sphere (r / d)^2 cos(angle), as in textbooks on radiative transfer
    hidden = (BALL_RADIUS_M / np.sqrt(square)) ** 3
    left = (1 - share * shadow - (1 - share) * hidden).clip(0.1, 1).astype(np.float32)
    twice = (2 * len(between), 2 * len(between))
    return np.asarray(cv2.resize(left, twice, interpolation=cv2.INTER_LINEAR)[:n, :n])


def _rays_between(camera: Camera, columns: Floats, rows: Floats) -> Floats:
    """Directions of the pixels of a small box, shape (3, rows, columns): between its corners' rays."""
    x0, x1, y0, y1 = columns[0], columns[-1], rows[0], rows[-1]
    corners = camera.rays(np.array([[[x0, y0], [x1, y0]], [[x0, y1], [x1, y1]]]))
    right, down = (columns - x0) / (x1 - x0), ((rows - y0) / (y1 - y0))[:, None]
    above = corners[0, 0][:, None] + np.outer(corners[0, 1] - corners[0, 0], right)
    below = corners[1, 0][:, None] + np.outer(corners[1, 1] - corners[1, 0], right)
    return np.asarray(above[:, None, :] + (below - above)[:, None, :] * down)


def slopes(light: Singles) -> tuple[Singles, Singles]:
    """By how much light grows a pixel to the right and down, both of the picture's shape."""
    across = cv2.filter2D(light, -1, _SLOPE)
    down = cv2.filter2D(light, -1, _SLOPE.T)
    return np.asarray(across, dtype=np.float32), np.asarray(down, dtype=np.float32)


def median(values: Singles) -> float:
    """The middle of many numbers, the upper one of two: numpy's own takes several times as long."""
    n = values.size // 2
    return float(np.partition(values, n, axis=None)[n])


def streak(smear_px: Floats, about: Window) -> Singles | None:
    """The blur of an even move during the exposure, shape (2,), among the window's pieces: (k, k), odd k.

    None where it blurs nothing.
    """
    if float(np.hypot(smear_px[0], smear_px[1])) < _SMEARS_PX:
        return None
    way = smear_px * about.fine
    half = ceil(max(abs(float(way[0])), abs(float(way[1]))) / 2) + 1
    kernel = np.zeros((2 * half + 1, 2 * half + 1), dtype=np.float32)
    n = 4 * half
    shares = (np.arange(n) + 0.5) / n - 0.5
    x, y = half + shares * way[0], half + shares * way[1]
    left, above = np.floor(x).astype(int), np.floor(y).astype(int)
    right, below = x - left, y - above
    for row, column, weight in (
        (above, left, (1 - right) * (1 - below)),
        (above, left + 1, right * (1 - below)),
        (above + 1, left, (1 - right) * below),
        (above + 1, left + 1, right * below),
    ):
        np.add.at(kernel, (row, column), weight / n)
    return kernel
