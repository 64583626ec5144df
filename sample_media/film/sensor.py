"""From linear light to the picture a phone writes: lens blur, tone curve, noise, sharpening, YUV."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_media.film.boxes import Box
from sample_media.film.scene import Light

Image = NDArray[np.float32]

FULL_SCALE = 1.25
"""Linear light that the look-up table reaches to."""
STEPS = 4096
LUMA_STEPS = 64
"""Parts of a code value in which luma is kept before noise: whole numbers are quick to add."""
FIELD_STEPS = 2048
EDGE_PX = 4
"""So far sharpening reaches, at least."""
BT709 = np.array(
    [[0.2126, 0.7152, 0.0722], [-0.114572, -0.385428, 0.5], [0.5, -0.454153, -0.045847]], np.float32
)
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
            field = 0.55 * white / white.std() + 0.75 * soft / soft.std()
            self.fields.append(np.rint(FIELD_STEPS * field).astype(np.int16))
        code = np.arange(256)
        # Shot noise after the tone curve is strongest in the darker middle.
        self.amplitude = (0.55 + 1.15 * np.exp(-(((code - 70) / 75.0) ** 2))).astype(np.float32)

    def amount(self, luma: Image) -> NDArray[np.int16]:
        """How strong the noise is where the luma is, in parts of ``LUMA_STEPS`` of a code value."""
        amount = cv2.LUT(np.rint(luma).clip(0, 255).astype(np.uint8), self.amplitude)
        return np.rint(amount * (self.strength * LUMA_STEPS)).astype(np.int16)

    def add(self, luma: NDArray[np.int16], amount: NDArray[np.int16]) -> NDArray[np.int16]:
        """Luma with this frame's noise."""
        if self.strength == 0:
            return luma
        k, dy, dx = self.rng.integers(len(self.fields)), *self.rng.integers(0, 48, 2)
        field = self.fields[k][dy : dy + self.shape[0], dx : dx + self.shape[1]]
        sign = 1 if self.rng.random() < 0.5 else -1
        noise = cv2.multiply(amount, np.ascontiguousarray(field), scale=sign / FIELD_STEPS, dtype=cv2.CV_16S)
        return cv2.add(luma, noise)


class Developer:
    """From light to the frames a phone writes; only boxes that changed are developed anew."""

    def __init__(self, light: Light, grain: Grain, width: int, height: int) -> None:
        self.sharpen, self.grain = light.sharpen, grain
        self.luma = np.zeros((height, width), np.int16)
        self.amount = np.zeros((height, width), np.int16)
        self.chroma = np.zeros((2, height // 2, width // 2), np.uint8)
        self.gain: float | None = None

    def frame(
        self, light: NDArray[np.uint16], gain: float, changed: Sequence[Box] | None
    ) -> NDArray[np.uint8]:
        """Planar 4:2:0 of BT.709 in the limited range, shape (h * 3 / 2, w).

        ``light`` are places in :func:`table`, shape (h, w, 3); ``changed`` are the boxes that differ from
        the frame before, None: all of it. With another gain all is developed anew.
        """
        h, w = self.luma.shape
        if changed is None or gain != self.gain:
            changed, self.gain = [(0, 0, w, h)], gain
        tones = table(gain)
        for box in changed:
            self._develop(light, tones, box)
        out = np.empty((h * 3 // 2, w), np.uint8)
        noisy = self.grain.add(self.luma, self.amount)
        cv2.convertScaleAbs(noisy, out[:h], 219 / 255 / LUMA_STEPS, 16)
        out[h:] = self.chroma.reshape(h // 2, w)
        return out

    def _develop(self, light: NDArray[np.uint16], tones: Image, box: Box) -> None:
        h, w = self.luma.shape
        left, top = max(box[0] - EDGE_PX, 0) & ~1, max(box[1] - EDGE_PX, 0) & ~1
        right, bottom = min(box[2] + EDGE_PX + 1 & ~1, w), min(box[3] + EDGE_PX + 1 & ~1, h)
        # Sharpening reaches over a box's edge: take in more than is kept.
        x0, y0 = max(left - 2 * EDGE_PX, 0), max(top - 2 * EDGE_PX, 0)
        x1, y1 = min(right + 2 * EDGE_PX, w), min(bottom + 2 * EDGE_PX, h)
        ycc = cv2.transform(np.take(tones, light[y0:y1, x0:x1]), BT709)
        y = np.ascontiguousarray(ycc[..., 0])
        if self.sharpen:
            y += self.sharpen * (y - cv2.GaussianBlur(y, (0, 0), 1.1))
        inner = np.s_[top - y0 : bottom - y0, left - x0 : right - x0]
        y = y[inner]
        self.luma[top:bottom, left:right] = np.rint(y * LUMA_STEPS)
        self.amount[top:bottom, left:right] = self.grain.amount(y)
        size = ((right - left) // 2, (bottom - top) // 2)
        for k in (1, 2):
            half = cv2.resize(np.ascontiguousarray(ycc[inner][..., k]), size, interpolation=cv2.INTER_AREA)
            self.chroma[k - 1, top // 2 : bottom // 2, left // 2 : right // 2] = np.clip(
                np.rint(128 + half * (224 / 255)), 0, 255
            )
