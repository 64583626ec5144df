"""The last step of a fit: a ball's place and lights so that it renders as the picture looks.

Gauss's and Newton's steps on all pixels about the ball, those that differ too much, by print or by what
stands before it, counting little (weights of Cauchy's kind).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.outline import Outline, Picture
from puttvision.ball.rendering import MISFIT, median, slopes, streak, window
from puttvision.ball.shading import Shading
from puttvision.green.camera import Camera

Floats = NDArray[np.float64]

_ALIKE = 1.7
"""Neighbouring pixels' misfits are alike beyond that (measured on filmed scenes)."""
_U_GAIN = 0.2
"""Ratio by which the light on one ball may differ from that on all."""
_U_EVEN, _U_SUN = 0.1, 0.15
"""Even light that comes on top, as a share of white, and by how much the sun may stand elsewhere, in
radians."""
_KNOWN = 1 / np.array([np.inf, np.inf, _U_GAIN, _U_GAIN, _U_EVEN, _U_SUN, _U_SUN]) ** 2
_OTHER_LIGHT = 0.4
"""What is this much brighter or darker lies in another light: then its own is begun from."""
_TURNS = 3
_SETTLED_PX = 0.06
_MOST_STEP_PX = 0.8
_HOPELESS, _BY_TURN = 0.3, 2
"""What explains less by that turn is no ball (measured: of 840 balls begun up to 5 px off, none)."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A ball where it renders as it looks."""

    move_px: Floats
    """Shape (2,), from where it was fitted before."""
    cov_px2: Floats
    """Shape (2, 2)."""
    explained: float
    """Of what sets the pixels off from grass, in squares, the share that the rendered ball explains."""


def settle(
    picture: Picture,
    camera: Camera,
    outline: Outline,
    at_px: Floats,
    smear_px: Floats,
    shading: Shading,
    own_lights: Floats,
    table: NDArray[np.float32],
    top: float,
    most_move_px: float = 1.2,
) -> Settled | None:
    """Bring a ball from where it was fitted, shape (2,), to where it renders best; its size is known.

    Parameters
    ----------
    outline : of a ball near there
    smear_px : shape (2,), its move during the exposure
    shading : the light on the clip's balls
    own_lights : shape (3,), on this one as fitted before; they count where they differ much
    table, top : as in ``puttvision.ball.rendering.window``
    most_move_px : a move beyond is no last step, something else is there

    Returns None where it is not whole in the picture; where it moves off, it explains nothing.
    """
    length_px = float(np.hypot(smear_px[0], smear_px[1]))
    about = window(picture, camera, outline, at_px, table, top, shading, smear_px=length_px)
    if about is None:
        return None
    smeared = streak(smear_px, about)
    clips = np.array(shading.lights)
    likely = _likely(clips, own_lights)
    own, move = np.zeros(5), np.zeros(2)
    used, seen = about.used, about.seen[about.used]
    stands_out = (seen - median(about.grass)) / MISFIT
    to_explain = max(float(stands_out @ stands_out), 1.0)
    for turn in range(_TURNS + round(most_move_px)):
        lights = likely * np.array([1 + own[0], 1 + own[0], 1 + own[1]]) + np.array([own[2], 0.0, 0.0])
        sun = outline.axes @ np.array(shading.sun) + np.array([0.0, own[3], own[4]])
        looks = about.render(sun @ outline.axes, lights, move, shading.blur_px, smeared)
        light = np.minimum(looks.light, top)
        # what is cut off does not change, but for where its edge moves
        fall_x, fall_y = slopes(light)
        open_ = (looks.light < top)[used][:, None]
        diffuse, sunny = looks.diffuse[used] * open_, looks.sunny[used] * open_
        design = np.empty((len(seen), 7))
        design[:, 0], design[:, 1] = -fall_x[used], -fall_y[used]
        design[:, 2], design[:, 3] = diffuse @ likely[:2], sunny @ sun * likely[2]
        design[:, 4], design[:, 5:] = diffuse[:, 0], sunny[:, 1:] * lights[2]
        design /= MISFIT
        rest = (seen - light[used]) / MISFIT
        explained = 1 - float(rest @ rest) / to_explain
        weighted = design.T / (1 + rest * rest)
        information = weighted @ design + np.diag(_KNOWN)
        step = np.linalg.solve(information, weighted @ rest - _KNOWN * np.array([0.0, 0.0, *own]))
        moved = np.clip(step[:2], -_MOST_STEP_PX, _MOST_STEP_PX)
        move = move + moved
        own = np.clip(own + step[2:], -0.8, 2.0)
        if np.abs(moved).max() < _SETTLED_PX or (turn == _BY_TURN and explained < _HOPELESS):
            break
    cov_px2 = np.linalg.inv(information)[:2, :2] * _ALIKE
    if explained < _HOPELESS or np.hypot(move[0], move[1]) > most_move_px:
        return Settled(np.zeros(2), cov_px2, 0.0)
    return Settled(move, cov_px2, explained)


def _likely(clips: Floats, own: Floats) -> Floats:
    """The lights to begin from and be held to: those on all balls, where this one's do not differ much."""
    out = clips.copy()
    diffuse = float(own[:2].sum()) / max(float(clips[:2].sum()), 1e-6)
    direct = float(own[2]) / max(float(clips[2]), 1e-6)
    if abs(diffuse - 1) > _OTHER_LIGHT or abs(direct - 1) > _OTHER_LIGHT:
        out[:2] *= min(max(diffuse, 0.1), 3.0)
        out[2] *= min(direct, 3.0)
    return out
