"""One player's drill as a pure step: rules, state and putt in; next state and what happened out.

`State` holds what the future depends on and nothing else, so that its reachable values are few and
a drill's Markov chain can be built by exploring them. Totals (counts, points so far, restarts) are
summed from the `Step` of each putt; see `scorecard.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from puttvision.drill.judge import CannotTell, Judged, judge
from puttvision.drill.rules import Consequence, Distance, Rules, Setting, Stage, Turn
from puttvision.putts import Putt

Status = Literal["running", "finished", "failed"]

_OPEN = Setting(None)
_BACK = ("count back", "stage back", "start again")


@dataclass(frozen=True, slots=True)
class State:
    """Where a player stands; each count stays 0 in a drill whose rules do not look at it."""

    status: Status = "running"
    stage: int = 0
    made: int = 0
    missed: int = 0
    played: int = 0
    turn: int = 0
    """Position in the alternation, where no other count tells it."""
    taken: int = 0
    """Putts this ball has taken so far, in a stage that is played out."""
    count_points: int = 0
    """Points of this stage's present count, hundredths."""
    points: int = 0
    """Points of this attempt, hundredths."""
    attempt: int = 0
    putts: int = 0
    round: int = 0
    won: int = 0
    banked: int = 0
    """Points of earlier rounds of a series: their best or their sum, hundredths."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What one putt did."""

    kind: Literal["made", "missed", "played on", "set aside", "after the end"]
    putt: int
    reason: str = ""
    """Why it was set aside."""
    stage: int = 0
    """Index of the stage it was played in."""
    setting: Setting = _OPEN
    holed: bool = False
    points: int = 0
    """Points it gave (or took), hundredths."""
    points_change: int = 0
    """Change of the drill's total, hundredths; differs from ``points`` where a restart clears the board."""
    fault: Consequence | None = None
    forfeit: str = ""
    restarted: bool = False
    cleared: bool = False
    """The count shown for the stage begins again (fault, next stage, next round)."""
    one_back: bool = False
    """The count shown loses one."""
    passed: bool = False
    """The stage was passed with this putt."""
    round_over: Literal["", "won", "lost"] = ""
    side: int = 0
    """Which of two players putted."""
    status: Status = "running"
    """The drill after this putt."""

    @property
    def counted(self) -> bool:
        """Whether the putt counts in the drill."""
        return self.kind in ("made", "missed", "played on")

    @property
    def made(self) -> bool:
        return self.kind == "made" or (self.kind == "played on" and self.holed)


def start(_rules: Rules) -> State:
    """The state before the first putt."""
    return State()


# --- what is played next ---------------------------------------------------------------------


def _apply_turn(setting: Setting, turn: Turn, at: int) -> Setting:
    value = turn.sequence[at % len(turn.sequence)]
    match turn.of:
        case "distance_ft":
            return setting._replace(distance=Distance(float(value), "ft"))
        case "distance_m":
            return setting._replace(distance=Distance(float(value), "m"))
        case "gate_mm":
            return setting._replace(gate_mm=float(value))
        case "grip":
            return setting._replace(grip=str(value))
        case "ball":
            return setting._replace(ball=str(value))
        case "side":
            return setting._replace(side=str(value))
        case "slope":
            return setting._replace(slope=str(value))
        case "from":
            return setting._replace(from_=str(value))


def setting(rules: Rules, state: State) -> Setting:
    """How the next putt is to be played: distance, grip, ball, side, place, slope, gate width."""
    stage = rules.stages[state.stage]
    base = Setting(stage.distance, gate_mm=rules.gate.width_mm if rules.gate else None)
    for turn in stage.turns:
        base = _apply_turn(base, turn, _position(stage, state) if turn.follows == "putts" else state.made)
    return base


def _position(stage: Stage, state: State) -> int:
    if stage.tracks_played:
        return state.played
    return state.made + state.missed if stage.tracks_missed else state.turn


# --- one putt --------------------------------------------------------------------------------


def step(rules: Rules, state: State, putt: Putt) -> tuple[State, Step]:
    """Play one putt. A drill that is over stays as it is; a putt that cannot be judged is set aside."""
    if state.status != "running":
        return state, Step(kind="after the end", putt=putt.number, status=state.status, stage=state.stage)
    stage = rules.stages[state.stage]
    taken = state.taken + 1
    judged = judge(stage, putt, taken)
    played = setting(rules, state) if stage.turns or rules.gate else Setting(stage.distance)
    if isinstance(judged, CannotTell):
        return state, Step(
            kind="set aside", putt=putt.number, reason=judged.reason, stage=state.stage, setting=played
        )
    if stage.play_out and not judged.holed and taken < stage.pick_up_after:
        return _play_on(rules, state, putt, played)
    return _end_try(rules, stage, state, putt, judged, played)


def _play_on(rules: Rules, state: State, putt: Putt, played: Setting) -> tuple[State, Step]:
    after = replace(state, taken=state.taken + 1)
    after = _count_putt(rules, after)
    return after, Step(
        kind="played on", putt=putt.number, stage=state.stage, setting=played, status=after.status
    )


def _count_putt(rules: Rules, state: State) -> State:
    if rules.most_putts is None:
        return state
    over = state.putts + 1 >= rules.most_putts and state.status == "running"
    return replace(state, putts=state.putts + 1, status="failed" if over else state.status)


def _end_try(
    rules: Rules, stage: Stage, state: State, putt: Putt, judged: Judged, played: Setting
) -> tuple[State, Step]:
    points = _floored(rules, state, judged.points)
    after = _counted(rules, stage, state, judged.good, points)
    fault, forfeit = _fault(stage, after, judged)
    restarted = passed = False
    round_over: Literal["", "won", "lost"] = ""
    if fault is not None and fault != "nothing":
        after, restarted = _go_back(rules, state, after, fault)
        if after.status == "failed":
            after, round_over = _end_round(rules, after, won=False)
    elif _is_passed(stage, after):
        passed = True
        if state.stage + 1 < len(rules.stages):
            after = _cleared(after, stage=state.stage + 1)
        else:
            after, round_over = _end_round(rules, replace(after, status="finished"), won=True)
    after = _count_putt(rules, after)
    result = Step(
        kind="made" if (judged.holed if stage.play_out else judged.good) else "missed",
        putt=putt.number,
        stage=state.stage,
        setting=played,
        holed=judged.holed,
        points=points,
        points_change=total_points(rules, after) - total_points(rules, state)
        if rules.tracks_points
        else points,
        fault=fault,
        forfeit=forfeit,
        restarted=restarted,
        cleared=fault in _BACK or after.stage != state.stage or after.round != state.round,
        one_back=fault == "count one back",
        passed=passed,
        round_over=round_over,
        status=after.status,
    )
    return after, result


def _floored(rules: Rules, state: State, points: int) -> int:
    if rules.lowest_points is None:
        return points
    return max(state.points + points, rules.lowest_points) - state.points


def _counted(rules: Rules, stage: Stage, state: State, good: bool, points: int) -> State:
    return State(
        "running",
        state.stage,
        state.made + good if stage.tracks_made else int(state.made or good) if rules.tracks_made else 0,
        state.missed + (not good) if stage.tracks_missed else 0,
        state.played + 1 if stage.tracks_played else 0,
        (state.turn + 1) % stage.turn_cycle,
        0,
        state.count_points + points if stage.tracks_points else 0,
        state.points + points if rules.tracks_points else 0,
        state.attempt,
        state.putts,
        state.round,
        state.won,
        state.banked,
    )


def _fault(stage: Stage, after: State, judged: Judged) -> tuple[Consequence | None, str]:
    if judged.fault >= 0 and stage.faults[judged.fault].then != "nothing":
        return stage.faults[judged.fault].then, stage.faults[judged.fault].forfeit
    lost = stage.misses_allowed is not None and after.missed > stage.misses_allowed
    if stage.putts is not None and after.played >= stage.putts:
        lost |= stage.made_needed is not None and after.made < stage.made_needed
        lost |= stage.points_needed is not None and after.count_points < stage.points_needed
    if lost:
        return stage.on_fault, stage.forfeit
    return ("nothing", stage.faults[judged.fault].forfeit) if judged.fault >= 0 else (None, "")


def _is_passed(stage: Stage, after: State) -> bool:
    if stage.putts is not None:
        return after.played >= stage.putts
    if stage.points_to is not None:
        return after.count_points >= stage.points_to
    return stage.make is not None and after.made >= stage.make


def _cleared(state: State, stage: int) -> State:
    return replace(state, stage=stage, made=0, missed=0, played=0, turn=0, taken=0, count_points=0)


def _go_back(rules: Rules, before: State, after: State, fault: Consequence) -> tuple[State, bool]:
    if fault == "end":
        return replace(after, status="failed"), False
    if fault == "count one back":
        return replace(after, made=max(after.made - 1, 0), missed=0), False
    to = {"count back": before.stage, "stage back": max(before.stage - 1, 0)}.get(fault, 0)
    after = _cleared(after, to)
    if to == 0:
        after = replace(after, points=0)
    restarted = to == 0 and (before.stage > 0 or (len(rules.stages) == 1 and before.made > 0))
    if restarted and rules.attempts is not None:
        out = before.attempt + 1 >= rules.attempts
        after = replace(after, attempt=before.attempt + 1, status="failed" if out else "running")
    return after, restarted


def total_points(rules: Rules, state: State) -> int:
    """The drill's points so far in hundredths, where the state keeps them (``rules.tracks_points``)."""
    if rules.series is None or not state.round:
        return state.points
    if rules.series.result == "best round":
        return max(state.banked, state.points)
    return state.banked + state.points


def _end_round(rules: Rules, state: State, won: bool) -> tuple[State, Literal["", "won", "lost"]]:
    """The drill, or one round of a series, is over."""
    series = rules.series
    if series is None:
        return state, ""
    n_won, n_played = state.won + won, state.round + 1
    verdict: Literal["won", "lost"] = "won" if won else "lost"
    if series.result == "rounds won":
        if n_won >= series.win:
            return replace(state, status="finished", won=n_won), verdict
        if n_won + series.rounds - n_played < series.win:
            return replace(state, status="failed", won=n_won), verdict
    elif n_played >= series.rounds:
        return replace(state, status="finished"), verdict
    banked = total_points(rules, state)
    next_round = replace(_cleared(state, 0), status="running", round=n_played, points=0, banked=banked)
    return replace(next_round, won=n_won if series.result == "rounds won" else 0, attempt=0), verdict


def time_up(rules: Rules, state: State) -> State:
    """The state once the clock's hard limit has passed."""
    return replace(state, status=rules.clock.at_limit) if state.status == "running" else state
