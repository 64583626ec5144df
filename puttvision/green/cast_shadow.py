"""The shadows that a gate's posts cast, and what they tell of the feet.

Grass hides a post's foot, but in the sun the shadow begins there: a dark strip on the plane, as wide as
the post, whose axis meets the post's axis at the foot. All shadows run one way and are as long as their
post is high times one number, so two posts tell more than each by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtr

from puttvision.green.camera import Camera
from puttvision.green.post_pair import U_BLADES_M, PostPair, common_cov_px2
from puttvision.green.posts import HEAD_FROM, SHANK_M
from puttvision.green.still import StillPicture

Floats = NDArray[np.float64]

_REACH_M = 0.2
"""Of a longer shadow, this much is looked at."""
_AROUND_PX = 31
"""The grass around is judged over so many pixels: more than a shadow's width, less than a player's shadow."""
_DIRECTIONS = 60
_STEP_M = 0.002
_STARTS = 4
"""So many directions are tried, the likeliest first."""
_BESIDE_PX = 4.0
"""So far beside the shadow's axis pixels are fitted."""
_LEAST_PIXELS = 30
_CLEAR_OF_POST_PX = 1.2
"""Nearer to a post than this, its own blur shows."""
_BRIGHTER = 4.0
"""What is brighter than the grass by so many times its spread is none."""
_CUP_M = (0.0022, 0.0015)
"""How far a tee's cup stands out over the shank on either side, and the spread of makes (common practice)."""
_BLUR_PX = (0.95, 0.25)
"""Lens, a pixel's area, and the sun's half degree over a few centimetres."""
_ALIKE = 2.0
"""Neighbouring pixels of grass are alike: a misfit counts for so much less."""
_SHADE = (0.25, 2.0)
"""A shadow takes a quarter of the luma at least: less is the grass itself. Phones sharpen: a narrow dark
strip comes out darker than it is, as if it took more than all."""
_SHORTEST = 0.2
"""Of the post's height: the sun does not stand higher where golf is played, but in the tropics at noon."""
_U_AZIMUTH_RAD, _U_RATIO = 0.05, 0.2
"""How well other shadows tell the way and, with a post's height as seen, the length of these."""
_SAME_WAY = 0.95
"""Cosine of 18 degrees, three times as much as directions are off."""
_LEAST_GAIN = 4.0
"""Each post's shadow must explain so much, in squares of the noise."""
_MOST_MOVED = 16.0
"""Where the shadows lie farther off the feet than this square of deviations, they are not these posts'."""
_MOST_BLUR_PX = 1.25
_MOST_MISFIT = 1.3
"""Of the pixels about the shadows, over the grass's own spread: more, and other dark things lie there."""
_FLOOR_PX = 0.1
"""Of one foot: compression, and what the grass under a shadow looks like."""
_U_LEVEL_M = 0.5 * U_BLADES_M
"""A shadow lies on the blades' tips or between them; both feet are off alike."""
_SCALES = np.array([0.05, 0.2, 0.1, 0.2, 0.001, *np.full(4, 0.5)])
_TURNS = 40


def with_shadows(
    still: StillPicture, camera: Camera, pair: PostPair, sun: tuple[float, float, float] | None = None
) -> PostPair:
    """The pair with its feet where posts and shadows agree; as it is where no sun casts a shadow.

    ``sun``: unit vector towards it in the frame of the green, where other shadows have told it.
    """
    feet_m = camera.to_plane(pair.feet_px)
    shade = _shade_about(still, camera, pair, feet_m)
    if shade is None:
        return pair
    for cast in _casts_to_try(shade, camera, pair, feet_m, sun):
        strips = _strips(shade, camera, pair, feet_m, cast)
        fit = None if strips is None else _fit(strips, pair, cast)
        if fit is not None:
            floor = _FLOOR_PX**2 * np.eye(4) + common_cov_px2(pair.feet_px, camera, _U_LEVEL_M)
            return pair.moved(pair.feet_px + fit.moves_px, fit.cov_px2 + floor)
    return pair


@dataclass(frozen=True, slots=True)
class _Shade:
    """How much darker than the grass around it each pixel about a gate is."""

    dark: NDArray[np.float32]
    """Shape (h, w), share of luma that lacks."""
    open: NDArray[np.bool_]
    """Shape (h, w), where nothing stands before the grass."""
    noise: float
    corner_px: tuple[int, int]
    """Of its first pixel, x and y."""


@dataclass(frozen=True, slots=True)
class _Cast:
    """Which way the shadows run on the plane, and how long they are over the height of what casts them."""

    azimuth_rad: float
    ratio: float
    known: bool = False
    """By other shadows."""

    def is_like(self, other: _Cast) -> bool:
        """Whether both run nearly the same way."""
        return bool(np.cos(self.azimuth_rad - other.azimuth_rad) > _SAME_WAY)


def _cast_by(sun: tuple[float, float, float]) -> _Cast:
    """A post's shadow is as long as it is high times the cotangent of the sun's elevation."""
    x, y, up = sun
    return _Cast(float(np.arctan2(-y, -x)), float(np.hypot(x, y)) / max(up, 0.05), known=True)


@dataclass(frozen=True, slots=True)
class _Fit:
    moves_px: Floats
    """Shape (2, 2), of the feet."""
    cov_px2: Floats
    """Shape (4, 4)."""


def _shade_about(still: StillPicture, camera: Camera, pair: PostPair, feet_m: Floats) -> _Shade | None:
    turn = np.linspace(0.0, 2 * np.pi, 16, endpoint=False)
    ring_m = _REACH_M * np.column_stack([np.cos(turn), np.sin(turn), 0 * turn])
    around = camera.project((np.column_stack([feet_m, np.zeros(2)])[:, None] + ring_m).reshape(-1, 3))
    if not np.isfinite(around).all():
        return None
    height, width = still.luma.shape
    x0, y0 = np.maximum(np.floor(around.min(axis=0)).astype(int), 0)
    x1, y1 = np.minimum(np.ceil(around.max(axis=0)).astype(int) + 1, (width, height))
    if x1 - x0 < _AROUND_PX or y1 - y0 < _AROUND_PX:
        return None
    luma = still.luma[y0:y1, x0:x1]
    usual = np.maximum(cv2.medianBlur(luma, _AROUND_PX), 10).astype(np.float32)
    dark = np.asarray(1 - luma / usual, dtype=np.float32)
    noise = max(1.4826 * float(np.median(np.abs(dark - np.median(dark)))), 0.005)
    clear = dark > -_BRIGHTER * noise
    places = np.moveaxis(np.mgrid[y0:y1, x0:x1][::-1].astype(float), 0, -1)
    for post, foot in zip(pair.posts, feet_m, strict=True):
        low, neck, top = camera.project([[*foot, share * post.height_m] for share in (0.0, HEAD_FROM, 1.0)])
        shank_px = post.width_px / 2 + _CLEAR_OF_POST_PX
        cup_px = shank_px + _CUP_M[0] * camera.px_per_m([*foot, 0.0])
        clear &= (_beside(places, low, neck) > shank_px) & (_beside(places, neck, top) > cup_px)
    return _Shade(dark=dark, open=clear, noise=noise, corner_px=(int(x0), int(y0)))


def _beside(places: Floats, begin: Floats, end: Floats) -> Floats:
    """Distance of places, shape (..., 2), from a line between two points."""
    way = end - begin
    share = np.clip((places - begin) @ way / (way @ way), 0.0, 1.0)
    return np.asarray(np.linalg.norm(places - begin - share[..., None] * way, axis=-1))


def _casts_to_try(
    shade: _Shade, camera: Camera, pair: PostPair, feet_m: Floats, sun: tuple[float, float, float] | None
) -> Iterator[_Cast]:
    """The way that other shadows run, if they tell, and then what looks like it; else all that looks dark."""
    known = None if sun is None else _cast_by(sun)
    if known is not None:
        yield known
    for cast in _likely_casts(shade, camera, pair, feet_m):
        if known is None or cast.is_like(known):
            yield cast


def _likely_casts(shade: _Shade, camera: Camera, pair: PostPair, feet_m: Floats) -> list[_Cast]:
    """The ways from both feet along which it is dark as in a shadow for longest, the likeliest first."""
    azimuth = np.arange(_DIRECTIONS) * (2 * np.pi / _DIRECTIONS)
    away = np.arange(_STEP_M, _REACH_M, _STEP_M)
    way = np.stack([np.cos(azimuth), np.sin(azimuth)], axis=-1)[:, None] * away[:, None]
    height_m = float(np.mean([post.height_m for post in pair.posts]))
    # blurred, a third of the least shade is left of it; a blot in it counts no more than a deep shadow
    told = np.clip(shade.dark, -2 * _SHADE[0], 2 * _SHADE[0]) - _SHADE[0] / 3
    told = np.where(shade.open, told, 0).astype(np.float32)
    score = np.zeros((_DIRECTIONS, len(away)))
    for post, foot in zip(pair.posts, feet_m, strict=True):
        at_m = foot + way * (post.height_m / height_m)
        at_px = camera.project(np.concatenate([at_m, np.zeros((*at_m.shape[:2], 1))], -1).reshape(-1, 3))
        x, y = (at_px - shade.corner_px).astype(np.float32).reshape(at_m.shape).transpose(2, 0, 1)
        # a step that is long in the picture tells more than a short one
        step_px = np.hypot(np.gradient(x, axis=1), np.gradient(y, axis=1))
        score += np.cumsum(cv2.remap(told, x, y, cv2.INTER_LINEAR) * step_px, axis=1)
    best, ratio = score.max(axis=1), away[np.argmax(score, axis=1)] / height_m
    peaks = [i for i in np.argsort(-best) if best[i] >= max(best[i - 1], best[(i + 1) % _DIRECTIONS])]
    return [_Cast(float(azimuth[i]), float(ratio[i])) for i in peaks if ratio[i] > _SHORTEST / 2][:_STARTS]


@dataclass(frozen=True, slots=True)
class _Strips:
    """The pixels about both shadows, and what the shadows' model needs of the view."""

    at_m: Floats
    """Shape (n, 2), on the plane."""
    dark: Floats
    """Shape (n,)."""
    noise: float
    feet_m: Floats
    """Shape (2, 2)."""
    heights_m: tuple[float, float]
    jacobians: tuple[Floats, Floats]
    """At each foot, shape (2, 2): the plane in metres by the picture in pixels."""

    def shadow(self, which: int, values: Floats) -> Floats:
        """How dark one post's shadow makes each pixel, shape (n,).

        ``values`` of the model: direction, length over height, shade, blur in pixels, the cup's overhang in
        metres, both feet's moves in pixels.
        """
        azimuth, ratio, shade, blur_px, cup_m = values[:5]
        along = np.array([np.cos(azimuth), np.sin(azimuth)])
        across = np.array([-along[1], along[0]])
        jacobian, move_px = self.jacobians[which], values[5 + 2 * which : 7 + 2 * which]
        away = self.at_m - (self.feet_m[which] + jacobian @ move_px)
        blur_along = blur_px * float(np.hypot(*(along @ jacobian)))
        blur_across = blur_px * float(np.hypot(*(across @ jacobian)))
        length, on, off = ratio * self.heights_m[which], away @ along, away @ across
        half = SHANK_M / 2 + cup_m * ndtr((on - HEAD_FROM * length) / blur_along)
        wide = ndtr((off + half) / blur_across) - ndtr((off - half) / blur_across)
        return np.asarray(shade * wide * (ndtr(on / blur_along) - ndtr((on - length) / blur_along)))

    def both(self, values: Floats) -> tuple[Floats, Floats, Floats]:
        """The left shadow, the right one, and how dark they are together, each of shape (n,)."""
        left, right = self.shadow(0, values), self.shadow(1, values)
        return left, right, 1 - (1 - left) * (1 - right)


def _strips(shade: _Shade, camera: Camera, pair: PostPair, feet_m: Floats, cast: _Cast) -> _Strips | None:
    """What is fitted where the shadows are thought to lie; None where too little of it shows."""
    rows, columns = np.nonzero(shade.open)
    at_px = np.column_stack([columns, rows]) + np.array(shade.corner_px, dtype=float)
    near = np.zeros(len(at_px), bool)
    way = np.array([np.cos(cast.azimuth_rad), np.sin(cast.azimuth_rad)])
    for post, foot in zip(pair.posts, feet_m, strict=True):
        tip_m = foot + way * min(1.3 * cast.ratio * post.height_m, _REACH_M)
        near |= _beside(at_px, np.array(post.foot_px), camera.project([*tip_m, 0.0])) < _BESIDE_PX
    if near.sum() < _LEAST_PIXELS:
        return None
    return _Strips(
        at_m=camera.to_plane(at_px[near]),
        dark=shade.dark[rows[near], columns[near]].astype(float),
        noise=shade.noise,
        feet_m=feet_m,
        heights_m=(pair.left.height_m, pair.right.height_m),
        jacobians=(camera.plane_jacobian(feet_m[0]), camera.plane_jacobian(feet_m[1])),
    )


def _fit(strips: _Strips, pair: PostPair, cast: _Cast) -> _Fit | None:
    """Where posts and shadows agree; None where these are no shadows."""
    whiten = np.linalg.inv(np.linalg.cholesky(pair.cov_px2))
    scale = strips.noise * _ALIKE

    def residuals(values: Floats) -> Floats:
        off = (strips.both(values)[2] - strips.dark) / scale
        # a blade or a leaf that lies there counts little
        seen = np.sign(off) * np.sqrt(2 * (np.sqrt(1 + off * off) - 1))
        likely = [(values[3] - _BLUR_PX[0]) / _BLUR_PX[1], (values[4] - _CUP_M[0]) / _CUP_M[1]]
        if cast.known:
            likely.append((values[0] - cast.azimuth_rad) / _U_AZIMUTH_RAD)
            likely.append((values[1] / cast.ratio - 1) / _U_RATIO)
        return np.concatenate([seen, likely, whiten @ values[5:]])

    start = np.array([cast.azimuth_rad, cast.ratio, 0.5, _BLUR_PX[0], _CUP_M[0], *np.zeros(4)])
    low = [start[0] - 0.6, 0.3 * start[1], 0.0, 0.4, 0.0, *np.full(4, -6.0)]
    high = [start[0] + 0.6, 2.0 * start[1], _SHADE[1], 2.0, 0.008, *np.full(4, 6.0)]
    found = least_squares(residuals, start, bounds=(low, high), x_scale=_SCALES, max_nfev=_TURNS)
    values = found.x
    left, right, dark = strips.both(values)
    gains = [float(np.sum(one * (2 * strips.dark - one))) / scale**2 for one in (left, right)]
    moved = whiten @ values[5:]
    misfit = 1.4826 * float(np.median(np.abs(dark - strips.dark))) / strips.noise
    if values[1] < _SHORTEST or values[2] < _SHADE[0] or values[3] > _MOST_BLUR_PX:
        return None
    if min(gains) < _LEAST_GAIN or moved @ moved > _MOST_MOVED or misfit > _MOST_MISFIT:
        return None
    cov = np.linalg.inv(found.jac.T @ found.jac + 1e-9 * np.eye(len(values)))[5:, 5:]
    return _Fit(moves_px=values[5:].reshape(2, 2), cov_px2=cov)
