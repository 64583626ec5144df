"""Rolls that tell of the green: every ball that ran freely, whoever sent it and which way.

A putt is used from its start on, skid and all. A ball pushed or rolled by hand is used from where it has
got its speed and rolls without slipping. What does not run as balls on one green run is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.ball.sightings import Roll
from puttvision.green.camera import Camera
from puttvision.physics import HOLE_RADIUS_M, skid_length
from puttvision.putt.fit import GreenPrior, Piece, RollsFit, fit_rolls
from puttvision.putt.gate import GateLine
from puttvision.putt.pieces import CutRoll, cut, is_putt
from puttvision.putt.track import PlaneTrack, on_plane

Floats = NDArray[np.float64]

_FREE_M = 0.5
"""A stretch shorter than this tells little of how a ball slows down."""
_FEWEST = 12
_SLOWEST_M_S = 0.05
_RIM_M = HOLE_RADIUS_M + 0.006
_ODD_SIGMA = 4.0
"""A roll that misses the others' green by so much was touched, or met something."""


@dataclass(frozen=True, slots=True)
class FreeRoll:
    """One roll that tells of the green."""

    cut: CutRoll
    by_hand: bool
    """Pushed or rolled, not struck: fitted as a ball in motion."""
    heading_rad: float
    length_m: float
    """Of the stretch that is used."""

    @property
    def piece(self) -> Piece:
        chosen = self.cut.later if self.by_hand else self.cut.first
        if chosen is None:
            raise ValueError("a ball rolled by hand has its piece in motion")
        return chosen


def free_rolls(
    rolls: list[Roll], camera: Camera, readout_s: float, hole_m: Floats, gate: GateLine | None
) -> list[FreeRoll]:
    """The rolls of a clip that ran freely far enough."""
    out = []
    for roll in rolls:
        track = on_plane(roll, camera, readout_s)
        if is_putt(track, hole_m, roll.settled_s, roll.gone_s):
            item = cut(roll, camera, readout_s, hole_m, gate)
            found = _free(item, item.first, by_hand=False)
        else:
            found = _by_hand(roll, track, hole_m)
        if found is not None:
            out.append(found)
    return out


def _free(item: CutRoll, piece: Piece, *, by_hand: bool) -> FreeRoll | None:
    if len(piece.time_s) < _FEWEST:
        return None
    way = piece.at_m[-1] - piece.at_m[0]
    length = float(np.hypot(*way))
    if length < _FREE_M:
        return None
    return FreeRoll(item, by_hand, float(np.arctan2(way[1], way[0])), length)


def _by_hand(roll: Roll, track: PlaneTrack, hole_m: Floats) -> FreeRoll | None:
    """The stretch of a pushed ball in which it rolls: beyond its top speed and a skid's length."""
    n = len(track.time_s)
    if n < _FEWEST:
        return None
    over = np.nonzero(np.hypot(*(track.at_m - hole_m).T) < _RIM_M)[0]
    end = int(over[0]) if len(over) else n
    steps = np.hypot(*np.diff(track.at_m, axis=0).T)
    travelled = np.concatenate([[0.0], np.cumsum(steps)])
    speed = _speeds(track.time_s, track.at_m)
    fastest = int(np.argmax(speed[:end])) if end else 0
    begin = int(np.searchsorted(travelled, travelled[fastest] + skid_length(float(speed[fastest]))))
    slow = np.nonzero(speed[begin:end] < _SLOWEST_M_S)[0]
    end = begin + int(slow[0]) if len(slow) else end
    used = np.arange(begin, max(begin, end))
    if len(used) < _FEWEST:
        return None
    piece = Piece(time_s=track.time_s[used], at_m=track.at_m[used], cov_m2=track.cov_m2[used], lie_m=None)
    nothing = np.arange(0)
    item = CutRoll(
        roll=roll, track=track, first=piece, first_used=nothing, later=piece, later_used=used, crossing=None,
        knocked=False, near_hole=end,
    )  # fmt: skip
    return _free(item, piece, by_hand=True)


def _speeds(time_s: Floats, at_m: Floats, half: int = 3) -> Floats:
    """Speed at each sighting over ``half`` sightings to either side."""
    n = len(time_s)
    before, after = np.maximum(np.arange(n) - half, 0), np.minimum(np.arange(n) + half, n - 1)
    return np.asarray(np.hypot(*(at_m[after] - at_m[before]).T) / (time_s[after] - time_s[before]))


def fit_free(found: list[FreeRoll], prior: GreenPrior) -> tuple[list[FreeRoll], RollsFit]:
    """Fit the rolls' common green; rolls that do not go with the others are left out, worst first."""
    kept = list(found)
    while True:
        fit = fit_rolls([roll.piece for roll in kept], prior)
        spread = [piece.rms_sigma for piece in fit.pieces]
        worst = int(np.argmax(spread))
        if spread[worst] < _ODD_SIGMA * max(1.0, float(np.median(spread))) or len(kept) <= 2:
            return kept, fit
        del kept[worst]
