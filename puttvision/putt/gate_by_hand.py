"""A ball gate that a person pointed at: two pixels, checked before anything is measured with them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.errors import GreenError
from puttvision.green.camera import Camera
from puttvision.green.post_pair import PostPair
from puttvision.green.posts import Post
from puttvision.putt.gate import SPACING_M

Floats = NDArray[np.float64]
Pixel = tuple[float, float]

_BY_HAND_PX = 1.5
"""How well a person points at the foot of a tee."""
_WIDEST_M = 0.5
"""A gate for a putter's head with room on both sides; wider apart than this are no two posts of one gate."""


def check_gate_pixels(gate_px: tuple[Pixel, Pixel], camera: Camera) -> None:
    """Refuse two pixels that cannot be a gate's feet, wherever the ball lies.

    Raises
    ------
    GreenError
        Outside the picture, above the horizon, or too close together or too far apart on the green.
    """
    for u, v in gate_px:
        if not (0 <= u < camera.width and 0 <= v < camera.height):
            raise GreenError(f"--gate {u:g},{v:g} is outside the picture of {camera.width} x {camera.height}")
    feet = camera.to_plane(np.array(gate_px))
    for (u, v), foot in zip(gate_px, feet, strict=True):
        if not np.isfinite(foot).all():
            raise GreenError(f"--gate {u:g},{v:g} lies above the green's horizon")
    apart_m = float(np.hypot(*(feet[1] - feet[0])))
    if not SPACING_M[0] <= apart_m <= _WIDEST_M:
        words = f"{apart_m:.1f} m" if apart_m > 1 else f"{1000 * apart_m:.0f} mm"
        raise GreenError(
            f"--gate: these two places are {words} apart on the green; "
            "point at the feet of the gate's two posts"
        )


def posts_by_hand(gate_px: tuple[Pixel, Pixel], camera: Camera, lie_m: Floats, hole_m: Floats) -> PostPair:
    """The two posts, left and right as seen from the ball.

    Raises GreenError where they do not stand on either side of a line ahead of the ball.
    """
    check_gate_pixels(gate_px, camera)
    line = hole_m - lie_m
    length = float(np.hypot(*line))
    along, right = line / length, np.array([line[1], -line[0]]) / length
    feet = camera.to_plane(np.array(gate_px)) - lie_m
    ahead_m = float(feet.mean(axis=0) @ along)
    if not 0.0 < ahead_m < length:
        where = "behind the ball" if ahead_m <= 0 else "beyond the hole"
        raise GreenError(
            f"--gate: the two places lie {where}; point at the feet of the two posts between ball and hole"
        )
    first, second = (
        Post(foot_px=at, cov_px2=np.eye(2) * _BY_HAND_PX**2, width_px=2.0, height_m=0.035, contrast=10.0)
        for at in gate_px
    )
    sides = feet @ right
    left, right_post = (first, second) if sides[0] < sides[1] else (second, first)
    return PostPair(left=left, right=right_post, cov_px2=np.eye(4) * _BY_HAND_PX**2)
