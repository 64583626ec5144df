"""The ball gate that stands between a ball's place and the hole."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.light import Light
from puttvision.green.camera import Camera
from puttvision.green.cast_shadow import with_shadows
from puttvision.green.post_pair import PostPair, pair_of
from puttvision.green.post_shading import off_lit_side
from puttvision.green.posts import find_posts
from puttvision.green.still import StillPicture
from puttvision.putt.gate import choose_gate

Floats = NDArray[np.float64]


def gate_region(lie_m: Floats, hole_m: Floats) -> Floats:
    """Where posts are looked for, corners (4, 2): beside and ahead of the ball, not near the hole."""
    line = hole_m - lie_m
    length = float(np.hypot(*line))
    along, right = line / length, np.array([line[1], -line[0]]) / length
    ahead = min(1.3, 0.7 * length)
    return np.array(
        [
            lie_m + along * a + right * r
            for a, r in ((0.08, -0.17), (ahead, -0.17), (ahead, 0.17), (0.08, 0.17))
        ]
    )


def find_ball_gate(
    still: StillPicture,
    camera: Camera,
    lie_m: Floats,
    hole_m: Floats,
    light: Light | None = None,
) -> PostPair | None:
    """The gate's posts with their feet as posts and shadows show them; None where no gate stands.

    ``light``: on the clip's balls.
    """
    posts = find_posts(still, camera, gate_region(lie_m, hole_m))
    chosen = choose_gate(posts, camera, lie_m, hole_m)
    if chosen is None:
        return None
    return placed_in_light(still, camera, pair_of(*chosen, camera), light)


def placed_in_light(still: StillPicture, camera: Camera, pair: PostPair, light: Light | None) -> PostPair:
    """A pair of posts with their feet where light and shadows say, under the light on the clip's balls."""
    if light is None:
        return with_shadows(still, camera, pair)
    pair = off_lit_side(pair, camera, light.shading.sun, light.shading.lights)
    # dark strips under an overcast sky are no shadows
    return pair if light.sun is None else with_shadows(still, camera, pair, light.sun)
