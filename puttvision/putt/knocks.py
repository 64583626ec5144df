"""Where something in its way checks a rolling ball: a post of the gate, or what nobody knows of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from puttvision.putt.track import PlaneTrack

Floats = NDArray[np.float64]

NEAR_GATE_M, _CHECKED_SHARE = 0.12, 0.5
"""A ball that meets a post from the front loses its way forward there at once."""
_STRETCH_S, _FEWEST_IN_STRETCH = 0.1, 3
_CHECKED_KEPT, _CHECKED_FROM_M_S, _CHECKED_SIGMA = 0.7, 0.6, 5.0
"""In that time skid and grass take a seventh of a putt's speed at most; of a slower ball they take more."""


def checked_before(time_s: Floats, ahead_m: Floats) -> int:
    """First sighting after a post has checked the ball near the gate's line; their number where none has.

    ``ahead_m``: shape (n,), of the gate's line.
    """
    rates = np.diff(ahead_m) / np.diff(time_s)
    for i in range(2, len(rates)):
        if -NEAR_GATE_M < ahead_m[i] < 0 and rates[i] < _CHECKED_SHARE * float(np.median(rates[:i])):
            return i + 1
    return len(ahead_m)


def checked_at(track: PlaneTrack, end: int) -> int | None:
    """Index of the sighting at which something unknown, most likely a post, checks a ball; None for none.

    ``end``: so many sightings are looked at.
    """
    time_s, at_m, cov_m2 = track.time_s[:end], track.at_m[:end], track.cov_m2[:end]
    if end < 2 * _FEWEST_IN_STRETCH + 1:
        return None
    turns = np.array([time_s - _STRETCH_S, time_s, time_s + _STRETCH_S])
    places = np.stack([np.interp(turns, time_s, at_m[:, axis]) for axis in (0, 1)], axis=-1)
    came, went = np.hypot(*np.moveaxis(np.diff(places, axis=0), -1, 0)) / _STRETCH_S
    best, found = _CHECKED_KEPT, None
    for i in np.nonzero((came > _CHECKED_FROM_M_S) & (went < _CHECKED_KEPT * came))[0].tolist():
        before = slice(int(np.searchsorted(time_s, time_s[i] - _STRETCH_S)), i)
        after = slice(i + 1, int(np.searchsorted(time_s, time_s[i] + _STRETCH_S, side="right")))
        if min(before.stop - before.start, after.stop - after.start) < _FEWEST_IN_STRETCH:
            continue
        (came_m_s, u_came), (went_m_s, u_went) = (
            _mean_speed(time_s[part], at_m[part], cov_m2[part]) for part in (before, after)
        )
        unsure = came_m_s - went_m_s < _CHECKED_SIGMA * float(np.hypot(u_came, u_went))
        if not unsure and went_m_s < best * came_m_s:
            best, found = went_m_s / came_m_s, i
    return found


def _mean_speed(time_s: Floats, at_m: Floats, cov_m2: Floats) -> tuple[float, float]:
    """Speed by a straight line through a few places, and its uncertainty, in metres a second."""
    since_s = time_s - time_s.mean()
    spread_s2 = float(since_s @ since_s)
    velocity = since_s @ at_m / spread_s2
    speed = float(np.hypot(*velocity))
    way = velocity / max(speed, 1e-9)
    u_m = np.sqrt(np.median(np.einsum("i,nij,j->n", way, cov_m2, way)))
    return speed, float(u_m / np.sqrt(spread_s2))
