"""Two players in one drill, putting in turn; the same steps as for one, two states side by side.

``each hole``: both play the same putt, the better one wins the hole (more points in a drill that
gives points, else holed beats not holed). The match is over when one leads by more holes than are
left, or after the last hole; level then, it is halved or goes on hole by hole.
``whole drill``: each plays the drill through. With a fixed number of putts both play to the end;
else it is a race, over once one has finished and the other has had as many putts. Finished beats
not finished, then more points win.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from puttvision.drill import engine
from puttvision.drill.engine import State, Status, Step
from puttvision.drill.rules import Rules, TwoPlayers
from puttvision.putts import Putt


@dataclass(frozen=True, slots=True)
class MatchState:
    """Where a match stands."""

    status: Status = "running"
    sides: tuple[State, State] = (State(), State())
    to_play: int = 0
    lead: int = 0
    """Holes the first player is up (``each hole``)."""
    pending: int | None = None
    """What the first player's putt on this hole was worth, hundredths."""
    winner: int | None = None
    """0 or 1 once it is over; None while it runs or where it is halved."""


def start(rules: Rules) -> MatchState:
    """The state before the first putt."""
    return MatchState(sides=(engine.start(rules), engine.start(rules)))


def step(rules: Rules, state: MatchState, putt: Putt) -> tuple[MatchState, Step]:
    """Play one putt of the player whose turn it is; a putt out of turn is set aside."""
    side = state.to_play
    if state.status != "running":
        return state, Step("after the end", side=side, status=state.status)
    two = _two(rules)
    played = engine.setting(rules, state.sides[side])
    if putt.player in two.names and putt.player != two.names[side]:
        reason = f"out of turn: it is {two.names[side]} to putt"
        return state, Step("set aside", reason=reason, side=side, setting=played)
    if two.compare == "each hole":
        return _hole(rules, state, putt)
    return _whole(rules, state, putt)


def _two(rules: Rules) -> TwoPlayers:
    if rules.two_players is None:
        raise ValueError(f"{rules.name} is a drill for one player")
    return rules.two_players


def _hole(rules: Rules, state: MatchState, putt: Putt) -> tuple[MatchState, Step]:
    side, one = state.to_play, state.sides[state.to_play]
    n_holes = rules.stages[0].putts or 0
    extra = one.played >= n_holes  # level after the last hole: the last one is played again
    before = one._replace(status="running", played=n_holes - 1) if extra else one
    after, result = engine.step(rules, before, putt)
    if not result.counted:
        return state, result._replace(side=side)
    worth = result.points if rules.gives_points else 100 * result.made
    if side == 0:
        sides = (after, state.sides[1])
        now = replace(state, sides=sides, to_play=1, pending=worth)
        return now, result._replace(side=0, status="running")
    first = state.pending or 0
    lead = state.lead + (first > worth) - (first < worth)
    left = n_holes - after.played
    over = abs(lead) > left or (left == 0 and _two(rules).level == "halved")
    now = MatchState(
        status="finished" if over else "running",
        sides=(state.sides[0], after),
        to_play=0,
        lead=lead,
        winner=None if not over or lead == 0 else int(lead < 0),
    )
    return now, result._replace(side=1, status=now.status)


def _whole(rules: Rules, state: MatchState, putt: Putt) -> tuple[MatchState, Step]:
    side = state.to_play
    after, result = engine.step(rules, state.sides[side], putt)
    if result.kind == "set aside":
        return state, result._replace(side=side)
    sides = (after, state.sides[1]) if side == 0 else (state.sides[0], after)
    now = replace(state, sides=sides, to_play=1 - side)
    if sides[now.to_play].status != "running":
        now = replace(now, to_play=side)
    done = [one.status != "running" for one in sides]
    finished = [one.status == "finished" for one in sides]
    race = any(stage.putts is None for stage in rules.stages)
    level_putts = side == 1 or sides[1].status != "running"
    if all(done) or (race and any(finished) and level_putts):
        if finished[0] != finished[1]:
            winner: int | None = int(finished[1])
        else:
            points = [engine.total_points(rules, one) for one in sides]
            winner = None if points[0] == points[1] else int(points[1] > points[0])
        now = replace(now, status="finished", winner=winner)
    return now, result._replace(side=side, status=now.status)


def time_up(rules: Rules, state: MatchState) -> MatchState:
    """The state once the clock's hard limit has passed: whoever is ahead has won."""
    if state.status != "running":
        return state
    ahead = state.lead or (
        engine.total_points(rules, state.sides[0]) - engine.total_points(rules, state.sides[1])
    )
    return replace(state, status=rules.clock.at_limit, winner=None if ahead == 0 else int(ahead < 0))
