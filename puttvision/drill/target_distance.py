"""From how far a drill, with its own target, is finished about as often as a coach asks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from puttvision.drill.absorb import Absorbing, course
from puttvision.drill.chain import FINISHED, TooManyStates, explore
from puttvision.drill.chances import Player, distances
from puttvision.drill.odds_words import times
from puttvision.drill.rules import Distance, Rules
from puttvision.drill.search import hardest
from puttvision.drill.target import Aim, Proposal

STEP = {"ft": 0.5, "m": 0.25}
"""Distances are tried at whole multiples of this, which a coach can pace or tape."""
FARTHEST = {"ft": 40.0, "m": 12.0}


def farthest(rules: Rules, player: Player, aim: Aim) -> Proposal | None:
    """The farthest distance that leaves the chance asked for within the time or putts of ``aim``.

    None where the drill is not played from one distance, is against the clock, for two or reads a measure,
    is finished from anywhere, or less often even from the nearest. The player's chances must hold for any
    distance: a stroke.
    """
    found = distances(rules)
    turned = any(turn.of.startswith("distance") for stage in rules.stages for turn in stage.turns)
    timed = rules.clock.limit_s is not None
    if len(found) != 1 or turned or timed or rules.two_players or rules.measures:
        return None
    if player.stroke is None or aim.limit is None:
        return None
    unit, limit = found[0].unit, aim.limit
    step = STEP[unit]

    def chance_of(steps: int) -> float:
        chain = explore(_moved(rules, Distance(steps * step, unit)), player)
        whole = Absorbing(chain.matrix(), chain.end_chances(), np.arange(chain.n))
        return course(whole, limit).ended_within(limit, FINISHED)

    most = round(FARTHEST[unit] / step)
    try:
        steps, chance = hardest(chance_of, aim.chance, most)
    except TooManyStates:
        return None
    if steps is None or steps >= most:
        return None
    far, farther = (Distance(n * step, unit) for n in (steps, steps + 1))
    harder = chance_of(steps + 1)
    says = f"Or keep the drill's own target and putt from {far}: reached {aim.words} {times(chance)}"
    return Proposal(
        what="distance",
        value=far.value,
        chance=chance,
        says=f"{says} ({farther}: {times(harder)}).",
        harder=(farther.value, harder),
    )


def _moved(rules: Rules, distance: Distance) -> Rules:
    stages = tuple(
        replace(stage, usual=stage.usual._replace(distance=distance)) if stage.distance else stage
        for stage in rules.stages
    )
    return replace(rules, stages=stages)
