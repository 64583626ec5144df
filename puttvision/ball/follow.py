"""Following balls through a clip, frame by frame, with memory that does not grow.

Balls at rest are looked for a few times a second; each one's little patch of picture is watched in
every frame. When it changes and the ball is no longer there, a ``Departure`` waits for it or catches
it on its way; a ``Track`` follows it till it rests, leaves the picture or is lost.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.bright_part import ALL_WHOLE, BrightParts
from puttvision.ball.colour import FrameColour
from puttvision.ball.departure import Departure
from puttvision.ball.disc import BallFit
from puttvision.ball.finder import (
    REACH_PX,
    FinderSettings,
    NoBall,
    about_changes,
    ball_radius_px,
    find_balls,
    shrunk,
)
from puttvision.ball.follow_settings import FollowSettings
from puttvision.ball.look import Earlier, HoleView, Look, Place, apart
from puttvision.ball.resting import Resting, as_bright, is_bare
from puttvision.ball.shading import Shading
from puttvision.ball.sightings import Lie, Roll, mean_lie
from puttvision.ball.template import LEAST_ALIKE, WELL_ALIKE, BallTemplates
from puttvision.ball.track import Track
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Plane = NDArray[np.uint8]
Floats = NDArray[np.float64]


_STILL_SIGMA = 3.0
"""A ball at rest is fitted within so many deviations of where it lay."""
_LAY_PX = 3.0
"""A ball at rest is looked for within so much of where it lay."""
_COMES_M = 4 * BALL_RADIUS_M
"""A ball followed to within so much of another's place takes that place, or lies beside it."""


class BallFollower:
    """Feed it frames in order; take finished rolls out of it."""

    def __init__(
        self,
        camera: Camera,
        table: NDArray[np.float32],
        *,
        shading: Shading | None = None,
        hole: HoleView | None = None,
        within: Plane | None = None,
        part: BrightParts = ALL_WHOLE,
        luma_shows: bool = False,
        templates: BallTemplates | None = None,
        settings: FollowSettings | None = None,
        finder: FinderSettings | None = None,
    ) -> None:
        self.camera = camera
        self._look = Look(
            camera=camera, table=table, shading=shading, finder=finder or FinderSettings(), part=part,
            luma_shows=luma_shows,
        )  # fmt: skip
        self._hole = hole
        self._templates = templates
        self._settings = settings or FollowSettings()
        self._resting: list[Resting] = []
        self._tracks: list[Track] = []
        self._rolls: list[Roll] = []
        self._earlier: list[tuple[float, Earlier]] = []
        self._next_scan_s = self._next_whole_s = -1.0
        self._searched: Plane | None = None
        """The last picture searched, shrunk."""
        self._found: list[Lie] = []
        self._candidates: list[tuple[float, BallFit]] = []
        self._no_balls: list[tuple[float, NoBall]] = []
        self._doubtful: list[tuple[float, NoBall]] = []
        self._waiting_px: list[Floats] = []
        """Patches whose turn to be looked at did not come in the last search."""
        self._field = within

    def feed(self, luma: Plane, time_s: float, colour: FrameColour | None = None) -> None:
        """Take in the next frame; ``luma`` shape (h, w), need not live on after the call."""
        lying = tuple(resting.box for resting in self._resting if resting.gone_as is None)
        self._look = replace(self._look, colour=colour, lying=lying)
        for track in list(self._tracks):
            taken = self._taken(track)
            state = track.step(self._look, self._settings, luma, time_s, taken)
            if state != "rolling":
                self._tracks.remove(track)
                self._end(track, state)
                clear = [recent for recent in track.recent if recent[1].clear]
                if state == "rest" and clear:
                    self._lay(clear[-1:], luma, time_s)
        self._resting = [resting for resting in self._resting if self._watch(resting, luma, time_s)]
        if time_s >= self._next_scan_s:
            self._scan(luma, time_s)
            self._next_scan_s = time_s + self._settings.scan_s
        if not self._earlier or time_s - self._earlier[-1][0] >= self._settings.reference_s:
            kept = luma.copy()
            in_colour = None if self._look.luma_shows or colour is None else colour.kept(kept)
            self._earlier = [*self._earlier[-1:], (time_s, Earlier(kept, in_colour))]

    def take(self) -> list[Roll]:
        """Rolls that have ended since the last call, in the order of their start."""
        done, self._rolls = self._rolls, []
        return sorted(done, key=lambda roll: roll.sightings[0].time_s)

    def finish(self) -> list[Roll]:
        """End of the clip: what is still rolling is lost from sight."""
        for track in self._tracks:
            self._end(track, "lost")
        self._tracks = []
        return self.take()

    def take_found(self) -> list[Lie]:
        """Balls newly found at rest since the last call, other than those that were followed there."""
        found, self._found = self._found, []
        return found

    def _taken(self, own: Track | Resting | None = None) -> list[Place]:
        """Where balls are, other than this one."""
        places = [resting.at_m for resting in self._resting if resting is not own and not resting.gone_as]
        return places + [track.at_m for track in self._tracks if track is not own]

    def _end(self, track: Track, how: Literal["rest", "lost", "left"]) -> None:
        if track.farthest_m > self._settings.travel_m and len(track.sightings) >= 4:
            self._rolls.append(track.roll(how))

    # --- looking for balls at rest -----------------------------------------------------------

    def _scan(self, luma: Plane, time_s: float) -> None:
        settings = self._settings
        for resting in self._resting:
            if resting.leaving is None and not resting.gone_as and len(resting.fits) < settings.lie_fits:
                fit = self._look.at(luma, resting.at_m, _LAY_PX, expected=True)
                if fit and apart(fit.at_m, resting.at_m) < self._still_m(fit):
                    resting.fits.append((time_s, fit))
        # in poor light what is nearly a ball may be one in the very next picture
        again_s = settings.again_s if self._look.luma_shows else 0.0
        due_px = [patch.at_px for since_s, patch in self._doubtful if time_s - since_s >= again_s]
        self._doubtful = [doubt for doubt in self._doubtful if time_s - doubt[0] < again_s]
        self._no_balls = [other for other in self._no_balls if time_s - other[0] < settings.anew_s]
        fresh = self._fresh(luma, time_s, due_px + self._waiting_px)
        find = find_balls(
            luma,
            self.camera,
            lambda at_m: self._ball_near(luma, at_m),
            known_m=self._taken(),
            others=[patch for _, patch in (*self._no_balls, *self._doubtful)],
            settings=self._look.finder,
            within=self._field,
            fresh=fresh,
            small=self._searched,
            part=self._look.part,
            off_grass=self._off_grass(),
        )
        self._waiting_px = find.waiting_px
        self._no_balls = (self._no_balls + [(time_s, patch) for patch in find.others])[-settings.doubts :]
        self._doubtful += [(time_s, patch) for patch in find.doubtful]
        confirmed: list[Place] = []
        for since_s, before in self._candidates:
            fit = self._ball_near(luma, before.at_m, _LAY_PX)
            if fit and apart(fit.at_m, before.at_m) < 2 * self._still_m(fit):
                confirmed.append(fit.at_m)
                self._lay([(since_s, before), (time_s, fit)], luma, time_s)
                self._found.append(mean_lie([(since_s, before)]))
        recent_s = time_s - settings.doubt_s
        self._candidates = [
            (since_s, before)
            for since_s, before in self._candidates
            if since_s > recent_s and not _any_near(before.at_m, confirmed)
        ]
        self._candidates += [(time_s, fit) for fit in find.balls if not _any_near(fit.at_m, confirmed)]

    def _ball_near(self, luma: Plane, at_m: Floats | Place, reach_px: float = REACH_PX) -> BallFit | None:
        """The ball that a bright patch may be."""
        alike = LEAST_ALIKE if self._templates is None else self._templates.likeness(luma, at_m)
        if alike < LEAST_ALIKE:
            return None
        fit = self._look.at(luma, at_m, reach_px)
        if alike > WELL_ALIKE and (fit is None or not fit.clear):
            return self._look.alike(luma, at_m, reach_px) or fit
        return fit

    def _off_grass(self) -> Plane | None:
        """How far the picture searched is from grass by its colour; None where luma shows balls."""
        colour, small = self._look.colour, self._searched
        return None if self._look.luma_shows or colour is None or small is None else colour.off_grass(small)

    def _fresh(self, luma: Plane, time_s: float, due_px: list[Floats]) -> Plane | None:
        """Where a ball may have come since the last search, or a patch is due; None: anywhere."""
        small, before = shrunk(luma), self._searched
        self._searched = small
        if before is None or time_s >= self._next_whole_s:
            self._next_whole_s = time_s + self._settings.anew_s
            return None
        return about_changes(small, before, self._settings.changed_luma, due_px)

    def _still_m(self, fit: BallFit) -> float:
        """A ball at rest is found within this of where it lay; seen flat from afar, a fit jumps by more."""
        return max(self._settings.still_m, _STILL_SIGMA * float(np.sqrt(np.trace(self._look.cov_m2(fit)))))

    def _lay(self, fits: list[tuple[float, BallFit]], luma: Plane, time_s: float) -> None:
        """Watch a ball at rest from now on."""
        at_m = fits[-1][1].at_m
        if any(apart(at_m, r.at_m) < BALL_RADIUS_M for r in self._resting if not r.gone_as):
            return
        box = self._patch_box(fits[-1][1], luma)
        x0, y0, x1, y1 = box
        self._resting.append(
            Resting(fits, box, luma[y0:y1, x0:x1].copy(), time_s, self._look.hue_of(fits[-1][1]))
        )

    def _patch_box(self, fit: BallFit, luma: Plane) -> tuple[int, int, int, int]:
        r = 1.2 * ball_radius_px(self.camera, np.array(fit.at_px))
        x, y = fit.at_px
        return (
            max(0, int(x - r)),
            max(0, int(y - r)),
            min(luma.shape[1], int(x + r) + 2),
            min(luma.shape[0], int(y + r) + 2),
        )

    # --- watching them -----------------------------------------------------------------------

    def _watch(self, resting: Resting, luma: Plane, time_s: float) -> bool:
        """Look at one ball's place; False where there is no ball to watch any more."""
        settings = self._settings
        x0, y0, x1, y1 = resting.box
        patch = luma[y0:y1, x0:x1]
        if resting.gone_as is not None:
            return self._regret(resting, luma, patch, time_s)
        changed = cv2.threshold(
            cv2.absdiff(patch, resting.patch), settings.changed_luma, 1, cv2.THRESH_BINARY
        )[1]
        share = cv2.countNonZero(changed) / changed.size
        if share < settings.watch_share and resting.leaving is None:
            resting.last_seen_s, resting.nudged = time_s, None
            return True
        fit = self._look.at(luma, resting.at_m, _LAY_PX)
        if fit and apart(fit.at_m, resting.at_m) < self._still_m(fit):
            if share < 0.3:
                resting.patch = patch.copy()
            return self._is_there(resting, time_s)
        if fit and self._nudged(resting, fit, luma, time_s):
            return True
        # grass in the sun may be as bright as the ball that lay there in the shade
        if as_bright(patch, resting.patch) and not self._look.is_grass(resting.at_m):
            return self._is_there(resting, time_s)  # in a new light, or half hidden, but there
        if resting.leaving is None:
            resting.leaving = self._departure(resting)
        track = resting.leaving.step(self._look, settings, luma, time_s, self._taken(resting))
        if track is not None:
            self._tracks.append(track)
            resting.leaving, resting.gone_as, resting.gone_s = None, track, time_s
            return True
        return bool(resting.leaving.young) or time_s - resting.last_seen_s < settings.hidden_s

    def _is_there(self, resting: Resting, time_s: float) -> bool:
        resting.last_seen_s, resting.leaving, resting.nudged = time_s, None, None
        return True

    def _nudged(self, resting: Resting, fit: BallFit, luma: Plane, time_s: float) -> bool:
        """Whether the ball lies still at a new place less than its radius away."""
        settings = self._settings
        if resting.nudged is None or apart(resting.nudged[1].at_m, fit.at_m) > self._still_m(fit) / 2:
            resting.nudged = (time_s, fit)
            return False
        if time_s - resting.nudged[0] < settings.settle_s:
            return False
        resting.fits = [resting.nudged, (time_s, fit)]
        resting.box = self._patch_box(fit, luma)
        x0, y0, x1, y1 = resting.box
        resting.patch = luma[y0:y1, x0:x1].copy()
        return self._is_there(resting, time_s)

    def _regret(self, resting: Resting, luma: Plane, patch: Plane, time_s: float) -> bool:
        """For a moment after a ball seemed to roll away: whether it lies at its place all the same."""
        if time_s - resting.gone_s > self._settings.regret_s:
            return False
        if is_bare(patch, resting.patch):
            return False  # what comes here now is another ball
        if not as_bright(patch, resting.patch) or self._look.is_grass(resting.at_m):
            return True
        if any(apart(t.at_m, resting.at_m) < _COMES_M for t in self._tracks if t is not resting.gone_as):
            return False  # another ball is on its way here
        fit = self._look.at(luma, resting.at_m, _LAY_PX)
        if fit and apart(fit.at_m, resting.at_m) < self._still_m(fit):
            self._tracks = [other for other in self._tracks if other is not resting.gone_as]
            resting.gone_as = None
            return self._is_there(resting, time_s)
        return True

    def _departure(self, resting: Resting) -> Departure:
        lie = mean_lie(resting.fits)
        at_m = self.camera.to_plane(lie.at_px, BALL_RADIUS_M)
        return Departure(
            lie=lie,
            lie_m=(float(at_m[0]), float(at_m[1])),
            earlier=self._earlier[0][1] if self._earlier else Earlier(np.zeros((0, 0), np.uint8)),
            last_seen_s=resting.last_seen_s,
            shading=self._look.shading or resting.fits[-1][1].shading,
            hole=self._hole,
            hue=resting.hue,
        )


def _any_near(at_m: Place, places: list[Place]) -> bool:
    return any(apart(at_m, place) < BALL_RADIUS_M for place in places)
