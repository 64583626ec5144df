"""A ball that is no longer seen at its place: waiting for it, or catching it as it rolls away.

Around a ball that has just been struck, the putter's head, a shoe or a tee may look like a ball for a
frame. One sighting proves nothing; two must lie on one straight line from the ball's place, at a
speed that puts its departure between when it was last seen there and now, and what starts so must go
on like a ball for a hand's breadth. Several such beginnings are followed side by side: the ball, being
faster than what struck it, gets there first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.disc import BallFit
from puttvision.ball.finder import NoBall
from puttvision.ball.follow_settings import FollowSettings
from puttvision.ball.kalman import RollingFilter
from puttvision.ball.look import Earlier, HoleView, Look, Place, apart
from puttvision.ball.shading import Shading
from puttvision.ball.sightings import Lie
from puttvision.ball.track import Track
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]

_PAIR_FRAMES = 5
"""Two sightings that begin a roll are at most so many frames apart."""
_MOST_YOUNG = 3
_MOST_OTHERS = 24
_U_PLACE_M = 0.003
"""A fit beside a putter or under a hand is good to a few millimetres."""
_FAR_NEARER = 0.5
_MOST_SMEAR_SHARE = 0.3
_LATE_S = 0.03
"""A small ball's first move, half its width, passes for it still lying there."""
_EARLY_S = 0.05
"""The patch of a ball begins to change a moment before the ball is touched."""


@dataclass(slots=True)
class Departure:
    """The search for one ball that has left its place, or is hidden there."""

    lie: Lie
    lie_m: Place
    earlier: Earlier
    last_seen_s: float
    shading: Shading
    hole: HoleView | None
    hue: Floats | None = None
    """Of the ball as it lay, shape (2,); None where luma shows it."""
    seen: list[tuple[float, list[BallFit]]] = field(default_factory=list)
    young: list[Track] = field(default_factory=list)
    others: list[NoBall] = field(default_factory=list)
    """Patches nearby that are no balls: shoes, a putter's head at rest."""
    n_steps: int = 0
    looked_s: float = -1.0

    def step(
        self, look: Look, settings: FollowSettings, luma: Plane, time_s: float, taken: Sequence[Place]
    ) -> Track | None:
        """One frame on; gives the track of the ball once it is sure to be rolling."""
        self.young = [
            track for track in self.young if track.step(look, settings, luma, time_s, taken) == "rolling"
        ]
        self._part()
        self.n_steps += 1
        if not self.young and not self._due(settings, time_s):
            return None
        self.looked_s = time_s
        since_s = time_s - self.last_seen_s
        reach_m = min(settings.search_m, settings.fastest_m_s * (since_s + _LATE_S) + 0.01)
        fits = [
            fit
            for fit in look.newly_there(
                luma,
                self.earlier,
                self.lie_m,
                reach_m,
                shading=self.shading,
                smear_share=min(settings.exposure_s / since_s, _MOST_SMEAR_SHARE),
                taken=taken,
                others=self.others,
                hue=self.hue,
            )
            if apart(fit.at_m, self.lie_m) > settings.still_m
        ]
        for fit in fits:
            if len(self.young) < _MOST_YOUNG:
                self._begin(look, settings, fit, time_s, taken)
        self.others = self.others[-_MOST_OTHERS:]
        self.seen = [*self.seen[1 - _PAIR_FRAMES :], (time_s, fits)]
        for track in self.young:
            if track.farthest_m > settings.travel_m and len(track.sightings) >= 4:
                return track
        return None

    def _due(self, settings: FollowSettings, time_s: float) -> bool:
        """Whether to look in this frame: the longer the player hides the ball, in the fewer."""
        unseen_s = time_s - self.last_seen_s
        if unseen_s > settings.patient_s:
            return time_s - self.looked_s > settings.glance_s
        return unseen_s <= settings.keen_s or self.n_steps % 2 == 0

    def _begin(
        self, look: Look, settings: FollowSettings, fit: BallFit, time_s: float, taken: Sequence[Place]
    ) -> None:
        """Start a track with this sighting and an earlier one, if they make the beginning of a roll."""
        if any(apart(fit.at_m, track.at_m) < BALL_RADIUS_M for track in self.young):
            return
        for before_s, fits in reversed(self.seen):
            for before in fits:
                if self._is_anothers(before.at_m, taken):
                    continue
                if departs(
                    self.lie_m, self.last_seen_s, (before_s, before.at_m), (time_s, fit.at_m), settings
                ):
                    rolling = RollingFilter(
                        before_s - 1e-6, np.array(before.at_m), look.cov_m2(before), u_speed_m_s=2.5
                    )
                    track = Track(
                        self.lie, self.lie_m, rolling, self.earlier, before_s, self.shading, self.hole
                    )
                    for at_s, seen in ((before_s, before), (time_s, fit)):
                        track.filter.predict(at_s)
                        track.accept(settings, seen, at_s, look.cov_m2(seen))
                    self.young.append(track)
                    return

    def _is_anothers(self, at_m: Place, taken: Sequence[Place]) -> bool:
        """Whether what is first seen here left from where another ball lay: far nearer to it than to this."""
        own_m = apart(at_m, self.lie_m)
        return any(apart(at_m, other) < _FAR_NEARER * own_m for other in taken)

    def _part(self) -> None:
        """Where two tracks have run into one ball, keep the longer."""
        kept: list[Track] = []
        for track in sorted(self.young, key=lambda track: -len(track.sightings)):
            if all(apart(track.at_m, other.at_m) > BALL_RADIUS_M / 2 for other in kept):
                kept.append(track)
        self.young = kept


def departs(
    lie_m: Place,
    last_seen_s: float,
    first: tuple[float, Place],
    second: tuple[float, Place],
    settings: FollowSettings,
) -> bool:
    """Whether two sightings (time, place) can be a ball that left its lie after it was last seen there."""
    (t1, p1), (t2, p2) = first, second
    step = np.subtract(p2, p1)
    gone = np.subtract(p1, lie_m)
    length = float(np.hypot(*step))
    if t2 <= t1 or length < 1e-6:
        return False
    speed = length / (t2 - t1)
    if not settings.slowest_m_s < speed < settings.fastest_m_s:
        return False
    way = step / length
    along, aside = float(gone @ way), float(gone[0] * way[1] - gone[1] * way[0])
    # the line through both, carried back to the lie, is as unsure as the lever is long
    allowed = 3 * _U_PLACE_M * (1 + 2 * max(along, 0.0) / length)
    if abs(aside) > allowed or along < -allowed:
        return False
    left_s = t1 - along / speed
    unsure_s = allowed / speed
    return last_seen_s - _EARLY_S - unsure_s <= left_s <= t1 + unsure_s
