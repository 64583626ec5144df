"""One player's drill as a pure step: rules, state and putt in; next state and what happened out.

`State` holds what the future depends on and nothing else, so that its reachable values are few and
a drill's Markov chain can be built by exploring them. Totals (counts, points so far, restarts) are
summed from the `Step` of each putt; see `tally.py`. Both are named tuples: as immutable and hashable
as frozen dataclasses, made in a third of the time, which 100,000 putts in a second need.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Literal, NamedTuple

from puttvision.drill.judge import CannotTell, Judged, judge
from puttvision.drill.rules import OPEN, Consequence, Distance, Rules, Setting, Stage, TurnOf
from puttvision.putts import Putt

Status = Literal["running", "finished", "failed"]

_REMEMBERED = 5_000
"""Steps kept by `remembering`: more than any drill needs that comes back to the same state often."""
_BACK = ("count back", "stage back", "start again")


class State(NamedTuple):
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


class Step(NamedTuple):
    """What one putt did."""

    kind: Literal["made", "missed", "played on", "set aside", "after the end"]
    reason: str = ""
    """Why it was set aside."""
    stage: int = 0
    """Index of the stage it was played in."""
    setting: Setting = OPEN
    holed: bool = False
    good: bool = False
    """The try counts as made; in a stage that is played out a ball holed with one putt too many does not."""
    points: int = 0
    """Points it gave (or took), hundredths."""
    points_change: int = 0
    """Change of the drill's total, hundredths; differs from ``points`` where a restart clears the board."""
    fault: Consequence | None = None
    forfeit: str = ""
    restarted: bool = False
    cleared: bool = False
    """The count shown for the stage begins again (fault, next stage, next round)."""
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
        """Whether the putt was made (in a stage that is played out: holed)."""
        return self.kind == "made"


def start(_rules: Rules) -> State:
    """The state before the first putt."""
    return State()


# --- what is played next ---------------------------------------------------------------------


@lru_cache(maxsize=1_000)
def _turned(setting: Setting, of: TurnOf, value: str | float) -> Setting:
    match of:
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
    base = stage.usual
    for turn in stage.turns:
        at = _position(stage, state) if turn.follows == "putts" else state.made
        base = _turned(base, turn.of, turn.sequence[at % len(turn.sequence)])
    return base


def _position(stage: Stage, state: State) -> int:
    if stage.tracks_played:
        return state.played
    return state.made + state.missed if stage.tracks_missed else state.turn


# --- one putt --------------------------------------------------------------------------------


def step(rules: Rules, state: State, putt: Putt) -> tuple[State, Step]:
    """Play one putt. A drill that is over stays as it is; a putt that cannot be judged is set aside."""
    return advance(rules, state, judge(rules.stages[state.stage], putt, state.taken + 1))


def advance(rules: Rules, state: State, judged: Judged | CannotTell) -> tuple[State, Step]:
    """Play one putt that was judged by `judge` with ``state.taken + 1``; as `step`."""
    if state.status != "running":
        return state, Step("after the end", status=state.status, stage=state.stage)
    stage = rules.stages[state.stage]
    played = setting(rules, state) if stage.turns else stage.usual
    if isinstance(judged, CannotTell):
        return state, Step("set aside", reason=judged.reason, stage=state.stage, setting=played)
    if stage.play_out and not judged.holed and state.taken + 1 < stage.pick_up_after:
        after = _count_putt(rules, state._replace(taken=state.taken + 1))
        return after, Step("played on", stage=state.stage, setting=played, status=after.status)
    return _end_try(rules, stage, state, judged, played)


def remembering(rules: Rules) -> Callable[[State, Putt], tuple[State, Step]]:
    """`step` of these rules that works nothing out twice: for long lists of putts."""
    by_figures = bool(rules.measures)
    judgements: dict[tuple[object, ...], Judged | CannotTell] = {}
    steps: dict[tuple[State, Judged | CannotTell], tuple[State, Step]] = {}

    def known(state: State, putt: Putt) -> tuple[State, Step]:
        seen = (state.stage, state.taken, putt.outcome, putt.gate_result, putt.lipped)
        judged = None if by_figures else judgements.get(seen)
        if judged is None:
            judged = judgements[seen] = judge(rules.stages[state.stage], putt, state.taken + 1)
        done = steps.get((state, judged))
        if done is None:
            done = advance(rules, state, judged)
            if len(steps) < _REMEMBERED:
                steps[state, judged] = done
        return done

    return known


def _count_putt(rules: Rules, state: State) -> State:
    if rules.most_putts is None:
        return state
    over = state.putts + 1 >= rules.most_putts and state.status == "running"
    return state._replace(putts=state.putts + 1, status="failed" if over else state.status)


def _end_try(rules: Rules, stage: Stage, state: State, judged: Judged, played: Setting) -> tuple[State, Step]:
    points = judged.points if rules.lowest_points is None else _floored(rules, state, judged.points)
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
            after, round_over = _end_round(rules, after._replace(status="finished"), won=True)
    elif fault is None and rules.most_putts is None and rules.series is None:
        return after, _ordinary(state.stage, played, judged, points, stage.play_out)
    after = _count_putt(rules, after)
    return after, Step(
        "made" if (judged.holed if stage.play_out else judged.good) else "missed",
        "",
        state.stage,
        played,
        judged.holed,
        judged.good,
        points,
        total_points(rules, after) - total_points(rules, state) if rules.tracks_points else points,
        fault,
        forfeit,
        restarted,
        fault in _BACK or after.stage != state.stage or after.round != state.round,
        passed,
        round_over,
        0,
        after.status,
    )


@lru_cache(maxsize=1_000)
def _ordinary(stage: int, played: Setting, judged: Judged, points: int, play_out: bool) -> Step:
    """The step of a putt that only adds to the count."""
    return Step(
        "made" if (judged.holed if play_out else judged.good) else "missed",
        stage=stage,
        setting=played,
        holed=judged.holed,
        good=judged.good,
        points=points,
        points_change=points,
    )


def _floored(rules: Rules, state: State, points: int) -> int:
    low = rules.lowest_points or 0
    return max(state.points + points, low) - state.points


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
    return state._replace(stage=stage, made=0, missed=0, played=0, turn=0, taken=0, count_points=0)


def _go_back(rules: Rules, before: State, after: State, fault: Consequence) -> tuple[State, bool]:
    if fault == "end":
        return after._replace(status="failed"), False
    if fault == "count one back":
        return after._replace(made=max(after.made - 1, 0), missed=0), False
    to = {"count back": before.stage, "stage back": max(before.stage - 1, 0)}.get(fault, 0)
    after = _cleared(after, to)
    if to == 0:
        after = after._replace(points=0)
    restarted = to == 0 and (before.stage > 0 or (len(rules.stages) == 1 and before.made > 0))
    if restarted and rules.attempts is not None:
        if before.attempt + 1 >= rules.attempts:  # no attempt left: it does not begin again
            return after._replace(status="failed"), False
        after = after._replace(attempt=before.attempt + 1)
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
            return state._replace(status="finished", won=n_won), verdict
        if n_won + series.rounds - n_played < series.win:
            return state._replace(status="failed", won=n_won), verdict
    elif n_played >= series.rounds:
        return state._replace(status="finished"), verdict
    banked = total_points(rules, state)
    next_round = _cleared(state, 0)._replace(status="running", round=n_played, points=0, banked=banked)
    return next_round._replace(won=n_won if series.result == "rounds won" else 0, attempt=0), verdict


def time_up(rules: Rules, state: State) -> State:
    """The state once the clock's hard limit has passed."""
    return state._replace(status=rules.clock.at_limit) if state.status == "running" else state
