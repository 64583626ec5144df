"""Following balls through a clip, frame by frame, with memory that does not grow.

Balls at rest are looked for a few times a second; each one's little patch of picture is watched in
every frame. When it changes and the ball is no longer there, the ball is followed: where the Kalman
filter expects it, and, where it is not, among all that is newly bright around. A putter, a leg or a
hand that only covers the ball for a while ends in the ball being back at its place.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.disc import BallFit, Shading, fit_ball
from puttvision.ball.finder import (
    FinderSettings,
    NoBall,
    ball_radius_px,
    find_balls,
    round_patches,
)
from puttvision.ball.kalman import RollingFilter
from puttvision.ball.sightings import Lie, Roll, Sighting, mean_lie, sighting
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class FollowSettings:
    """Numbers of the following, each with what it rests on."""

    scan_s: float = 0.25
    """Balls at rest are looked for this often; a player takes seconds over a ball."""
    doubt_s: float = 1.2
    """A ball found once has to be found again at its place within so long."""
    doubts: int = 80
    """So many bright patches that were no balls are remembered and not looked at again."""
    lie_fits: int = 12
    """A ball at rest is fitted so often; more fits of the same pixels tell nothing new."""
    still_m: float = 0.004
    """A ball that lies within this of where it lay has not moved; a fit is good to about 1 mm."""
    changed_luma: int = 18
    """A pixel that differs by more has changed; sensor noise and compression stay below."""
    watch_share: float = 0.07
    """Share of a ball's patch that must have changed to look closer."""
    fastest_m_s: float = 6.0
    """No putt leaves the putter faster: 6 m/s rolls 30 m on an everyday green."""
    exposure_s: float = 0.0025
    """Outdoors a phone exposes for 1/250 s to 1/1000 s; sets the smear that is allowed for."""
    lost_s: float = 0.8
    """A followed ball that stays unseen for so long is lost."""
    hidden_s: float = 3.0
    """A ball that something hides is waited for so long at its place."""
    search_s: float = 0.35
    """A ball that vanished from its place is looked for around it for so long."""
    rest_s: float = 0.35
    rest_m: float = 0.002
    """At rest: within this over that time."""
    travel_m: float = 0.10
    """A roll that went less far is a nudge."""
    reference_s: float = 0.25
    """What is newly bright is told against a frame at least this old."""


@dataclass(slots=True)
class _Resting:
    fits: list[tuple[float, BallFit]]
    box: tuple[int, int, int, int]
    patch: Plane
    last_seen_s: float
    searching: _Track | None = None
    left_as: _Track | None = None
    """The track that began here; until it has gone some way the ball may yet be found at its place."""

    @property
    def at_m(self) -> tuple[float, float]:
        return self.fits[-1][1].at_m


@dataclass(slots=True)
class _Track:
    lie: Lie
    lie_m: tuple[float, float]
    filter: RollingFilter
    reference: Plane
    last_seen_s: float
    shading: Shading
    sightings: list[Sighting] = dataclasses.field(default_factory=list)
    places: list[tuple[float, float, float]] = dataclasses.field(default_factory=list)
    hole: list[tuple[float, float]] = dataclasses.field(default_factory=list)
    farthest_m: float = 0.0


class BallFollower:
    """Feed it frames in order; take finished rolls out of it."""

    def __init__(
        self,
        camera: Camera,
        table: NDArray[np.float32],
        *,
        shading: Shading | None = None,
        hole_box: tuple[int, int, int, int] | None = None,
        within: Plane | None = None,
        settings: FollowSettings | None = None,
        finder: FinderSettings | None = None,
    ) -> None:
        self.camera = camera
        self._table = table
        self._shading = shading
        self._hole_box = hole_box
        self._settings = settings or FollowSettings()
        self._finder = finder or FinderSettings()
        self._resting: list[_Resting] = []
        self._tracks: list[_Track] = []
        self._rolls: list[Roll] = []
        self._references: list[tuple[float, Plane]] = []
        self._next_scan_s = -1.0
        self._before_s = -1.0
        self._found: list[Lie] = []
        self._candidates: list[tuple[float, BallFit]] = []
        self._no_balls: list[NoBall] = []
        self._field = within
        self._n_scans = 0
        self._others: list[_Track] = []

    def feed(self, luma: Plane, time_s: float) -> None:
        """Take in the next frame; ``luma`` shape (h, w), need not live on after the call."""
        tracks, self._tracks = self._tracks, []
        for track in tracks:
            self._others = tracks
            if self._follow(track, luma, time_s):
                self._tracks.append(track)
        self._others = self._tracks
        self._watch(luma, time_s)
        if time_s >= self._next_scan_s:
            self._scan(luma, time_s)
            self._next_scan_s = time_s + self._settings.scan_s
        if not self._references or time_s - self._references[-1][0] >= self._settings.reference_s:
            self._references = [*self._references[-1:], (time_s, luma.copy())]
        self._before_s = time_s

    def take(self) -> list[Roll]:
        """Rolls that have ended since the last call, in the order of their start."""
        done, self._rolls = self._rolls, []
        return sorted(done, key=lambda roll: roll.sightings[0].time_s)

    def finish(self) -> list[Roll]:
        """End of the clip: what is still rolling is lost from sight."""
        for track in self._tracks:
            self._end(track, "lost", None)
        self._tracks = []
        return self.take()

    def take_found(self) -> list[Lie]:
        """Balls newly found at rest since the last call, other than those that were followed there."""
        found, self._found = self._found, []
        return found

    # --- balls at rest -----------------------------------------------------------------------

    def _scan(self, luma: Plane, time_s: float) -> None:
        for resting in self._resting:
            if resting.searching is None and len(resting.fits) < self._settings.lie_fits:
                fit = self._fit(luma, resting.at_m, 3.0)
                if fit and _apart(fit.at_m, resting.at_m) < self._settings.still_m:
                    resting.fits.append((time_s, fit))
        taken = [resting.at_m for resting in self._resting]
        taken += [(float(t.filter.at_m[0]), float(t.filter.at_m[1])) for t in self._tracks]
        find = find_balls(
            luma,
            self.camera,
            self._table,
            shading=self._shading,
            known_m=taken,
            others=self._no_balls,
            settings=self._finder,
            within=self._field,
            skip_others=self._n_scans % 2 != 0,
            most_learnt=1,
        )
        self._n_scans += 1
        self._no_balls = (self._no_balls + find.others)[-self._settings.doubts :]
        seen_again = []
        for since_s, before in self._candidates:
            fit = self._fit(luma, before.at_m, 3.0)
            if fit and _apart(fit.at_m, before.at_m) < 2 * self._settings.still_m:
                seen_again.append(fit)
                self._rest([(since_s, before), (time_s, fit)], luma, time_s)
                self._found.append(mean_lie([(since_s, before)]))
        recent_s = time_s - self._settings.doubt_s
        self._candidates = [
            (since_s, before)
            for since_s, before in self._candidates
            if since_s > recent_s and not _any_near(before.at_m, seen_again)
        ]
        self._candidates += [(time_s, fit) for fit in find.balls if not _any_near(fit.at_m, seen_again)]

    def _rest(self, fits: list[tuple[float, BallFit]], luma: Plane, time_s: float) -> None:
        fit = fits[-1][1]
        if any(_apart(fit.at_m, resting.at_m) < BALL_RADIUS_M for resting in self._resting):
            return
        radius = ball_radius_px(self.camera, np.array(fit.at_px))
        x, y = fit.at_px
        r = radius * 1.2
        x0, y0 = max(0, int(x - r)), max(0, int(y - r))
        x1, y1 = min(luma.shape[1], int(x + r) + 2), min(luma.shape[0], int(y + r) + 2)
        box = (x0, y0, x1, y1)
        self._resting.append(_Resting(fits, box, luma[y0:y1, x0:x1].copy(), time_s))

    def _watch(self, luma: Plane, time_s: float) -> None:
        kept: list[_Resting] = []
        for resting in self._resting:
            if self._still_there(resting, luma, time_s):
                kept.append(resting)
        self._resting = kept

    def _still_there(self, resting: _Resting, luma: Plane, time_s: float) -> bool:
        """Look at one ball's place; False where the ball has left it."""
        x0, y0, x1, y1 = resting.box
        patch = luma[y0:y1, x0:x1]
        if resting.left_as is not None:
            return self._stays(resting, resting.left_as, patch, time_s)
        changed = cv2.threshold(
            cv2.absdiff(patch, resting.patch), self._settings.changed_luma, 1, cv2.THRESH_BINARY
        )[1]
        share = cv2.countNonZero(changed) / changed.size
        if share < self._settings.watch_share and resting.searching is None:
            resting.last_seen_s = time_s
            return True
        fit = self._fit(luma, resting.at_m, 3.0)
        if fit and _apart(fit.at_m, resting.at_m) < self._settings.still_m:
            resting.last_seen_s = time_s
            resting.searching = None
            if share < 0.3:
                resting.patch = patch.copy()
            return True
        if _as_bright(patch, resting.patch):
            resting.last_seen_s = time_s  # in a new light, or half hidden, but there
            resting.searching = None
            return True
        if resting.searching is None:
            resting.searching = self._new_track(resting)
        if self._search(resting.searching, luma, time_s):
            self._others = self._tracks
            self._tracks.append(resting.searching)
            resting.left_as, resting.searching = resting.searching, None
            return True
        gone_s = time_s - resting.last_seen_s
        if gone_s > self._settings.search_s:
            hidden = gone_s < self._settings.hidden_s
            resting.searching = self._new_track(resting) if hidden else None
            return hidden
        return True

    def _stays(self, resting: _Resting, track: _Track, patch: Plane, time_s: float) -> bool:
        """Whether a ball lies at its place though something seems to have rolled away from there."""
        there = _as_bright(patch, resting.patch)
        alive = any(track is other for other in self._tracks)
        if alive and track.farthest_m < self._settings.travel_m:
            return True
        if not there:
            return (
                alive is False
                and track.farthest_m < self._settings.travel_m
                and (time_s - resting.last_seen_s < self._settings.hidden_s)
            )
        self._tracks = [other for other in self._tracks if other is not track]
        resting.left_as, resting.last_seen_s = None, time_s
        return True

    # --- balls that roll ---------------------------------------------------------------------

    def _new_track(self, resting: _Resting) -> _Track:
        fit = resting.fits[-1][1]
        lie = mean_lie(resting.fits)
        at_m = self.camera.to_plane(lie.at_px, BALL_RADIUS_M)
        rolling = RollingFilter(
            max(self._before_s, resting.last_seen_s), at_m, self._cov_m2(fit), u_speed_m_s=2.5
        )
        reference = self._references[0][1] if self._references else np.zeros((0, 0), np.uint8)
        return _Track(
            lie=lie,
            lie_m=(float(at_m[0]), float(at_m[1])),
            filter=rolling,
            reference=reference,
            last_seen_s=resting.last_seen_s,
            shading=fit.shading,
        )

    def _search(self, track: _Track, luma: Plane, time_s: float) -> bool:
        """Look for a ball that has just left its place; True when it is found."""
        since_s = time_s - track.last_seen_s
        reach_m = min(0.5, self._settings.fastest_m_s * since_s + 0.01)
        fit = self._newly_bright(track, luma, track.lie_m, reach_m)
        if fit is None or _apart(fit.at_m, track.lie_m) < self._settings.still_m:
            return False
        track.filter.predict(time_s)
        self._accept(track, fit, time_s)
        return True

    def _follow(self, track: _Track, luma: Plane, time_s: float) -> bool:
        """One frame of a rolling ball; False when the roll has ended."""
        dt = time_s - track.filter.time_s
        track.filter.predict(time_s)
        if self._hole_box is not None and track.reference.size:
            track.hole.append((time_s, self._hole_covered(track, luma)))
        at_m = track.filter.at_m
        at_px = self.camera.project([at_m[0], at_m[1], BALL_RADIUS_M])
        height, width = luma.shape
        if not (0 <= at_px[0] < width and 0 <= at_px[1] < height):
            self._end(track, "left", None)
            return False
        spread = float(np.sqrt(np.trace(track.filter.place_cov_m2)))
        px_per_m = ball_radius_px(self.camera, at_px) / BALL_RADIUS_M
        speed = track.filter.speed_m_s
        smear_px = speed * self._settings.exposure_s * px_per_m
        reach_px = float(np.clip(2.5 + 2 * spread * px_per_m, 3.0, 5.0))
        fit = self._fit(luma, at_m, reach_px, smear_px, track.shading)
        if fit is None or track.filter.distance(np.array(fit.at_m), self._cov_m2(fit)) > 6:
            since_s = time_s - track.last_seen_s
            reach_m = min(0.3, 3 * spread + 0.5 * speed * (dt + since_s) + 0.01)
            fit = self._newly_bright(track, luma, (at_m[0], at_m[1]), reach_m)
        if fit is None:
            lost_s = self._settings.lost_s if track.farthest_m > self._settings.travel_m else 0.3
            if time_s - track.last_seen_s > lost_s:
                self._end(track, "lost", None)
                return False
            return True
        self._accept(track, fit, time_s)
        return not self._come_to_rest(track, fit, luma, time_s)

    def _accept(self, track: _Track, fit: BallFit, time_s: float) -> None:
        cov = self._cov_m2(fit)
        place = np.array(fit.at_m)
        if len(track.sightings) > 2 and track.filter.distance(place, cov) > 8:
            track.filter.restart(place, cov, u_speed_m_s=1.0)  # it met a post, the rim or another ball
        else:
            track.filter.correct(place, cov)
        track.sightings.append(sighting(time_s, fit))
        track.places.append((time_s, *fit.at_m))
        track.places = [p for p in track.places if time_s - p[0] <= self._settings.rest_s + 0.1]
        track.last_seen_s = time_s
        track.farthest_m = max(track.farthest_m, _apart(fit.at_m, track.lie_m))

    def _come_to_rest(self, track: _Track, fit: BallFit, luma: Plane, time_s: float) -> bool:
        oldest = track.places[0]
        if time_s - oldest[0] < self._settings.rest_s or len(track.places) < 4:
            return False
        recent = np.array([p[1:] for p in track.places])
        if np.ptp(recent, axis=0).max() > max(self._settings.rest_m, 4 * np.sqrt(self._cov_m2(fit).max())):
            return False
        n = len(track.places)
        fits = [
            (s.time_s, BallFit(s.at_px, s.cov_px2, s.size_ratio, s.seen, 0.0, fit.at_m, fit.shading))
            for s in track.sightings[-n:]
        ]
        self._end(track, "rest", mean_lie(fits))
        self._rest([(time_s, fit)], luma, time_s)
        return True

    def _end(self, track: _Track, how: Literal["rest", "lost", "left"], rest: Lie | None) -> None:
        if track.farthest_m < self._settings.travel_m or len(track.sightings) < 4:
            return
        self._rolls.append(
            Roll(
                start=track.lie,
                sightings=tuple(track.sightings),
                end=how,
                rest=rest,
                hole_covered=tuple(track.hole),
            )
        )

    # --- pictures ----------------------------------------------------------------------------

    def _fit(
        self,
        luma: Plane,
        at_m: tuple[float, float] | Floats,
        reach_px: float,
        smear_px: float = 0.0,
        shading: Shading | None = None,
    ) -> BallFit | None:
        return fit_ball(
            luma, self.camera, at_m, self._table, smear_px=smear_px, reach_px=reach_px,
            shading=shading or self._shading,
        )  # fmt: skip

    def _newly_bright(
        self, track: _Track, luma: Plane, around_m: tuple[float, float], reach_m: float
    ) -> BallFit | None:
        """The best ball among what is brighter than in the reference, within reach of a place."""
        if track.reference.shape != luma.shape:
            return None
        centre = self.camera.project([around_m[0], around_m[1], BALL_RADIUS_M])
        px_per_m = self.camera.px_per_m([around_m[0], around_m[1], BALL_RADIUS_M])
        r = reach_m * px_per_m + 1.5 * BALL_RADIUS_M * px_per_m
        height, width = luma.shape
        x0, y0 = max(0, int(centre[0] - r)), max(0, int(centre[1] - r))
        x1, y1 = min(width, int(centre[0] + r) + 1), min(height, int(centre[1] + r) + 1)
        if x1 - x0 < 4 or y1 - y0 < 4:
            return None
        fresh = cv2.subtract(luma[y0:y1, x0:x1], track.reference[y0:y1, x0:x1])
        mask = np.asarray(
            cv2.threshold(fresh, self._finder.brighter_by, 1, cv2.THRESH_BINARY)[1], dtype=np.uint8
        )
        best: BallFit | None = None
        others = [resting.at_m for resting in self._resting if resting.searching is not track]
        others += [(float(t.filter.at_m[0]), float(t.filter.at_m[1])) for t in self._others if t is not track]
        for at_px in round_patches(mask, (x0, y0), 1.0, self.camera, self._finder)[:4]:
            at_m = self.camera.to_plane(at_px, BALL_RADIUS_M)
            fit = self._fit(luma, at_m, 5.0, track.filter.speed_m_s * 0.002 * px_per_m, track.shading)
            if fit is None or _apart(fit.at_m, around_m) > reach_m:
                continue
            if any(_apart(fit.at_m, other) < BALL_RADIUS_M for other in others):
                continue
            if best is None or fit.misfit_px / fit.seen < best.misfit_px / best.seen:
                best = fit
        return best

    def _hole_covered(self, track: _Track, luma: Plane) -> float:
        assert self._hole_box is not None
        x0, y0, x1, y1 = self._hole_box
        changed = cv2.absdiff(luma[y0:y1, x0:x1], track.reference[y0:y1, x0:x1])
        return float(np.count_nonzero(changed > 30)) / max(1, changed.size)

    def _cov_m2(self, fit: BallFit) -> Floats:
        jacobian = self.camera.plane_jacobian(fit.at_m, BALL_RADIUS_M)
        xx, xy, yy = fit.cov_px2
        cov = np.array([[xx + 0.01, xy], [xy, yy + 0.01]])
        return np.asarray(jacobian @ cov @ jacobian.T)


def _any_near(at_m: tuple[float, float], fits: list[BallFit]) -> bool:
    return any(_apart(at_m, fit.at_m) < BALL_RADIUS_M for fit in fits)


def _as_bright(patch: Plane, before: Plane) -> bool:
    """Whether the middle of a ball's patch is still as bright as the ball: it has not left."""
    height, width = before.shape
    rows = slice(height // 2 - max(1, height // 8), height // 2 + max(1, height // 8) + 1)
    columns = slice(width // 2 - max(1, width // 8), width // 2 + max(1, width // 8) + 1)
    edge = float(np.median(np.concatenate([before[0], before[-1]])))
    ball = float(before[rows, columns].mean())
    return float(patch[rows, columns].mean()) > edge + 0.7 * (ball - edge)


def _apart(a: tuple[float, float] | Floats, b: tuple[float, float] | Floats) -> float:
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))
