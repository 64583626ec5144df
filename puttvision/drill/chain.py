"""A drill as a Markov chain, built from the engine itself by exploring its states.

There is no second copy of the rules: every state is stepped with each putt that can be told apart
(`chances.events`), and what the engine answers is written down. Works for one player and for two.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.drill import play
from puttvision.drill.chances import Player, event_chances, events
from puttvision.drill.match import MatchState
from puttvision.drill.play import AnyState
from puttvision.drill.rules import Rules, Setting
from puttvision.drill.transitions import Matrix, matrix

MOST_STATES = 40_000
"""Explored in about a second; a drill with more is simulated."""

FINISHED, FAILED = 0, 1
WON_FIRST, WON_SECOND, HALVED = 0, 1, 2


class TooManyStates(Exception):
    """The drill has more states than are worth exploring."""


@dataclass(frozen=True, slots=True)
class Chain:
    """A drill's n running states, the start first, and what each of E putts (events) does in them."""

    states: tuple[AnyState, ...]
    to: NDArray[np.intp]
    """Shape (E, n): the next state, or -1 - end for an end (`FINISHED`, `FAILED`; for two players
    `WON_FIRST`, `WON_SECOND`, `HALVED`)."""
    chance: NDArray[np.float64]
    """Shape (E, n); columns sum to 1."""
    points: NDArray[np.int64]
    """Shape (E, n): change of the total of the player who putts, hundredths."""
    restarted: NDArray[np.bool_]
    """Shape (E, n)."""
    side: NDArray[np.intp]
    """Shape (n,): who putts, 0 or 1."""
    n_ends: int

    @property
    def n(self) -> int:
        return len(self.states)

    def matrix(self, only: NDArray[np.bool_] | None = None) -> Matrix:
        """Chances from state to state, shape (n, n); ``only``: of the steps where it is true."""
        goes = self.to >= 0 if only is None else (self.to >= 0) & only
        event, state = np.nonzero(goes)
        return matrix(self.chance[event, state], state, self.to[event, state], self.n)

    def end_chances(self) -> NDArray[np.float64]:
        """Chance of each end from each state, shape (n, n_ends)."""
        out = np.zeros((self.n, self.n_ends))
        event, state = np.nonzero(self.to < 0)
        np.add.at(out, (state, -1 - self.to[event, state]), self.chance[event, state])
        return out

    def reward(self, each: NDArray[np.generic], power: int = 1) -> NDArray[np.float64]:
        """Mean of ``each`` (shape (E, n)) to a power, over the events of each state; shape (n,)."""
        return np.asarray((self.chance * each.astype(float) ** power).sum(axis=0))


def explore(rules: Rules, player: Player, most_states: int = MOST_STATES) -> Chain:
    """The chain of a drill for a player; events of no chance are not followed.

    Raises TooManyStates, and DrillError where a chance is lacking. The rules must read nothing of a
    putt but its outcome and gate result (``rules.measures`` is empty).
    """
    if rules.measures:
        raise ValueError(f"{rules.name} reads {', '.join(sorted(rules.measures))}: it has no finite chain")
    putts = events(rules, player)
    known: dict[tuple[int, Setting, int], tuple[float, ...]] = {}
    index: dict[AnyState, int] = {play.start(rules): 0}
    states = list(index)
    to: list[list[int]] = []
    chance: list[tuple[float, ...]] = []
    points: list[list[int]] = []
    restarted: list[list[bool]] = []
    for state in states:  # grows while it is read
        weights = _weights(rules, player, state, known)
        chance.append(weights)
        to.append([])
        points.append([])
        restarted.append([])
        for putt, weight in zip(putts, weights, strict=True):
            if weight == 0:
                after, change, again = state, 0, False
            else:
                after, result = play.step(rules, state, putt)
                change, again = result.points_change, result.restarted
            if after.status == "running":
                if after not in index:
                    index[after] = len(states)
                    states.append(after)
                    if len(states) > most_states:
                        raise TooManyStates(f"{rules.name} has more than {most_states} states")
                to[-1].append(index[after])
            else:
                to[-1].append(-1 - end_of(after))
            points[-1].append(change)
            restarted[-1].append(again)
    return Chain(
        states=tuple(states),
        to=np.array(to, dtype=np.intp).T,
        chance=np.array(chance, dtype=float).T,
        points=np.array(points, dtype=np.int64).T,
        restarted=np.array(restarted, dtype=bool).T,
        side=np.array([state.to_play if isinstance(state, MatchState) else 0 for state in states]),
        n_ends=3 if rules.two_players else 2,
    )


def _weights(
    rules: Rules, player: Player, state: AnyState, known: dict[tuple[int, Setting, int], tuple[float, ...]]
) -> tuple[float, ...]:
    side = state.to_play if isinstance(state, MatchState) else 0
    key = (play.to_play(state).stage, play.setting(rules, state), side)
    found = known.get(key)
    if found is None:
        known[key] = found = event_chances(rules, player, *key)
    return found


def end_of(state: AnyState) -> int:
    """Which end a drill that is over has come to."""
    if isinstance(state, MatchState):
        return HALVED if state.winner is None else state.winner
    return FINISHED if state.status == "finished" else FAILED
