"""Seeded textures that repeat without a seam, with reduced copies for the distance."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Tile:
    """A square texture and its reductions by two, laid over the plane again and again."""

    levels: tuple[Image, ...]
    size_m: float

    def sample(self, x: Image, y: Image, footprint_m: float) -> Image:
        """Values at ground points, shape (h, w) each; detail finer than the footprint is averaged away."""
        n = self.levels[0].shape[0]
        level = np.log2(max(footprint_m * n / self.size_m, 1.0))
        low = int(min(np.floor(level), len(self.levels) - 1))
        high = min(low + 1, len(self.levels) - 1)
        share = float(min(level - low, 1.0))
        a = self._at(low, x, y)
        return a if share < 0.02 or high == low else (1 - share) * a + share * self._at(high, x, y)

    def sample_points(self, x: Image, y: Image, footprint_m: float) -> Image:
        """Values at any number of points, shape (n,) each, to shape (n, channels)."""
        rows = 4096  # OpenCV takes pictures less than 32767 wide
        n = len(x)
        px, py = (np.resize(a, (-(-n // rows), rows)).astype(np.float32) for a in (x, y))
        return self.sample(px, py, footprint_m).reshape(-1, self.levels[0].shape[2])[:n]

    def _at(self, level: int, x: Image, y: Image) -> Image:
        image = self.levels[level]
        n = image.shape[0]
        mx = (np.mod(x / self.size_m, 1.0) * n - 0.5).astype(np.float32)
        my = (np.mod(y / self.size_m, 1.0) * n - 0.5).astype(np.float32)
        return cv2.remap(image, mx, my, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)


def tile(image: Image, size_m: float) -> Tile:
    """A :class:`Tile` from its finest level; the side must be a power of two."""
    levels = [image.astype(np.float32)]
    while levels[-1].shape[0] > 4:
        a = levels[-1]
        levels.append(0.25 * (a[::2, ::2] + a[1::2, ::2] + a[::2, 1::2] + a[1::2, 1::2]))
    return Tile(tuple(levels), size_m)


def noise(rng: np.random.Generator, n: int, coarse: float, fine: float, slope: float) -> Image:
    """Seamless noise of mean 0 and deviation 1, shape (n, n).

    ``coarse`` and ``fine`` are wave lengths as shares of the side; between them the amplitude falls
    with frequency to the power ``slope``.
    """
    f = np.hypot(*np.meshgrid(np.fft.fftfreq(n) * n, np.fft.fftfreq(n) * n))
    band = np.where((f >= 1 / coarse) & (f <= 1 / fine), np.maximum(f, 1.0) ** -slope, 0.0)
    out = np.real(np.fft.ifft2(np.fft.fft2(rng.standard_normal((n, n))) * band))
    return ((out - out.mean()) / out.std()).astype(np.float32)


def blades(rng: np.random.Generator, n: int, size_m: float, grain_deg: float, count: int) -> Image:
    """Cut grass from above, relative to its mean colour, shape (n, n, 3): strokes over strokes."""
    scale = n / size_m
    out = np.empty((n, n, 3), np.float32)
    out[:] = 0.45
    place = rng.uniform(0, n, (count, 2))
    turn = np.radians(grain_deg + rng.normal(0, 38, count)) + np.pi * (rng.random(count) < 0.15)
    length = rng.uniform(0.003, 0.010, count) * scale
    thick = np.maximum(1, np.rint(rng.uniform(0.0007, 0.0016, count) * scale)).astype(int)
    # Later strokes lie on top and catch more light.
    light = np.linspace(0.55, 1.25, count) * np.exp(rng.normal(0, 0.22, count))
    hue = rng.normal(0, 1, count)
    straw = rng.random(count) < 0.035
    colour = np.stack([1 + 0.14 * hue, 1 + 0.02 * hue, 1 - 0.10 * hue], axis=-1)
    colour[straw] = (2.1, 1.45, 2.0)
    colour *= light[:, None]
    tip = place + (length[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=-1))
    # A stroke that leaves on one side comes in on the other.
    low, high = np.minimum(place, tip) - 4, np.maximum(place, tip) + 4
    jobs = []
    for shift in np.array([(i, j) for i in (-n, 0, n) for j in (-n, 0, n)]):
        seen = np.flatnonzero(((high + shift >= 0) & (low + shift < n)).all(axis=1))
        jobs += [
            (int(i), *np.rint(np.r_[place[i] + shift, tip[i] + shift]).astype(int).tolist()) for i in seen
        ]
    rgb = colour.tolist()
    for i, x0, y0, x1, y1 in sorted(jobs):
        cv2.line(out, (x0, y0), (x1, y1), rgb[i], int(thick[i]))
    out = cv2.GaussianBlur(out, (0, 0), 0.8, borderType=cv2.BORDER_REFLECT)
    return out / out.mean(axis=(0, 1))
