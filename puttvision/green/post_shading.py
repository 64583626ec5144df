"""How far a post in the sun seems to stand to its lit side.

A post is a round stick a few pixels wide, and what is seen of it is where it stands out from the grass: in a
sun from beside, its lit half. Lambert's cosine law round the stick tells by how much.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera
from puttvision.green.post_pair import PostPair
from puttvision.green.posts import SHANK_M

Floats = NDArray[np.float64]

_TONE = 1 / 2.2
"""Power of the light by which a post shows: video's usual tone curve."""
_U_SHARE = 0.4
"""Deviation of the shift, as a share of it: makes of tees, their colour, gloss (measured on 48 gates filmed
in the sun, in three ways of rendering: 0.6 to 1.3 of it)."""
_ACROSS = np.linspace(-1.0, 1.0, 41)[1:-1]
"""Places across a post, in radii."""


def off_lit_side(
    pair: PostPair, camera: Camera, sun: tuple[float, float, float], lights: tuple[float, float, float]
) -> PostPair:
    """The pair with its feet under the posts' axes, where they were under what shows of them.

    Parameters
    ----------
    sun : unit vector towards it in the frame of the green
    lights : even light, the sky's and the sun's, on what faces each
    """
    feet_m = camera.to_plane(pair.feet_px)
    to_camera = camera.centre_m[:2] - feet_m.mean(axis=0)
    to_camera /= np.hypot(*to_camera)
    right = np.array([-to_camera[1], to_camera[0]])
    moves_m = -lit_shift_m(to_camera, right, sun, lights) * right
    moves_px = camera.project(np.column_stack([feet_m + moves_m, np.zeros(2)])) - pair.feet_px
    steps_px = _U_SHARE * moves_px.ravel()  # both posts are lit alike
    return pair.moved(pair.feet_px + moves_px, pair.cov_px2 + np.outer(steps_px, steps_px))


def lit_shift_m(
    to_camera: Floats, right: Floats, sun: tuple[float, float, float], lights: tuple[float, float, float]
) -> float:
    """How far to the right of its axis, metres, the middle of what shows of an upright post lies.

    Parameters
    ----------
    to_camera, right : level unit vectors, shape (2,), from the post towards the lens and to its right
    sun, lights : as in ``off_lit_side``
    """
    towards = np.sqrt(1 - _ACROSS**2)
    facing = towards * (np.asarray(sun[:2]) @ to_camera) + _ACROSS * (np.asarray(sun[:2]) @ right)
    even, sky, direct = lights
    light = even + sky / 2 + direct * np.maximum(facing, 0.0)  # what stands upright sees half the sky
    shows = np.maximum(light, 1e-6) ** _TONE
    return float(_ACROSS @ shows / shows.sum()) * SHANK_M / 2
