"""The two posts of a gate together: where both stand, and what their feet may be off by in common."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from puttvision.green.camera import Camera
from puttvision.green.posts import Post
from puttvision.green.spread import principal_steps

Floats = NDArray[np.float64]

U_BLADES_M = 0.001
"""Blades of grass hide the feet of both posts alike, up to a height that is known to about so much."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PostPair:
    """Two posts that make a gate, left and right as seen from the ball."""

    left: Post
    right: Post
    cov_px2: Floats
    """Shape (4, 4), of the left foot and the right one together."""

    @property
    def posts(self) -> tuple[Post, Post]:
        """Left, right."""
        return self.left, self.right

    @property
    def feet_px(self) -> Floats:
        """Shape (2, 2)."""
        return np.array([self.left.foot_px, self.right.foot_px])

    def varied_px(self) -> Floats:
        """Both feet moved by one standard deviation along each principal axis, shape (4, 2, 2)."""
        return np.asarray(self.feet_px + principal_steps(self.cov_px2).reshape(4, 2, 2))

    def moved(self, feet_px: Floats, cov_px2: Floats) -> PostPair:
        """The same posts with feet elsewhere, shapes (2, 2) and (4, 4)."""
        left, right = (
            replace(post, foot_px=(float(x), float(y)), cov_px2=cov_px2[2 * i : 2 * i + 2, 2 * i : 2 * i + 2])
            for i, (post, (x, y)) in enumerate(zip(self.posts, feet_px, strict=True))
        )
        return PostPair(left=left, right=right, cov_px2=cov_px2)


def pair_of(left: Post, right: Post, camera: Camera) -> PostPair:
    """Two posts, each fitted by itself, that stand in the same grass."""
    feet_px = np.array([left.foot_px, right.foot_px])
    cov = common_cov_px2(feet_px, camera, U_BLADES_M)
    for i, post in enumerate((left, right)):
        cov[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += post.cov_px2
    return PostPair(left=left, right=right, cov_px2=cov)


def common_cov_px2(feet_px: Floats, camera: Camera, u_level_m: float) -> Floats:
    """Covariance, shape (4, 4), of two feet, shape (2, 2), seen at a level that is off alike for both."""
    # a foot seen at the blades' tips lies nearer to the camera than it looks
    nearer_m = np.column_stack([camera.to_plane(feet_px, u_level_m), np.zeros(2)])
    off_px = (camera.project(nearer_m) - feet_px).ravel()
    return np.outer(off_px, off_px)
