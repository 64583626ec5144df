"""One ball in one picture: its centre to a few hundredths of a pixel, from its outline.

A sunlit ball's lower half is in shade, so the centroid of its brightness lies too high, and a
threshold cuts the shaded side. Here the ball is a matt sphere (Lambert's cosine law) under one sun,
an even light and a sky that is brighter above, in linear light; the outline lies where the picture
passes from the shaded ball to what is around it. It is that of a sphere of 42.67 mm resting on the
plane, projected with the camera at hand. Where the light on the clip's balls is known, the last step
is by rendering (``settle.py``).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.inside import Inside
from puttvision.ball.likeness import is_ball, is_clear
from puttvision.ball.outline import Outline, Picture, fan_over, outline_of
from puttvision.ball.rim import Rim, rim_of, solve
from puttvision.ball.settle import Settled, settle
from puttvision.ball.shading import USUAL_SHADING, Shading
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

_TURNS = 4
_STILL_PX = 0.15
"""A fit that moves by less has arrived."""
_EXPECTED_PX = 3.6
"""Within this reach the ball is where it is expected, to a pixel or so."""
_NEAR_PX = 1.0
"""A fit that moved by less has the outline's rays where they belong."""
_BLUR_PX = 0.75
"""Deviation of lens blur, a pixel's area and sampling; common for phones, from memory."""
_LEAST_RADIUS_PX = 2.0
_SMALL_PX, _LITTLE_SEEN = 7.0, 0.1
_LEAST_EXPLAINED, _CLEARLY_EXPLAINED = 0.85, 0.92
"""Of what sets a picture off from grass, so much is explained by a ball that is to be seen there, and by one
that nobody expected, where no rim stands out."""
_PARTLY_EXPLAINED, _MOSTLY_EXPLAINED, _WELL_SHOWN = 0.6, 0.75, 0.62
"""And where one does: a putter's head or a hand may hide some, or a shadow's edge cross the grass beside it;
the second of a ball clearly seen, the third where the clip's balls show well. What is no ball moves off or,
where they do not, stays below 0.7 (all measured on filmed scenes)."""
_ALIKE_EXPLAINED = 0.7
"""And of what a rendered ball matches well: a bold line leaves no more (of 60 balls and 850 other patches on
filmed scenes, 34 and one pass both)."""
_FLOOR_PX2 = 0.02**2 * np.eye(2)
"""What one fit can claim at best, 0.02 px: compression and texture are not independent between pixels."""
TOP_LUMA = 212
"""From here on the tone curve flattens: the light was this or more."""


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
    expected: bool = False,
    u_edge_px: float = 0.0,
    shows_well: bool = False,
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
    expected : whether a ball under way is to be seen there: then less of it has to be
    u_edge_px : by how much edges in this picture may lie off, over those in luma
    shows_well : whether balls of this clip stand out well in this light

    Returns None where no ball stands there.
    """
    outline = outline_of(camera, np.asarray(guess_m, dtype=float))
    if outline is None or outline.radius_px < _LEAST_RADIUS_PX:
        return None
    smear = _smear_px(camera, guess_m, smear_m)
    if shading is not None and expected:
        # seen a moment ago, most often it looks just as it did
        fit = _by_its_look(picture, camera, outline, table, smear, reach_px, shading, _LEAST_EXPLAINED)
        if fit is not None:
            return fit
    fit = _by_its_rim(
        picture, camera, outline, table, smear, reach_px, shading, expected=expected, u_edge_px=u_edge_px,
        least=_WELL_SHOWN if shows_well else _MOSTLY_EXPLAINED,
    )  # fmt: skip
    if fit is None and shading is not None and not expected and outline.radius_px < _SMALL_PX:
        fit = _by_its_look(picture, camera, outline, table, smear, reach_px, shading, _CLEARLY_EXPLAINED)
    return fit


def fit_likeness(
    picture: Picture,
    camera: Camera,
    guess_m: tuple[float, float] | Floats,
    table: NDArray[np.float32],
    reach_px: float,
    shading: Shading,
) -> BallFit | None:
    """The ball that the picture is known to be much like: print on it may hide its rim and its shading.

    Arguments as those of ``fit_ball``. Returns None where a rendered ball does not explain the picture.
    """
    outline = outline_of(camera, np.asarray(guess_m, dtype=float))
    if outline is None or outline.radius_px < _LEAST_RADIUS_PX:
        return None
    return _by_its_look(picture, camera, outline, table, np.zeros(2), reach_px, shading, _ALIKE_EXPLAINED)


def _by_its_look(
    picture: Picture,
    camera: Camera,
    outline: Outline,
    table: NDArray[np.float32],
    smear: Floats,
    reach_px: float,
    shading: Shading,
    least: float,
) -> BallFit | None:
    """A ball that looks as it is expected to; of a small one under a low sun no rim stands out.

    ``least``: so much of the picture it has to explain.
    """
    at_px, lights = outline.centre_px, np.array(shading.lights)
    settled = settle(
        picture, camera, outline, at_px, smear, shading, lights, table, float(table[TOP_LUMA]), reach_px
    )
    if settled is None or settled.explained < least:
        return None
    at_px = at_px + settled.move_px
    x_m, y_m = camera.to_plane(at_px, BALL_RADIUS_M).tolist()
    cov = settled.cov_px2 + _FLOOR_PX2
    return BallFit(
        at_px=(float(at_px[0]), float(at_px[1])),
        cov_px2=(float(cov[0, 0]), float(cov[0, 1]), float(cov[1, 1])),
        size_ratio=1.0,
        seen=_LITTLE_SEEN,
        misfit_px=float(np.sqrt(np.trace(cov))),
        clear=True,
        at_m=(x_m, y_m),
        shading=shading,
    )


def _by_its_rim(
    picture: Picture,
    camera: Camera,
    outline: Outline,
    table: NDArray[np.float32],
    smear: Floats,
    reach_px: float,
    shading: Shading | None,
    *,
    expected: bool,
    u_edge_px: float,
    least: float,
) -> BallFit | None:
    """The outline brought to where the picture passes from ball to grass.

    ``least``: so much of the picture a ball that is clear explains.
    """
    smear_px = float(np.hypot(smear[0], smear[1]))
    reach = reach_px + smear_px / 2
    fan = fan_over(outline, reach)
    inside = Inside(outline, fan, smear_px, float(table[TOP_LUMA]))
    # a move at even speed blurs by a box: its variance is a twelfth of its square
    blur_px = np.sqrt(_BLUR_PX**2 + (outline.normal @ smear) ** 2 / 12)
    to_middle = outline.middle_px - outline.centre_px
    at_px, size = outline.centre_px, 1.0
    known, fewest = shading or USUAL_SHADING, (3 if shading is None else 1)
    rim: Rim | None = None
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
        rim = rim_of(outline, fan, inside, light, reach, blur_px if as_seen else None)
        if rim is None and turn == 0 and near:
            near = False
            continue
        if rim is None:
            return None
        step = solve(outline, rim, size)
        at_px = at_px + np.minimum(np.maximum(step.move_px, -0.8 * reach), 0.8 * reach)
        size = min(max(size + step.growth, 0.8), 1.2)
        moved_px = max(map(abs, step.move_px.tolist()))
        if moved_px < _STILL_PX and turn >= fewest and near:
            break
        near = moved_px < _NEAR_PX
        settled = settled and near  # lights chosen where the ball does not lie are chosen once more
    if rim is None or not is_ball(outline, inside, rim, step, shading, expected=expected):
        return None
    # neighbouring rays share pixels: about one in two is independent
    cov = np.linalg.inv(step.information)[:2, :2] * 2.0
    clear = is_clear(outline, inside, rim, step, shading, u_edge_px)
    last: Settled | None = None
    if shading is not None:
        last = settle(picture, camera, outline, at_px, smear, shading, inside.lights, table, inside.top)
    if last is not None:
        if not expected and last.explained < _PARTLY_EXPLAINED:
            return None
        clear = clear and last.explained > least
    if last is not None and last.explained > 0:
        at_px, cov = at_px + last.move_px, last.cov_px2
    cov += _FLOOR_PX2
    x_m, y_m = camera.to_plane(at_px, BALL_RADIUS_M).tolist()
    if not (isfinite(x_m) and isfinite(y_m)):
        return None
    lights = inside.lights
    return BallFit(
        at_px=(float(at_px[0]), float(at_px[1])),
        cov_px2=(float(cov[0, 0]), float(cov[0, 1]), float(cov[1, 1])),
        size_ratio=size,
        seen=rim.seen,
        misfit_px=step.spread_px,
        clear=clear,
        at_m=(x_m, y_m),
        shading=replace(known, lights=(float(lights[0]), float(lights[1]), float(lights[2]))),
    )


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
