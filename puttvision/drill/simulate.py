"""Playing a drill many times by chance, with a seed: for drills that have no small Markov chain.

Needed where the rules read continuous measures (run-out, start line), where a ball is played out and
the next putt starts where the last one ended, and where there are too many states. Putts come from
the stroke models of `stroke.py`; a chance of holing that is given goes before the model's, and the ball
that is holed or missed is then drawn from the model among those that do the same.
"""

from __future__ import annotations

import math
from bisect import bisect
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from puttvision.drill import play
from puttvision.drill.chain import end_of
from puttvision.drill.chances import Player, event_chances, events, gate_of, given_chance, reads_stroke
from puttvision.drill.engine import Step
from puttvision.drill.judge import leave_m
from puttvision.drill.match import MatchState
from puttvision.drill.play import AnyState
from puttvision.drill.rules import Distance, Rules, Setting
from puttvision.drill.stroke import (
    AIM_PAST_M,
    PACE_WINDOW_M,
    TOUR,
    Stroke,
    gate_half_angle_deg,
    hole_half_angle_deg,
)
from puttvision.errors import DrillError
from puttvision.putts import Figure, GateResult, Putt, Rest

PUTTS_IN_ALL, ROLLED_IN_ALL = 300_000, 60_000
"""About three seconds' worth, without and with the ball's roll; a drill is played as often as these allow."""
FEWEST_RUNS, MOST_RUNS = 200, 20_000
LONGEST = 120_000
"""Putts after which one go at a drill is broken off as not finished; more than any drill has by itself."""
BATCH = 4096

Array = NDArray[np.float64]


class Roll(NamedTuple):
    """One putt of the model: right is positive; ``length_m`` over a covered hole."""

    holed: bool
    angle_deg: float
    length_m: float


@dataclass(frozen=True)
class Sample:
    """What happened in each of ``n`` goes at a drill; arrays of shape (n,)."""

    n_putts: NDArray[np.int64]
    end: NDArray[np.int64]
    """As in `chain.py`; -1: broken off."""
    restarts: NDArray[np.int64]
    points: Array
    """Hundredths, shape (n, 2): of each player."""

    @property
    def n(self) -> int:
        return len(self.n_putts)

    def ended_within(self, n: int, end: int = 0) -> float:
        """Share of the goes that ended in ``end`` within n putts."""
        return float(((self.end == end) & (self.n_putts <= n)).mean())

    def ended_at_last(self, end: int = 0) -> float:
        return float((self.end == end).mean())

    def first_with(self, chance: float, end: int = 0) -> int | None:
        """Smallest n within which at least this share ended in ``end``; None where it never does."""
        counts = np.sort(self.n_putts[self.end == end])
        at = math.ceil(chance * self.n - 1e-9)
        return int(counts[at - 1]) if 0 < at <= len(counts) else None

    def mean(self) -> float:
        """Mean number of putts; nan where a go was broken off."""
        return math.nan if (self.end < 0).any() else float(self.n_putts.mean())

    def variance(self) -> float:
        return math.nan if (self.end < 0).any() else float(self.n_putts.var(ddof=1))


def simulate(
    rules: Rules, player: Player, *, seed: int = 1, runs: int | None = None, horizon: int | None = None
) -> Sample:
    """Play a drill ``runs`` times (None: as often as a few seconds allow), ``horizon`` putts at most.

    The same seed gives the same sample. Raises DrillError where a chance or a distance is lacking.
    """
    draw = _Putter(rules, player, np.random.default_rng(seed))
    known = play.remembering(rules)
    rows: list[tuple[int, int, int, tuple[int, int]]] = []
    left = budget = ROLLED_IN_ALL if draw.reads_stroke else PUTTS_IN_ALL
    longest = LONGEST if horizon is None else min(horizon, LONGEST)
    while len(rows) < (MOST_RUNS if runs is None else runs):
        if runs is None and left <= 0 and len(rows) >= FEWEST_RUNS:
            break
        rows.append(_one_go(rules, draw, known, longest))
        left -= rows[-1][0]
        if left < -3 * budget:  # a drill that hardly ever ends
            break
    n_putts, end, restarts, points = zip(*rows, strict=True)
    return Sample(np.array(n_putts), np.array(end), np.array(restarts), np.array(points, dtype=float))


def _one_go(
    rules: Rules,
    draw: _Putter,
    known: Callable[[AnyState, Putt], tuple[AnyState, Step]],
    longest: int,
) -> tuple[int, int, int, tuple[int, int]]:
    state = play.start(rules)
    n_putts = restarts = 0
    points = [0, 0]
    lies_m: list[float | None] = [None, None]
    while state.status == "running" and n_putts < longest:
        side = state.to_play if isinstance(state, MatchState) else 0
        putt = draw.putt(state, side, lies_m[side])
        state, result = known(state, putt)
        if not result.counted:
            raise DrillError(f"{rules.name} cannot be simulated: a putt was set aside ({result.reason})")
        n_putts += 1
        restarts += result.restarted
        points[side] += result.points_change
        lies_m[side] = leave_m(putt) if result.kind == "played on" else None
    end = -1 if state.status == "running" else end_of(state)
    return n_putts, end, restarts, (points[0], points[1])


class _Putter:
    """Draws putts; holds the random generator and what it has drawn ahead."""

    def __init__(self, rules: Rules, player: Player, rng: np.random.Generator) -> None:
        self.rules, self.rng = rules, rng
        self.reads_stroke = reads_stroke(rules, player)
        self.has_own_stroke = player.stroke is not None
        self.player = replace(player, stroke=with_pace(player.stroke)) if self.reads_stroke else player
        self.events = events(rules, self.player)
        self._uses_gate = rules.uses_gate
        self._uniform: list[float] = []
        self._rolls: dict[tuple[float, bool | None], list[Roll]] = {}
        self._cumulative: dict[tuple[int, Setting, int], list[float]] = {}

    def uniform(self) -> float:
        if not self._uniform:
            self._uniform = self.rng.random(BATCH).tolist()
        return self._uniform.pop()

    def putt(self, state: AnyState, side: int, lies_m: float | None) -> Putt:
        """The next putt; ``lies_m``: how far off the last one of this ball came to rest, None: as set."""
        how, stage = play.setting(self.rules, state), play.to_play(state).stage
        if not self.reads_stroke:
            return self._plain(stage, how, side)
        given = given_chance(self.rules, self.player, stage, how, side)
        if lies_m is not None and self.has_own_stroke:
            how, given = how._replace(distance=Distance(max(lies_m, 1e-3), "m")), None
        if how.distance is None:
            raise DrillError(
                f"{self.rules.name} reads where a putt rolls to, but not how far off stage {stage + 1} is: "
                "add its distance to the drill file"
            )
        wanted = None if given is None else self.uniform() < given
        return self._rolled(how, how.distance.metres, self._roll(how.distance.metres, wanted, lies_m is None))

    def _plain(self, stage: int, how: Setting, side: int) -> Putt:
        key = (stage, how, side)
        if key not in self._cumulative:
            self._cumulative[key] = np.cumsum(event_chances(self.rules, self.player, *key)).tolist()
        return self.events[min(bisect(self._cumulative[key], self.uniform()), len(self.events) - 1)]

    def _rolled(self, how: Setting, distance_m: float, roll: Roll) -> Putt:
        angle_rad = math.radians(roll.angle_deg)
        along_m, right_m = roll.length_m * math.cos(angle_rad), roll.length_m * math.sin(angle_rad)
        passed_mm = 1000 * distance_m * math.sin(angle_rad) if roll.length_m >= distance_m else None
        return Putt(
            number=1,
            outcome="holed" if roll.holed else "missed",
            hole_distance_m=Figure(distance_m),
            start_direction_to_hole_deg=Figure(roll.angle_deg),
            gate_result=self._gate(how, roll),
            hole_offset_mm=Figure(passed_mm),
            miss_side=None if roll.holed else "left" if roll.angle_deg < 0 else "right",
            rest=None if roll.holed else Rest(along_m=Figure(along_m), right_m=Figure(right_m)),
            run_out_m=Figure(along_m - distance_m),
        )

    def _gate(self, how: Setting, roll: Roll) -> GateResult:
        player = self.player
        if not self._uses_gate:
            return "none"
        gate = gate_of(self.rules, how, player)
        if player.gate is None and gate is None:
            return "none"
        if player.gate is not None:
            chance = player.gate
            if roll.holed and player.gate_if_holed is not None:
                chance = player.gate_if_holed
            through = self.uniform() < chance
        else:
            through = gate is not None and abs(roll.angle_deg) < gate_half_angle_deg(*gate)
        return "clear" if through else "outside"

    def _roll(self, distance_m: float, wanted: bool | None, is_set: bool) -> Roll:
        """One roll; ``wanted``: of those holed or missed; ``is_set``: a distance that comes again."""
        stroke = self.player.stroke or TOUR
        if not is_set:
            return next(r for r in _rolls(self.rng, stroke, distance_m, 1))
        ready = self._rolls.setdefault((distance_m, wanted), [])
        if not ready:
            for _ in range(50):
                drawn = _rolls(self.rng, stroke, distance_m, BATCH)
                ready += [roll for roll in drawn if wanted is None or roll.holed == wanted]
                if ready:
                    break
            else:  # this stroke never does what the given chance says: the nearest it can do
                off_deg = 0.0 if wanted else 1.01 * hole_half_angle_deg(distance_m)
                ready.append(Roll(bool(wanted), off_deg, distance_m + AIM_PAST_M))
        return ready.pop()


def with_pace(stroke: Stroke | None) -> Stroke:
    """A stroke that has a pace spread; what the player's lacks is a tour player's."""
    stroke = stroke or TOUR
    return stroke if stroke.pace_spread is not None else replace(stroke, pace_spread=TOUR.pace_spread)


def _rolls(rng: np.random.Generator, stroke: Stroke, distance_m: float, n: int) -> list[Roll]:
    """``n`` putts of the model in `stroke.py`; what it holes is holed."""
    angle_deg = rng.normal(stroke.start_bias_deg, stroke.start_spread_deg, n)
    spread = 0.0 if stroke.pace_spread is None else stroke.pace_spread
    length_m = np.maximum((distance_m + AIM_PAST_M) * (1 + spread * rng.standard_normal(n)), 0.0)
    holed = np.abs(angle_deg) < hole_half_angle_deg(distance_m)
    holed &= (length_m >= distance_m) & (length_m <= distance_m + PACE_WINDOW_M)
    return [Roll(*row) for row in zip(holed.tolist(), angle_deg.tolist(), length_m.tolist(), strict=True)]
