"""One ball in one picture: its centre to a few hundredths of a pixel, from its outline.

A sunlit ball's lower half is in shade, so the centroid of its brightness lies too high, and a
threshold cuts the shaded side. Here the ball is a matt sphere (Lambert's cosine law) under one sun,
an even light and a sky that is brighter above, in linear light; the outline lies where the picture
passes from the shaded ball to what is around it. It is that of a sphere of 42.67 mm resting on the
plane, projected with the camera at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from puttvision.ball.outline import RAYS, Fan, Outline, Picture, fan_over, outline_of
from puttvision.ball.shading import USUAL_SHADING, Face, Shading, basis, first_lights, learn, lights_of
from puttvision.ball.small_systems import solve3
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

_TURNS = 4
_STILL_PX = 0.15
"""A fit that moves by less has arrived."""
_LIGHT_TURNS = 3
_EXPECTED_PX = 3.0
"""Within this reach the ball is where it is expected, to a pixel or so."""
_NEAR_PX = 1.0
"""A fit that moved by less has the outline's rays where they belong."""
_SEEN_POINTS = 4
_BLUR_PX = 0.75
"""Deviation of lens blur, a pixel's area and sampling; common for phones, from memory."""
_LEAST_RADIUS_PX = 2.0
_LEAST_SEEN = 0.3
"""Share of the outline that has to be seen."""
_PLATEAU_PX = 1.5
_SOFT_PX = 1.3
"""Half width of a sharp edge: lens blur, one pixel of area, demosaicing."""
_U_SIZE = 0.006
"""A ball is 42.67 to 42.8 mm (common practice) and the camera's scale is known to about a percent."""
_FLOOR_PX = 0.02
"""What one fit can claim at best: compression and texture are not independent between pixels."""
_LEAST_STEP = 0.07
"""Weakest step of light, as a share of white, that counts: the shaded limb is left to the known size."""
_TOP_LUMA = 212
"""From here on the tone curve flattens: the light was this or more."""
_LEAST_ON_THE_WAY = 0.15
"""Share of the rays with an edge that suffices to go on towards a better place."""
_LEAST_WITHIN = 0.5
"""Of the step at an edge, so much has to be there where the ball's inside begins."""
_LEAST_CLEAN = 0.7
"""Share of the rays where the lit limb should show that do show it: a shoe's edge lies elsewhere."""
_LEAST_CONTRAST, _LEAST_DIM_CONTRAST, _DIM = 0.4, 0.6, 0.4
"""Contrast of a ball's rim with the grass; the second for what is darker than this share of the clip's balls:
in shade, where the grass is dark too, or grass taken for a ball (up to 0.55, measured on filmed scenes)."""
_WORST_SHADING, _WORST_OTHER_LIGHT = 0.15, 0.33
"""Root mean square misfit of a ball's inside over its mean light, lines and letters on it left out; and the
same under the light learnt before, which a cloud or the player's shadow may have changed."""
_CLEAR_SHARE, _ROUGH_SHARE, _CLEAR_FLOOR_PX = 0.045, 0.075, 0.2
"""A clear fit's spread of edges: a share of the radius and pixels on top; the second for what is as bright as
the clip's balls, of which a putter's head may hide a half."""
_CLEAR_FROM, _CLEAR_OVER, _ROUGH_OVER = 0.25, 0.3, 0.15
"""Share of the outline seen from which on it is clear, and over how much more it fully counts."""
_IN_SHADE = 0.3
"""What is darker than this share of the clip's balls is in shade, or no ball.
All of these measured on filmed scenes, on balls at rest and on shoes that were taken for them."""
_PRINTED_SHARE = 0.15
"""So much of a ball may be printed with lines and letters."""
_USUAL_LEVEL = 0.7
"""Light of a ball's brightest side at usual exposure; a darker picture has smaller steps."""


@dataclass(frozen=True, slots=True)
class BallFit:
    """A ball as fitted in one picture."""

    at_px: tuple[float, float]
    """Projection of the ball's centre."""
    cov_px2: tuple[float, float, float]
    """xx, xy, yy."""
    size_ratio: float
    """Outline as seen over outline as predicted."""
    seen: float
    """Share of the outline with a clean edge that is lighter inside."""
    misfit_px: float
    """Robust spread of the edges about the fitted outline."""
    clear: bool
    """Whether it shows what a ball at rest shows: enough of its outline, and that sharply."""
    at_m: tuple[float, float]
    """On the plane, under the camera the fit was made with."""
    shading: Shading


def fit_ball(
    picture: Picture,
    camera: Camera,
    guess_m: tuple[float, float] | Floats,
    table: NDArray[np.float32],
    *,
    smear_m: tuple[float, float] | Floats = (0.0, 0.0),
    reach_px: float = 3.5,
    shading: Shading | None = None,
) -> BallFit | None:
    """Fit the outline of a ball that is expected within ``reach_px`` of a place on the plane.

    Parameters
    ----------
    picture : shape (h, w), luma
    camera : the camera over the green
    guess_m : shape (2,), the point on the plane under the ball's centre
    table : ``puttvision.green.edges.linear_light`` of the clip's tone curve
    smear_m : shape (2,), how far the ball moves over the plane during the exposure
    reach_px : how far off the outline may be
    shading : of the same ball as fitted before, so that a smear does not hide it

    Returns None where no ball stands there.
    """
    outline = outline_of(camera, np.asarray(guess_m, dtype=float))
    if outline is None or outline.radius_px < _LEAST_RADIUS_PX:
        return None
    smear = _smear_px(camera, guess_m, smear_m)
    smear_px = float(np.hypot(smear[0], smear[1]))
    reach = reach_px + smear_px / 2
    fan = fan_over(outline, reach)
    inside = _Inside(outline, fan, smear_px, float(table[_TOP_LUMA]))
    # a move at even speed blurs by a box: its variance is a twelfth of its square
    blur_px = np.sqrt(_BLUR_PX**2 + (outline.normal @ smear) ** 2 / 12)
    to_middle = outline.middle_px - outline.centre_px
    at_px, size = outline.centre_px, 1.0
    known, fewest = shading or USUAL_SHADING, (3 if shading is None else 1)
    rim: _Rim | None = None
    near, settled = shading is not None and reach_px <= _EXPECTED_PX, False
    for turn in range(fewest + _TURNS):
        light = fan.light(picture, at_px + to_middle, size, table)
        if light is None:
            return None
        if shading is None and turn in (1, 2):
            known = inside.learn(light, finely=turn == 2)
        as_seen = turn >= fewest - 1 and near
        inside.light_up(light, known, afresh=as_seen and not settled)
        settled = settled or as_seen
        # far off, only the modelled light tells on which side the ball lies
        rim = _rim(outline, fan, inside, light, reach, blur_px if as_seen else None)
        if rim is None and turn == 0 and near:
            near = False
            continue
        if rim is None:
            return None
        step = _solve(outline, rim, size)
        at_px = at_px + np.minimum(np.maximum(step.move_px, -0.8 * reach), 0.8 * reach)
        size = min(max(size + step.growth, 0.8), 1.2)
        moved_px = max(map(abs, step.move_px.tolist()))
        if moved_px < _STILL_PX and turn >= fewest and near:
            break
        near = moved_px < _NEAR_PX
    if rim is None or not _is_ball(outline, inside, rim, step, shading):
        return None
    at_m = camera.to_plane(at_px, BALL_RADIUS_M)
    if not np.isfinite(at_m).all():
        return None
    lights = inside.lights
    # neighbouring rays share pixels: about one in two is independent
    cov = np.linalg.inv(step.information) * 2.0 + np.diag([_FLOOR_PX**2] * 3)
    return BallFit(
        at_px=(float(at_px[0]), float(at_px[1])),
        cov_px2=(float(cov[0, 0]), float(cov[0, 1]), float(cov[1, 1])),
        size_ratio=size,
        seen=float(rim.good.mean()),
        misfit_px=step.spread_px,
        clear=_is_clear(outline, inside, rim, step, shading),
        at_m=(float(at_m[0]), float(at_m[1])),
        shading=Shading(known.sun, (float(lights[0]), float(lights[1]), float(lights[2]))),
    )


def learn_light(
    balls: Sequence[tuple[NDArray[np.uint8], BallFit]], camera: Camera, table: NDArray[np.float32]
) -> Shading | None:
    """The light on several balls of a clip, each with the picture it was fitted in; None for none.

    A ball's place and the sun depend on each other: they are found in turn.
    """
    found: Shading | None = None
    fits = [fit for _, fit in balls]
    for _ in range(_LIGHT_TURNS):
        faces = []
        for (picture, _), fit in zip(balls, fits, strict=True):
            outline = outline_of(camera, np.array(fit.at_m))
            if outline is None:
                continue
            fan = fan_over(outline, _PLATEAU_PX)
            light = fan.light(picture, outline.middle_px, fit.size_ratio, table)
            if light is not None:
                faces.append(_Inside(outline, fan, 0.0, float(table[_TOP_LUMA])).face(light))
        if not faces:
            return found
        found = learn(faces, float(table[_TOP_LUMA]), found)
        again = [
            fit_ball(picture, camera, fit.at_m, table, shading=found)
            for (picture, _), fit in zip(balls, fits, strict=True)
        ]
        fits = [new or old for new, old in zip(again, fits, strict=True)]
    return found


class _Inside:
    """The light on the ball's face as modelled, and as it looks towards the rim."""

    def __init__(self, outline: Outline, fan: Fan, smear_px: float, top: float) -> None:
        soft = min(_SOFT_PX + smear_px / 2, 0.55 * outline.radius_px)
        self.n_core = int(np.searchsorted(fan.outwards_px, -soft))
        """So many points of each ray lie inside, where the edge's blur does not reach."""
        self._near = slice(max(0, self.n_core - _SEEN_POINTS), self.n_core)
        self.inner_px = -(float(fan.outwards_px[self.n_core]) - fan.step_px / 2)
        self._surface = fan.surface()
        self.top = top
        self._sun: tuple[float, float, float] | None = None
        self._core = self._edge = self._brim = np.empty((0, 3))
        self._light_seen = np.empty((0, 0))
        self._modelled: Floats | None = None
        self._light = np.empty(0)
        self.lights = self._likely = np.empty(3)

    def learn(self, light: Floats, *, finely: bool) -> Shading:
        """The light on this ball alone; ``light`` shape (RAYS, m)."""
        return learn([self.face(light)], self.top, finely=finely)

    def face(self, light: Floats) -> Face:
        """The inside as seen; ``light`` shape (RAYS, m)."""
        return Face(self._surface[:, : self.n_core].reshape(-1, 3), light[:, : self.n_core].ravel())

    def light_up(self, light: Floats, known: Shading, *, afresh: bool = False) -> None:
        """Fit the lights to what is seen inside; ``afresh``: with no thought of what was seen elsewhere."""
        self._light_seen = light
        # neighbours along a ray tell the same light: every other one will do
        self._light = light[:, : self.n_core : 2].ravel()
        if known.sun != self._sun:
            rows = basis(self._surface, known.sun)
            self._core = np.ascontiguousarray(rows[:, : self.n_core : 2]).reshape(-1, 3)
            self._brim = np.ascontiguousarray(rows[:, self._near]).mean(axis=1)
            self._edge = np.ascontiguousarray(rows[:, self.n_core :]).reshape(-1, 3)
            self._sun, afresh = known.sun, True
        if afresh:
            self._modelled = None
            self._likely = first_lights(self._core, self._light, known, self.top)
        self.lights, self._modelled = lights_of(
            self._core, self._light, self._likely, self.top, self._modelled
        )

    def at_edge(self) -> Floats:
        """Light that the ball would have at the points across the rim, shape (RAYS, m - n_core)."""
        return np.asarray((self._edge @ self.lights).reshape(RAYS, -1))

    def surplus(self) -> Floats:
        """Light seen over light modelled just within the edge's blur, shape (RAYS,).

        What is burnt out may be as bright as modelled."""
        seen = self._light_seen[:, self._near].mean(axis=1)
        modelled = self._brim @ self.lights
        surplus = seen - modelled
        return np.asarray(np.where(seen > self.top, np.maximum(surplus, 0.0), surplus))

    def misfit(self) -> float:
        """Root mean square misfit over the mean light, the worst points, a ball's print, left out."""
        modelled = self._core @ self.lights
        rest = np.abs(modelled - self._light)
        rest[self._light > self.top] = 0.0
        n_plain = int((1 - _PRINTED_SHARE) * rest.size)
        plain = np.partition(rest, n_plain)[:n_plain]
        return float(np.sqrt(plain @ plain / n_plain) / self._light.mean())


def _spill(ratio: Floats) -> Floats:
    """How far an edge cut off at 1 / ratio of its height seems to lie outwards, in deviations of its blur.

    The integral of min(c Phi(x), 1) over that of a sharp step is c phi(Phi^-1(1 / c)) (the first moment of
    a cut normal distribution)."""
    return np.asarray(np.interp(ratio, _RATIOS, _SPILLS))


_RATIOS = np.linspace(1.001, 8.0, 200)
_SPILLS = _RATIOS * norm.pdf(norm.ppf(1 / _RATIOS))


@dataclass(frozen=True, slots=True)
class _Rim:
    """Where the picture passes from ball to grass, ray by ray; arrays of shape (RAYS,)."""

    offset_px: Floats
    """Edge seen over edge expected, outwards."""
    weight: Floats
    usable: NDArray[np.bool_]
    """Rays where the ball should stand out against what is around it."""
    good: NDArray[np.bool_]
    """Rays with one clean edge within reach."""
    contrast: float
    """Mean, over these, of the step at the edge as a share of the light within it."""


def _smear_px(
    camera: Camera, at_m: tuple[float, float] | Floats, smear_m: tuple[float, float] | Floats
) -> Floats:
    """The ball's move during the exposure as seen in the picture, shape (2,)."""
    if not (smear_m[0] or smear_m[1]):
        return np.zeros(2)
    here = [at_m[0], at_m[1], BALL_RADIUS_M]
    there = [at_m[0] + smear_m[0], at_m[1] + smear_m[1], BALL_RADIUS_M]
    px = camera.project(np.array([here, there]))
    return np.asarray(px[1] - px[0])


def _rim(
    outline: Outline, fan: Fan, inside: _Inside, light: Floats, reach: float, blur_px: Floats | None
) -> _Rim | None:
    """The edges along the rays; None where there are too few.

    ``blur_px``: deviation of the blur across each ray's edge, shape (RAYS,). With it, the light within the
    rim is what is seen there; without, what the model says.
    """
    outside = light[:, int(np.searchsorted(fan.outwards_px, reach - _PLATEAU_PX, side="right")) :]
    around = outside.sum(axis=1, keepdims=True) / outside.shape[1]
    edge, across = inside.at_edge(), light[:, inside.n_core :]
    full = np.zeros(RAYS, dtype=bool)
    if blur_px is None:  # what lies across the expected rim may well be the ball's inside
        edge = np.repeat(edge[:, :1], edge.shape[1], axis=1)
    else:
        edge = edge + inside.surplus()[:, None]
        # blurred, a burnt-out rim shows the light of what lies within it as well
        bright = (edge[:, 0] + edge[:, -1]) / 2
        full = bright > inside.top
    rise = edge - around
    step = rise.min(axis=1)
    level = min(max(float(inside.lights.sum()) / _USUAL_LEVEL, 0.5), 1.0)
    usable = step > _LEAST_STEP * level
    rise[~usable] = 1.0
    covered = (across - around) / rise
    full &= usable
    spilt = np.zeros(RAYS)
    if blur_px is not None and full.any():
        under = np.maximum(inside.top - around[full], 0.1)
        covered[full] = (np.minimum(across[full], inside.top) - around[full]) / under
        spilt[full] = blur_px[full] * _spill((bright[full] - around[full, 0]) / under[:, 0])
    offset = (covered.sum(axis=1) * fan.step_px - inside.inner_px) * outline.obliqueness - spilt
    good = usable & (covered.max(axis=1) < 1.7) & (covered.min(axis=1) > -0.7)
    good &= np.abs(offset) < 0.75 * reach
    if blur_px is not None:  # an edge has something of the ball within it
        good &= covered[:, 0] > _LEAST_WITHIN
    if np.count_nonzero(good) < _LEAST_ON_THE_WAY * RAYS:
        return None
    weight = np.minimum(step / (0.3 * level), 1.0) ** 2
    contrast = step[good] / (step[good] + around[good, 0])
    return _Rim(offset_px=offset, weight=weight, usable=usable, good=good, contrast=float(contrast.mean()))


@dataclass(frozen=True, slots=True)
class _Step:
    """One turn of the fit."""

    move_px: Floats
    growth: float
    """Added to the size ratio."""
    spread_px: float
    """Robust spread of the edges about the new outline."""
    information: Floats
    """Shape (3, 3): x, y, size."""


def _solve(outline: Outline, rim: _Rim, size: float) -> _Step:
    """Shift and growth that bring the outline onto the edges: robust least squares, the size near one."""
    good = rim.good
    design = np.empty((np.count_nonzero(good), 3))
    design[:, :2] = outline.normal[good]
    design[:, 2] = outline.radius_px
    miss, weight = rim.offset_px[good], rim.weight[good]
    pull = np.array([0.0, 0.0, (1 - size) / _U_SIZE**2])
    rest = miss
    for _ in range(2):
        spread = 1.4826 * float(np.partition(np.abs(rest), rest.size // 2)[rest.size // 2]) + 0.03
        ratio = rest * (0.5 / spread)
        weighted = design.T * (weight / ((1 + ratio * ratio) * spread**2))
        information = weighted @ design
        information[2, 2] += 1 / _U_SIZE**2
        solution = np.array(solve3(information, weighted @ miss + pull))
        rest = miss - design @ solution
    return _Step(move_px=solution[:2], growth=float(solution[2]), spread_px=spread, information=information)


def _is_ball(outline: Outline, inside: _Inside, rim: _Rim, step: _Step, known: Shading | None) -> bool:
    """Whether what was fitted looks like a ball, and from more than one side."""
    n_good = np.count_nonzero(rim.good)
    if step.spread_px > 0.10 * outline.radius_px + 0.30 or n_good < _LEAST_SEEN * RAYS:
        return False
    dim = known is not None and inside.lights.sum() < _DIM * sum(known.lights)
    if rim.contrast < (_LEAST_DIM_CONTRAST if dim else _LEAST_CONTRAST):
        return False
    if n_good < _LEAST_CLEAN * np.count_nonzero(rim.usable):
        return False
    if np.abs(outline.normal[rim.good].sum(axis=0)).max() > 0.5 * RAYS:
        return False
    if known is None and not _is_clear(outline, inside, rim, step, None):
        return False
    return inside.misfit() <= (_WORST_SHADING if known is None else _WORST_OTHER_LIGHT)


def _is_clear(outline: Outline, inside: _Inside, rim: _Rim, step: _Step, known: Shading | None) -> bool:
    """A shoe or a putter's head shows a ball's edge on one side only, or but roughly, and often in shade."""
    in_light = known is not None and inside.lights.sum() > _IN_SHADE * sum(known.lights)
    share, over = (_ROUGH_SHARE, _ROUGH_OVER) if in_light else (_CLEAR_SHARE, _CLEAR_OVER)
    enough = min((float(rim.good.mean()) - _CLEAR_FROM) / over, 1.0)
    return step.spread_px < (share * outline.radius_px + _CLEAR_FLOOR_PX) * enough
