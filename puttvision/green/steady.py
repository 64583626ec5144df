"""A picture that stays where it was: frames of a nudged or bumped tripod as seen from where it stood.

While nothing moves, an anchor is glanced at in every other frame and the frames pass as they are. When
an anchor stirs, the camera's motion is solved from all anchors in each frame, and the frame is drawn anew
as the reference camera would have seen it: exact for balls on the green, whatever the motion was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.green.anchors import Anchor, choose_anchors, find_again, glance
from puttvision.green.camera import Camera
from puttvision.green.motion import STILL, Motion, View, ball_plane, near_green, solve_motion, view_of
from puttvision.green.search import search_points

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_GLANCE_EVERY = 2
"""An anchor is glanced at in every such frame, and in every one while anchors are hidden."""
_STIR_PX = 0.25
"""An anchor that seems to have moved by more calls for a closer look."""
_NO_MOTION_PX = 0.1
"""A picture displaced by less is left as it is: drawing it anew would blur it more than it mends."""
_NOISE_PX = 0.08
"""Anchors that have moved by less in the median have not moved."""
_CALM_S = 0.5
_DOUBT_S = 1.0
_CALM_PX = 0.1
_LASTING_PX = 0.12
"""An anchor that is farther from its place in one sample of five is a person's, or a shadow's."""
_CANDIDATES, _MOST = 36, 14
_FEWEST, _FEWEST_FOR_BUMP = 5, 6
"""Anchors that must be found again: turn and shift are six unknowns."""
_U_TURN_RAD = 0.1
_U_SWAY_M = 0.001
"""A tripod that sways turns more than it shifts."""
_U_BUMP_M = 0.3
_BUMP_MISFIT_PX = 0.2
"""What a turn does not explain better than this: the tripod stands elsewhere, or people hide anchors."""
_SETTLE_LOOKS = 12
"""The new place of a bumped tripod is the mean of so many frames."""
_SWAY_WORTH_TELLING_PX = 0.3
_MOVE_PX = 0.2
"""A displacement by more is written down: a tenth of what an overlay may be off."""
_HIDDEN_IN_A_ROW = 2
_SEARCH_EVERY_S = 0.3
_BUMP_PX, _ONE_BUMP_S = 8.0, 1.0
"""A step of the whole picture that is worth telling, once for as long as it shakes."""


@dataclass(slots=True)
class Unsteadiness:
    """What became of the camera."""

    most_px: float = 0.0
    """Farthest displacement of the picture that was followed."""
    bumps_s: list[float] = field(default_factory=list)
    """Times from which on the tripod stood elsewhere."""
    n_lost: int = 0
    """Frames that could not be matched and were left out."""
    moves: list[tuple[float, Motion]] = field(default_factory=list)
    """From which times on the camera was where, to ``_MOVE_PX``; empty while it stands."""

    def words(self) -> list[str]:
        """What is worth telling, one line each."""
        told = [
            f"the tripod was moved at {time_s:.1f} s: what follows is measured from where it stood then"
            for time_s in self.bumps_s
        ]
        if not told and self.most_px > _SWAY_WORTH_TELLING_PX:
            told.append(f"the tripod swayed, by up to {self.most_px:.1f} pixels: the sway was followed")
        if self.n_lost:
            told.append(f"{self.n_lost} frames could not be matched with the others and were left out")
        return told


class Steadier:
    """Give it frames in order; it gives back what the reference camera would have seen."""

    def __init__(self, still: Plane, camera: Camera, samples: Sequence[Plane] = ()) -> None:
        self.found = Unsteadiness()
        self._still = still
        self._near_green = near_green(camera)
        candidates = choose_anchors(still, self._near_green, most=_CANDIDATES)
        chosen = _lasting(candidates, samples)[:_MOST]
        at_px = np.array([anchor.at_px for anchor in chosen]).reshape(-1, 2)
        self._view, near = view_of(camera, at_px)
        self._anchors: list[Anchor] = [anchor for anchor, ok in zip(chosen, near, strict=True) if ok]
        self._plane = ball_plane(camera)
        self._camera = camera
        self._motion, self._base, self._n_base = STILL, STILL, _SETTLE_LOOKS
        self._expected = self._view.pixels(STILL)
        self._warp: Floats | None = None
        self._calm, self._recent = True, [(0.0, STILL)]
        self._turn, self._n_hidden, self._searched_s = 0, 0, -1.0
        self._n_glances = 0
        self._doubted_until_s = [-1.0] * len(self._anchors)

    @property
    def warp(self) -> Floats | None:
        """From the reference camera's picture to the last frame, (3, 3); None where it has not moved."""
        return self._warp

    def view(self, luma: Plane, time_s: float) -> Plane | None:
        """A frame as seen by the reference camera, shape (h, w); None where it cannot be matched."""
        if len(self._anchors) < _FEWEST:
            return luma
        stirs = not self._calm or self._stirs(luma, time_s)
        if stirs and not self._follow(luma, time_s):
            self.found.n_lost += 1
            return None
        if self._warp is None:
            return luma
        size = (luma.shape[1], luma.shape[0])
        flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        drawn = cv2.warpPerspective(luma, self._warp, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(drawn, np.uint8)

    def moved_px(self, luma: Plane) -> float | None:
        """How far anchors stand from their places in a frame, in the median; None where too few are seen."""
        shifts = [find_again(anchor, luma, anchor.at_px) for anchor in self._anchors]
        lengths = [float(np.hypot(*shift.by_px)) for shift in shifts if shift is not None]
        if len(lengths) >= _FEWEST:
            return float(np.median(lengths))
        found = search_points(self._still, luma, self._near_green)
        return None if found is None else float(np.median(np.hypot(*(found[1] - found[0]).T)))

    def _stirs(self, luma: Plane, time_s: float) -> bool:
        """Whether the next anchor in turn is elsewhere, or several in turn are not to be seen."""
        self._n_glances += 1
        if self._n_glances % _GLANCE_EVERY and not self._n_hidden:
            return False
        self._turn = (self._turn + 1) % len(self._anchors)
        shift_px = glance(self._anchors[self._turn], luma, self._expected[self._turn])
        if shift_px is not None:
            self._n_hidden = 0
            # one that cried wolf, a shadow perhaps, is not believed for a while
            stirs = shift_px > _STIR_PX and time_s > self._doubted_until_s[self._turn]
            if stirs:
                self._doubted_until_s[self._turn] = time_s + _DOUBT_S
            return stirs
        self._n_hidden += 1
        return self._n_hidden >= _HIDDEN_IN_A_ROW and time_s - self._searched_s > _SEARCH_EVERY_S

    def _follow(self, luma: Plane, time_s: float) -> bool:
        """Solve the motion in this frame; False where it is lost."""
        motion = self._matched(luma)
        if motion is None:
            # people before the anchors, or a picture that is being shaken
            return self._calm
        step_px = self._apart(self._motion, motion)
        if self._calm and step_px < _CALM_PX:
            self._searched_s, self._n_hidden = time_s, 0
            return True  # one anchor stirred, or people hide some: not the camera
        bumps = self.found.bumps_s
        if step_px > _BUMP_PX and not (bumps and time_s - bumps[-1] < _ONE_BUMP_S):
            bumps.append(time_s)
        self._recent = [(s, m) for s, m in self._recent if time_s - s <= _CALM_S] + [(time_s, motion)]
        self._calm = (
            time_s - self._recent[0][0] > 0.8 * _CALM_S
            and self._n_base >= _SETTLE_LOOKS
            and all(self._apart(other, motion) < _CALM_PX for _, other in self._recent)
        )
        self._hold(_mean([m for _, m in self._recent]) if self._calm else motion, time_s)
        return True

    def _matched(self, luma: Plane) -> Motion | None:
        motion = self._tracked(luma, self._expected, calm=self._calm)
        return self._searched(luma) if motion is None else motion

    def _hold(self, motion: Motion, time_s: float) -> None:
        self._motion = motion
        moves = self.found.moves
        if self._apart(moves[-1][1] if moves else STILL, motion) > _MOVE_PX:
            moves.append((time_s, motion))
        self._expected = self._view.pixels(motion)
        displaced = self._plane.displaced_px(motion)
        self.found.most_px = max(self.found.most_px, displaced)
        self._warp = None if displaced < _NO_MOTION_PX else self._plane.homography(motion)

    def _apart(self, one: Motion, other: Motion) -> float:
        away = self._plane.view.pixels(one) - self._plane.view.pixels(other)
        return float(np.sqrt((away * away).sum(axis=1).max()))

    def _tracked(self, luma: Plane, expected_px: Floats, *, calm: bool) -> Motion | None:
        """The motion from the anchors near where they are expected."""
        shifts = [
            find_again(anchor, luma, expected)
            for anchor, expected in zip(self._anchors, expected_px, strict=True)
        ]
        seen = np.array([shift is not None for shift in shifts])
        if np.count_nonzero(seen) < max(_FEWEST, len(seen) // 3):
            return None
        by_px = np.array([shift.by_px for shift in shifts if shift is not None])
        if calm and float(np.median(np.hypot(by_px[:, 0], by_px[:, 1]))) < _NOISE_PX:
            return self._motion
        at_px = expected_px[seen] + by_px
        return self._solved(self._view.part(seen), at_px)

    def _solved(self, view: View, at_px: Floats) -> Motion | None:
        """A turn about where the tripod stands, or, where that does not explain it, a new stand."""
        if self._n_base >= _SETTLE_LOOKS:
            guess = Motion(self._motion.turn_rad, self._base.shift_m)
            motion, misfit = solve_motion(view, at_px, guess, u_turn_rad=_U_TURN_RAD, u_shift_m=_U_SWAY_M)
            if misfit < _BUMP_MISFIT_PX:
                return motion
        if len(at_px) < _FEWEST_FOR_BUMP:
            return None
        motion, misfit = solve_motion(view, at_px, self._motion, u_turn_rad=_U_TURN_RAD, u_shift_m=_U_BUMP_M)
        if misfit > _BUMP_MISFIT_PX:
            return None
        if self._n_base >= _SETTLE_LOOKS:
            self._n_base = 0
        share = 1 / (self._n_base + 1)
        self._base = Motion(motion.turn_rad, (1 - share) * self._base.shift_m + share * motion.shift_m)
        self._n_base += 1
        return motion

    def _searched(self, luma: Plane) -> Motion | None:
        """The motion from a search over the whole picture."""
        # a hedge behind the green has more to hold on to, and moves otherwise
        found = search_points(self._still, luma, self._near_green)
        if found is None:
            return None
        before_px, now_px = found
        view, near = view_of(self._camera, before_px)
        if np.count_nonzero(near) < _FEWEST:
            return None
        rough, misfit = solve_motion(
            view, now_px[near], self._motion, u_turn_rad=_U_TURN_RAD, u_shift_m=_U_BUMP_M
        )
        if misfit > 3.0:
            return None
        return self._tracked(luma, self._view.pixels(rough), calm=False)


def _mean(motions: Sequence[Motion]) -> Motion:
    return Motion(
        np.mean([motion.turn_rad for motion in motions], axis=0),
        np.mean([motion.shift_m for motion in motions], axis=0),
    )


def _lasting(anchors: Sequence[Anchor], samples: Sequence[Plane]) -> list[Anchor]:
    """Anchors that stay in their place in the samples: what stands, not who stood there."""
    if not samples:
        return list(anchors)
    kept = []
    for anchor in anchors:
        found = [find_again(anchor, luma, anchor.at_px) for luma in samples]
        lengths = sorted(float(np.hypot(*shift.by_px)) for shift in found if shift is not None)
        if 2 * len(lengths) > len(samples) and lengths[int(0.8 * len(lengths))] < _LASTING_PX:
            kept.append(anchor)
    return kept
