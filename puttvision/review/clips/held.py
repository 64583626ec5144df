"""The film of a putt held still: every frame as the camera saw the green when the putt began.

A drawing is worked out once a putt, for one place of the camera. Where the tripod sways or is bumped
meanwhile, the frame is brought back to that place, so that nothing drawn slides on the green.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.review.perspective import Ground, displaced_px, homography
from puttvision.scene import Moved

Plane = NDArray[np.uint8]
Floats = NDArray[np.float64]

_NO_MOTION_PX = 0.1
"""A frame displaced by less is left as it was filmed."""


@dataclass(slots=True)
class Held:
    """Holds the film to where the camera of ``ground`` was."""

    ground: Ground
    _of: Moved | None = None
    _now: Floats | None = None

    def __post_init__(self) -> None:
        self._of = self.ground.moved

    def at(self, time_s: float) -> Floats | None:
        """Pixels of the held film to those of the frame at a time, shape (3, 3); None where alike."""
        moved = self.ground.scene.moved_at(time_s)
        if moved != self._of:
            self._of = moved
            begin, now = (homography(self.ground.camera, one) for one in (self.ground.moved, moved))
            alike = displaced_px(self.ground.camera, begin, now) < _NO_MOTION_PX
            self._now = None if alike else now @ np.linalg.inv(begin)
        return self._now


def brought_back(plane: Plane, from_px: Floats, scale: float) -> Plane:
    """A plane of the frame, ``scale`` times the film, as the held film has it."""
    # pixels are counted from the middle of the first one
    to_plane = np.array([[scale, 0, scale / 2 - 0.5], [0, scale, scale / 2 - 0.5], [0, 0, 1]])
    warp = to_plane @ from_px @ np.linalg.inv(to_plane)
    size = (plane.shape[1], plane.shape[0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP  # a third of the time of a cubic one
    return np.asarray(cv2.warpPerspective(plane, warp, size, flags=flags, borderMode=cv2.BORDER_REPLICATE))
