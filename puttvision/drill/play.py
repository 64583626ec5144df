"""The engine's front: the same calls for one player and for two.

>>> rules = with_options(load_catalogue("head-gate-streak"), Options(target=10))
>>> state = start(rules)
>>> state, result = step(rules, state, Putt(number=1, outcome="holed"))
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias, cast

from puttvision.drill import engine, match
from puttvision.drill.engine import State, Step
from puttvision.drill.match import MatchState
from puttvision.drill.rules import Rules, Setting
from puttvision.putts import Putt

AnyState: TypeAlias = State | MatchState


def start(rules: Rules) -> AnyState:
    """The state before the first putt."""
    return match.start(rules) if rules.two_players else engine.start(rules)


def step(rules: Rules, state: AnyState, putt: Putt) -> tuple[AnyState, Step]:
    """Play one putt; pure. The state of a drill that is over never changes again."""
    if isinstance(state, MatchState):
        return match.step(rules, state, putt)
    return engine.step(rules, state, putt)


def remembering(rules: Rules) -> Callable[[AnyState, Putt], tuple[AnyState, Step]]:
    """`step` of these rules that works nothing out twice: for long lists of putts."""
    if rules.two_players:
        return lambda state, putt: step(rules, state, putt)
    return cast(Callable[[AnyState, Putt], tuple[AnyState, Step]], engine.remembering(rules))


def setting(rules: Rules, state: AnyState) -> Setting:
    """How the next putt is to be played."""
    return engine.setting(rules, to_play(state))


def to_play(state: AnyState) -> State:
    """The state of the player whose putt it is."""
    return state.sides[state.to_play] if isinstance(state, MatchState) else state


def time_up(rules: Rules, state: AnyState) -> AnyState:
    """The state once the clock's hard limit has passed."""
    if isinstance(state, MatchState):
        return match.time_up(rules, state)
    return engine.time_up(rules, state)
