"""What a drill means for a player: putts to finish, chances, restarts, points.

Exact from the drill's Markov chain (`chain.py`, `absorb.py`) where it has a small one; else from a
seeded simulation (`simulate.py`), with standard errors. Chances are of a player whose putts are
independent of each other and whose chances stay as they are.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from puttvision.drill.absorb import LU_GOOD_TO, Absorbing, Course, absorbing, course, ever_ends
from puttvision.drill.chain import FAILED, FINISHED, Chain, TooManyStates, explore
from puttvision.drill.chances import Player, gate_counts, hole_counts, needs_gate, reads_stroke
from puttvision.drill.point_totals import points_table, sd_points
from puttvision.drill.rules import Rules
from puttvision.drill.simulate import Sample, simulate
from puttvision.drill.transitions import Array, cut
from puttvision.errors import DrillError

RESTARTS_TOLD = 10
"""Restart counts told one by one."""


@dataclass(frozen=True, kw_only=True)
class Odds:
    """The odds of one drill for one player; points in points, not hundredths. None: no such number."""

    rules: Rules
    player: Player
    method: Literal["exact", "simulation"]
    time_course: Course | Sample
    expected_putts: float | None
    """Mean number of putts until the drill is over, finished or not."""
    sd_putts: float | None
    chance_to_finish: float | None
    """At all, however long it takes; in a drill for two, to come to an end."""
    restarts: tuple[float, ...] = ()
    """Chances of 0, 1, ... `RESTARTS_TOLD` restarts; empty where there are none or they are not known."""
    expected_restarts: float | None = None
    expected_points: float | None = None
    sd_points: float | None = None
    points: tuple[tuple[float, float], ...] = ()
    """Each total that can come about with its chance, rising; empty where there are too many."""
    wins: tuple[float, float, float] | None = None
    """Two players: the first wins, the second wins, halved."""
    horizon: int | None = None
    """Putts for which the drill's own time limit leaves time."""
    seconds_per_putt: float | None = None
    n_runs: int = 0
    """Goes at the drill that were simulated."""
    u: Mapping[str, float] = field(default_factory=dict)
    """Standard errors of a simulation, by the name of the figure."""
    notes: tuple[str, ...] = ()
    """What was taken for granted, and what the figures leave out."""

    def chance_within(self, n_putts: int) -> float:
        """Chance of having finished within so many putts; nan where it is not known."""
        if self.horizon is not None and n_putts >= self.horizon:
            return self._at_horizon()
        return self.time_course.ended_within(n_putts)

    def _at_horizon(self) -> float:
        horizon = self.horizon or 0
        if self.rules.clock.at_limit == "finished" and not self.rules.two_players:
            return 1 - self.time_course.ended_within(horizon, FAILED)
        return self.time_course.ended_within(horizon)

    def putts_for(self, chance: float) -> int | None:
        """Smallest number of putts within which it is finished with ``chance``; None: there is none."""
        found = self.time_course.first_with(chance)
        if self.horizon is not None and (found is None or found > self.horizon):
            return self.horizon if self._at_horizon() >= chance - 1e-12 else None
        return found

    def putts_in(self, minutes: float) -> int:
        """Putts for which so many minutes leave time; ``seconds_per_putt`` must be known."""
        if not self.seconds_per_putt:
            raise ValueError("seconds per putt are not known")
        return putts_in(minutes, self.seconds_per_putt)

    def u_chance(self, chance: float) -> float | None:
        """Standard error of a simulated chance; None where it is exact."""
        return math.sqrt(chance * (1 - chance) / self.n_runs) if self.n_runs else None

    def chance_of_points(self, at_least: float) -> float | None:
        """Chance of reaching so many points; None where the distribution is not known."""
        if not self.points:
            return None
        return min(sum(chance for total, chance in self.points if total >= at_least - 1e-9), 1.0)

    def points_reached(self, chance: float) -> float | None:
        """The most points that are reached with at least this chance; None where that is not known."""
        above = 0.0
        for total, weight in reversed(self.points):
            above += weight
            if above >= chance - 1e-12:
                return total
        return None

    @property
    def is_fixed(self) -> bool:
        """Always the same number of putts."""
        return self.expected_putts is not None and self.sd_putts is not None and self.sd_putts < 1e-6


def putts_in(minutes: float, seconds_per_putt: float) -> int:
    """Whole putts that fit into so many minutes."""
    return math.floor(60 * minutes / seconds_per_putt + 1e-9)


def odds(
    rules: Rules,
    player: Player,
    *,
    seconds_per_putt: float | None = None,
    seed: int = 1,
    runs: int | None = None,
) -> Odds:
    """The odds of ``rules``, options in force, for ``player``.

    ``seconds_per_putt`` counts where the drill has a time limit; ``seed`` and ``runs`` are a simulation's.
    Raises DrillError where a chance is lacking that the drill needs.
    """
    if needs_gate(rules, player):
        raise DrillError(f"{rules.name} counts putts through the gate: add --gate P, or --start-spread DEG")
    horizon = _horizon(rules, seconds_per_putt)
    notes = _notes(rules, player, horizon)
    if reads_stroke(rules, player):
        why = "it follows where each ball rolls to"
    else:
        try:
            found = _exact(rules, player, explore(rules, player), horizon)
            return replace(found, seconds_per_putt=seconds_per_putt, notes=(*notes, *found.notes))
        except TooManyStates:
            why = "it has too many states to be worked out exactly"
    sample = simulate(rules, player, seed=seed, runs=runs, horizon=horizon)
    found = _simulated(rules, player, sample, horizon)
    how = f"simulated, not exact ({why}): {sample.n} goes, seed {seed}"
    return replace(found, seconds_per_putt=seconds_per_putt, notes=(how, *notes, *found.notes))


def _horizon(rules: Rules, seconds_per_putt: float | None) -> int | None:
    """Putts up to the drill's time limit: those whose stroke falls within it, the first at time zero."""
    if rules.clock.limit_s is None or seconds_per_putt is None:
        return None
    return math.floor(rules.clock.limit_s / seconds_per_putt + 1e-9) + 1


def _notes(rules: Rules, player: Player, horizon: int | None) -> list[str]:
    notes = []
    stroke = player.stroke
    if rules.clock.limit_s is not None and horizon is None:
        notes.append("the drill's time limit is left out: --seconds-per-putt S takes it in")
    if player.gate is not None and not rules.uses_gate:
        notes.append("the drill counts no putts through a gate: --gate changes nothing")
    if rules.uses_gate and not gate_counts(rules, player) and not rules.measures:
        notes.append("the gate is left out, so only holed putts count: --gate P takes it in")
    if player.gate is not None and rules.uses_gate and player.gate_if_holed is None and hole_counts(rules):
        notes.append("holed putts are taken to go through the gate as often as the others")
    if stroke and stroke.pace_spread is None and not rules.measures:
        notes.append("pace is left out, which is kind to long putts: --pace-spread SHARE takes it in")
    if rules.measures and (stroke is None or stroke.pace_spread is None):
        lacking = "start line and pace scatter" if stroke is None else "pace scatters"
        notes.append(
            f"{lacking} as a tour player's: --start-spread and --pace-spread take in the player's own"
        )
    if any(stage.play_out for stage in rules.stages) and stroke is None:
        notes.append(
            "second and later putts are holed as often as the first: --start-spread tells them apart"
        )
    if any("lipped" in c.words or "touched the gate" in c.words for s in rules.stages for c in s.conditions):
        notes.append("lip-outs and touched gates do not happen in this reckoning")
    return notes


# --- exact -----------------------------------------------------------------------------------


def _exact(rules: Rules, player: Player, chain: Chain, horizon: int | None) -> Odds:
    q, ends = chain.matrix(), chain.end_chances()
    over = ends.sum(axis=1, keepdims=True) if rules.two_players else ends
    if horizon is None and not ever_ends(q, over):
        return _never(rules, player, chain)
    part = absorbing(q, over) if horizon is None else Absorbing(q, over, np.arange(chain.n))
    run = course(part, horizon)
    mean, sd = run.mean(), math.sqrt(run.variance()) if run.is_whole else math.nan
    visits, notes = run.visits, []
    never = 0.0 if horizon is not None else run.ended_at_last(over.shape[1])
    if horizon is None and (not run.is_whole or mean < LU_GOOD_TO):
        mean, sd, visits = _by_lu(part, run)
    if not run.is_whole:
        notes.append(f"chances are known up to {run.n_steps} putts")
    if never > 1e-12:
        mean = sd = math.inf
    rewards = chain.reward(chain.restarted)[part.kept]
    has_restarts = bool(chain.restarted.any())
    found = Odds(
        rules=rules,
        player=player,
        method="exact",
        time_course=run,
        expected_putts=_number(mean),
        sd_putts=_number(sd),
        chance_to_finish=_finish(rules, run, horizon, visits, over[part.kept]),
        restarts=_restarts(chain, part) if has_restarts and horizon is None else (),
        expected_restarts=_number(float(visits @ rewards)) if has_restarts and math.isfinite(mean) else None,
        horizon=horizon,
        notes=tuple(notes),
    )
    if rules.two_players:
        first, second, halved = (float(share) for share in visits @ ends[part.kept])
        return replace(found, wins=(first, second, halved))
    if rules.gives_points and math.isfinite(mean):
        return _with_points(found, chain, part, visits, horizon)
    return found


def _never(rules: Rules, player: Player, chain: Chain) -> Odds:
    """The odds of a drill that does not end by itself."""
    still = Course(np.ones(2), np.zeros((2, 2)), np.zeros(chain.n), None, is_whole=True)
    return Odds(
        rules=rules,
        player=player,
        method="exact",
        time_course=still,
        expected_putts=None,
        sd_putts=None,
        chance_to_finish=0.0,
        notes=("it never ends by itself at these chances",),
    )


def _by_lu(part: Absorbing, run: Course) -> tuple[float, float, Array]:
    """Mean, standard deviation, visits by LU; the spread by E[T^2] = 2 sum of visits' means - E[T]."""
    from_each = part.expected(np.ones(part.n))
    begun = np.zeros(part.n)
    begun[0] = 1.0
    visits = part.visits(begun)
    mean = float(from_each[0])
    variance = run.variance() if run.is_whole else 2 * float(visits @ from_each) - mean - mean**2
    return mean, math.sqrt(max(variance, 0.0)), visits


def _finish(rules: Rules, run: Course, horizon: int | None, visits: Array, ends: Array) -> float:
    if horizon is None:
        return min(float(visits @ ends[:, FINISHED]), 1.0)
    if rules.clock.at_limit == "finished" and not rules.two_players:
        return 1 - run.ended_within(horizon, FAILED)
    return run.ended_within(horizon)


def _restarts(chain: Chain, part: Absorbing) -> tuple[float, ...]:
    """Chances of 0, 1, ... restarts: the chain between two restarts, over and over."""
    kept = part.kept
    plain = cut(chain.matrix(only=~chain.restarted), kept, kept)
    again = cut(chain.matrix(only=chain.restarted), kept, kept)
    between = Absorbing(plain, part.ends, kept)
    begun = np.zeros(part.n)
    begun[0] = 1.0
    out = []
    for _ in range(RESTARTS_TOLD + 1):
        visits = between.visits(begun)
        out.append(min(max(float((visits @ part.ends).sum()), 0.0), 1.0))
        begun = again.T @ visits
    return tuple(out)


def _with_points(found: Odds, chain: Chain, part: Absorbing, visits: Array, horizon: int | None) -> Odds:
    mean = float(visits @ chain.reward(chain.points)[part.kept])
    table = points_table(chain, horizon)
    if table is not None:
        variance = sum(chance * (total - mean) ** 2 for total, chance in table.items())
        rows = tuple((total / 100, chance) for total, chance in sorted(table.items()))
        return replace(found, expected_points=mean / 100, sd_points=math.sqrt(variance) / 100, points=rows)
    sd = None if horizon is not None else sd_points(chain, part, mean) / 100
    return replace(found, expected_points=mean / 100, sd_points=sd)


# --- simulated -------------------------------------------------------------------------------


def _simulated(rules: Rules, player: Player, sample: Sample, horizon: int | None) -> Odds:
    notes = []
    ends, is_open = sample.end, sample.end < 0
    if horizon is not None and rules.clock.at_limit == "finished":
        ends = np.where(is_open, FINISHED, ends)
    broken = 0.0 if horizon is not None else float(is_open.mean())
    seen = replace(sample, end=np.where(ends >= 0, 0, -1) if rules.two_players else ends)
    if broken:
        notes.append(
            f"{100 * broken:.3g} % of the goes were broken off after {int(sample.n_putts.max())} putts"
        )
    root = math.sqrt(sample.n)
    known = not broken
    sd = float(sample.n_putts.std(ddof=1)) if known else math.nan
    u = {"expected_putts": sd / root} if known else {}
    told = tuple(float((sample.restarts == k).mean()) for k in range(RESTARTS_TOLD + 1))
    has_restarts = bool(sample.restarts.any())
    if has_restarts and known:
        u["expected_restarts"] = float(sample.restarts.std(ddof=1)) / root
    found = Odds(
        rules=rules,
        player=player,
        method="simulation",
        time_course=seen,
        expected_putts=float(sample.n_putts.mean()) if known else None,
        sd_putts=_number(sd),
        chance_to_finish=seen.ended_at_last(),
        restarts=told if has_restarts and known else (),
        expected_restarts=float(sample.restarts.mean()) if has_restarts and known else None,
        horizon=horizon,
        n_runs=sample.n,
        u=u,
        notes=tuple(notes),
    )
    if rules.two_players:
        first, second, halved = (float((sample.end == end).mean()) for end in range(3))
        return replace(found, wins=(first, second, halved))
    if not rules.gives_points or not known:
        return found
    points = sample.points[:, 0] / 100
    totals, counts = np.unique(points, return_counts=True)
    spread = float(points.std(ddof=1))
    return replace(
        found,
        expected_points=float(points.mean()),
        sd_points=spread,
        points=tuple((float(t), float(c) / sample.n) for t, c in zip(totals, counts, strict=True)),
        u={**u, "expected_points": spread / root},
    )


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
