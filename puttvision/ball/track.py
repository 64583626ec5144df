"""One ball that moves, followed frame by frame with a Kalman filter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.disc import BallFit
from puttvision.ball.follow_settings import FollowSettings
from puttvision.ball.kalman import RollingFilter
from puttvision.ball.look import Earlier, HoleView, Look, Place, apart
from puttvision.ball.shading import Shading
from puttvision.ball.sightings import Lie, Roll, Sighting, mean_lie, sighting
from puttvision.errors import GreenError
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]
State = Literal["rolling", "rest", "lost", "left"]

_JUMP = 8.0
"""Mahalanobis distance of a sighting beyond which the ball has met a post, the rim or another ball."""
_GAP_S, _FEWEST_AFTER_GAP = 0.15, 4
_SETTLED = 6
"""After so many sightings the filter knows how fast the ball is."""
_DOUBT = 6.0
"""Beyond this the best ball nearby is looked for first."""
_BACK = 1.5
"""A post sends a ball back at up to half its speed: so far is it from where it would have been."""
_NOT_FASTER, _UNSURE_M = 1.25, 0.02
"""What turns a ball slows it down: a sighting that would have it this much faster than before, and so far
beyond, is another thing."""


@dataclass(slots=True)
class Track:
    """A ball under way; ``step`` takes it through the frames."""

    lie: Lie
    lie_m: Place
    filter: RollingFilter
    earlier: Earlier
    """A frame from before the ball left."""
    last_seen_s: float
    shading: Shading
    hole: HoleView | None
    sightings: list[Sighting] = field(default_factory=list)
    recent: list[tuple[float, BallFit]] = field(default_factory=list)
    """Fits of the last moments."""
    covered: list[tuple[float, float]] = field(default_factory=list)
    """Time and ``HoleView.covered``."""
    farthest_m: float = 0.0
    most_m_s: float = np.inf
    """It goes no faster than this."""

    @property
    def at_m(self) -> Place:
        """Where the filter has the ball."""
        at = self.filter.at_m
        return float(at[0]), float(at[1])

    @property
    def rested(self) -> Lie:
        """The lie of a ball that has come to rest: the mean of its last fits."""
        return mean_lie(self.recent)

    def step(
        self, look: Look, settings: FollowSettings, luma: Plane, time_s: float, taken: Sequence[Place]
    ) -> State:
        """One frame on. ``taken``: where other balls are."""
        if self._glides(look, settings, time_s):
            return "rolling"
        dt = time_s - self.filter.time_s
        self.filter.predict(time_s)
        if self.hole is not None:
            self.covered.append((time_s, self.hole.covered(luma, look.lying)))
        at_px = look.camera.project([*self.at_m, BALL_RADIUS_M])
        height, width = luma.shape
        if not (0 <= at_px[0] < width and 0 <= at_px[1] < height):
            return "left"
        spread = float(np.sqrt(np.trace(self.filter.place_cov_m2)))
        speed = self.filter.speed_m_s
        smear_m = self.filter.velocity_m_s * settings.exposure_s
        reach_px = float(np.clip(2.5 + 2 * self._spread_px(look), 3.0, 5.0))
        fit = look.at(luma, self.at_m, reach_px, smear_m, self.shading, expected=True)
        if fit is not None and any(apart(fit.at_m, other) < BALL_RADIUS_M for other in taken):
            fit = None
        cov_m2 = None if fit is None else look.cov_m2(fit)
        if fit is None or cov_m2 is None or self.filter.distance(np.array(fit.at_m), cov_m2) > _DOUBT:
            since_s = time_s - self.last_seen_s
            reach_m = min(0.3, 3 * spread + _BACK * speed * since_s + 0.01)
            fits = look.newly_there(
                luma, self.earlier, self.at_m, reach_m,
                shading=self.shading, smear_m=smear_m, taken=taken,
            )  # fmt: skip
            fit = fits[0] if fits else None
            cov_m2 = None if fit is None else look.cov_m2(fit)
        if fit is None or cov_m2 is None or self._springs(fit, cov_m2, time_s, dt):
            early = self.farthest_m <= settings.travel_m
            lost_s = settings.lost_early_s if early else settings.lost_s
            return "lost" if time_s - self.last_seen_s > lost_s else "rolling"
        self.accept(settings, fit, time_s, cov_m2)
        return "rest" if self._lies(look, settings, fit, time_s) else "rolling"

    def _glides(self, look: Look, settings: FollowSettings, time_s: float) -> bool:
        """Whether the ball was seen just now and is far from where anything can happen to it."""
        if time_s - self.last_seen_s > settings.glide_s or self.farthest_m < settings.thorough_m:
            return False
        return self.hole is None or not self.hole.is_near(look.camera.project([*self.at_m, BALL_RADIUS_M]))

    def _spread_px(self, look: Look) -> float:
        """How far off in the picture the ball may be, the longer axis of the filter's spread as seen."""
        try:
            m_per_px = look.camera.plane_jacobian(self.at_m, BALL_RADIUS_M)
        except GreenError:
            return np.inf
        px_per_m = np.linalg.inv(m_per_px)
        (xx, xy), (_, yy) = (px_per_m @ self.filter.place_cov_m2 @ px_per_m.T).tolist()
        return sqrt((xx + yy) / 2 + hypot((xx - yy) / 2, xy))

    def _springs(self, fit: BallFit, cov_m2: Floats, time_s: float, frame_s: float) -> bool:
        """Whether a sighting after a knock, or after the ball was out of sight, lies farther on than it can
        have rolled since."""
        unseen_s = time_s - self.last_seen_s
        seen_just_now = unseen_s < 1.5 * frame_s
        if seen_just_now and self.filter.distance(np.array(fit.at_m), cov_m2) <= _JUMP:
            return False
        could_m = _NOT_FASTER * self.most_m_s * unseen_s + _UNSURE_M
        return apart(fit.at_m, self.recent[-1][1].at_m) > could_m + 3 * sqrt(float(np.trace(cov_m2)))

    def accept(self, settings: FollowSettings, fit: BallFit, time_s: float, cov_m2: Floats) -> None:
        """Take in a sighting; ``cov_m2`` shape (2, 2), of its place on the plane."""
        place = np.array(fit.at_m)
        if len(self.sightings) > 2 and self.filter.distance(place, cov_m2) > _JUMP:
            self.filter.restart(place, cov_m2, u_speed_m_s=1.0)
        else:
            self.filter.correct(place, cov_m2)
        self.sightings.append(sighting(time_s, fit))
        self.recent.append((time_s, fit))
        self.recent = [r for r in self.recent if time_s - r[0] <= settings.rest_s + 0.1]
        self.last_seen_s = time_s
        self.farthest_m = max(self.farthest_m, apart(fit.at_m, self.lie_m))
        if len(self.sightings) >= _SETTLED:
            self.most_m_s = min(self.most_m_s, self.filter.speed_m_s + 2 * self.filter.u_speed_m_s)

    def _lies(self, look: Look, settings: FollowSettings, fit: BallFit, time_s: float) -> bool:
        """Whether the ball has come to rest."""
        if time_s - self.recent[0][0] < settings.rest_s or len(self.recent) < 4:
            return False
        places = np.array([fit.at_m for _, fit in self.recent])
        moved = float(np.ptp(places, axis=0).max())
        return moved <= settings.rest_m or moved <= 4 * float(np.sqrt(look.cov_m2(fit).max()))

    def roll(self, how: Literal["rest", "lost", "left"]) -> Roll:
        """What was seen, at the end; what little was seen after a long gap may be something else."""
        times = [s.time_s for s in self.sightings]
        gaps = [i for i in range(1, len(times)) if times[i] - times[i - 1] > _GAP_S]
        end = len(times)
        if how == "lost" and gaps and end - gaps[-1] < _FEWEST_AFTER_GAP:
            end = gaps[-1]
        return Roll(
            start=self.lie,
            sightings=tuple(self.sightings[:end]),
            end=how,
            rest=self.rested if how == "rest" else None,
            hole_covered=tuple(self.covered),
        )
