"""From linear light to the picture a phone writes: lens blur, tone curve, noise, sharpening, YUV."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_media.film.scene import Light

Image = NDArray[np.float32]

FULL_SCALE = 1.25
"""Linear light that the look-up table reaches to."""
STEPS = 4096
LENS_BLUR_PX = 0.62
"""Deviation of the lens' and sensor's blur, common for a phone at full width; from memory."""


def tone(linear: NDArray[np.floating]) -> NDArray[np.float64]:
    """Linear light, 1 is white paper in full light, to code 0-255: gamma, soft toe, soft shoulder."""
    x = np.clip(np.asarray(linear, dtype=float), 0, None)
    y = np.clip(x, 0, None) ** (1 / 2.2)
    y = y - 0.035 * np.sin(2 * np.pi * np.clip(y, 0, 1))  # a little contrast, as phones add
    knee = 0.86
    y = np.where(y > knee, knee + (1 - knee) * np.tanh((y - knee) / (1 - knee)), y)
    return 255 * np.clip(y, 0, 1)


def index(linear: Image) -> NDArray[np.uint16]:
    """Linear light to places in the table that :func:`table` makes."""
    return np.clip(linear * (STEPS / FULL_SCALE), 0, STEPS - 1).astype(np.uint16)


def table(gain: float) -> Image:
    """Look-up table from :func:`index` to code values at this exposure."""
    return tone((np.arange(STEPS) + 0.5) * (FULL_SCALE / STEPS) * gain).astype(np.float32)


def lens(linear: Image) -> Image:
    """Blur of lens and sensor."""
    return cv2.GaussianBlur(linear, (0, 0), LENS_BLUR_PX, borderType=cv2.BORDER_REFLECT)


def exposure(light: Light, seed: int, t_s: float) -> float:
    """Gain at a time: set once, then wandering slowly as an exposure control does."""
    rng = np.random.default_rng([seed, 21])
    wave = 0.0
    for period in (3.1, 7.3, 17.0):
        wave += float(np.sin(2 * np.pi * (t_s / period + rng.random()))) * rng.uniform(0.3, 0.6)
    return light.gain * (1 + light.drift * wave)


def sun_share(light: Light, t_s: float) -> float:
    """Share of the sun that the clouds leave."""
    if not light.clouds:
        return 1.0
    at, share = zip(*light.clouds, strict=True)
    return float(np.interp(t_s, at, share))


class Grain:
    """Sensor noise after a phone's own smoothing: a few fields, shifted anew for every frame."""

    def __init__(self, light: Light, seed: int, width: int, height: int) -> None:
        self.rng = np.random.default_rng([seed, 22])
        self.shape = (height, width)
        self.strength = light.noise
        self.fields = []
        for _ in range(3):
            white = self.rng.standard_normal((height + 48, width + 48)).astype(np.float32)
            soft = cv2.GaussianBlur(white, (0, 0), 0.75)
            self.fields.append((0.55 * white / white.std() + 0.75 * soft / soft.std()).astype(np.float32))
        code = np.arange(256)
        # Shot noise after the tone curve is strongest in the darker middle.
        self.amplitude = (0.55 + 1.15 * np.exp(-(((code - 70) / 75.0) ** 2))).astype(np.float32)

    def add(self, luma: Image) -> Image:
        """Luma with this frame's noise."""
        if self.strength == 0:
            return luma
        k, dy, dx = self.rng.integers(len(self.fields)), *self.rng.integers(0, 48, 2)
        field = self.fields[k][dy : dy + self.shape[0], dx : dx + self.shape[1]]
        sign = self.strength * (1 if self.rng.random() < 0.5 else -1)
        amount = cv2.LUT(luma.clip(0, 255).astype(np.uint8), self.amplitude)
        return luma + sign * amount * field


def to_yuv(code: Image, sharpen: float, grain: Grain | None) -> NDArray[np.uint8]:
    """RGB code values, shape (h, w, 3), to planar 4:2:0 of BT.709 in the limited range, shape (h*3/2, w)."""
    h, w = code.shape[:2]
    matrix = np.array(
        [[0.2126, 0.7152, 0.0722], [-0.114572, -0.385428, 0.5], [0.5, -0.454153, -0.045847]], np.float32
    )
    ycc = cv2.transform(code, matrix)
    y = np.ascontiguousarray(ycc[..., 0])
    if sharpen:
        y += sharpen * (y - cv2.GaussianBlur(y, (0, 0), 1.1))
    if grain is not None:
        y = grain.add(y)
    out = np.empty((h * 3 // 2, w), np.uint8)
    out[:h] = np.clip(np.rint(16 + y * (219 / 255)), 0, 255)
    for k, plane in enumerate(out[h:].reshape(2, h // 2, w // 2), start=1):
        half = cv2.resize(np.ascontiguousarray(ycc[..., k]), (w // 2, h // 2), interpolation=cv2.INTER_AREA)
        plane[:] = np.clip(np.rint(128 + half * (224 / 255)), 0, 255)
    return out
