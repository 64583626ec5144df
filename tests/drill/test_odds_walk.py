"""A drill's chain goes, putt by putt, where an independent machine and the scoring go."""

import random

import numpy as np
import pytest
from plain_machine import plain_score

from puttvision.drill import play
from puttvision.drill.catalogue import load, names
from puttvision.drill.chain import FAILED, FINISHED, TooManyStates, explore
from puttvision.drill.chances import Player, events
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.putts import Putt

PLAYER = Player(make=(("", 0.5),), gate=0.5)
EXACT = [name for name in names() if not load(name).measures]


class Walker:
    """Follows one drill through its chain; an unseen putt moves nothing."""

    def __init__(self, chain, with_gate):
        self.chain, self.with_gate = chain, with_gate
        self.state, self.points, self.restarts, self.counted, self.row = 0, 0, 0, 0, ""

    def play(self, outcome, gate):
        if self.state < 0 or outcome == "unseen":
            return
        through = gate in ("clear", "touched")
        event = (0 if outcome == "holed" else 2) + (not through)
        if not self.with_gate:
            event = int(outcome != "holed")
        self.points += int(self.chain.points[event, self.state])
        self.restarts += bool(self.chain.restarted[event, self.state])
        self.counted += 1
        self.state = int(self.chain.to[event, self.state])

    @property
    def status(self):
        return {-1 - FINISHED: "finished", -1 - FAILED: "failed"}.get(self.state, "running")


def random_putts(chance):
    make, unseen = chance.choice((0.2, 0.5, 0.8, 0.95, 1.0)), chance.choice((0.0, 0.05, 0.3))
    return [
        (
            number,
            "unseen" if chance.random() < unseen else "holed" if chance.random() < make else "missed",
            chance.choice(("clear", "touched", "outside", "none")),
        )
        for number in range(1, chance.randrange(0, 60))
    ]


OPTIONS = {
    "head-gate-streak": [{"target": target} for target in (1, 2, 7, 20, 50, 100)],
    "ball-gate-points": [{"n_putts": n, "strict": s} for n in (1, 10, 20, 40) for s in (False, True)],
    "nine-six-three": [{}],
}


@pytest.mark.parametrize("drill", OPTIONS)
def test_ten_thousand_walks_end_where_the_plain_machine_does(drill):
    # plain_machine.py is written from the format's words and imports nothing of the engine
    chance = random.Random(31)
    states = set()
    each = 10_000 // len(OPTIONS[drill]) + 1
    for given in OPTIONS[drill]:
        options = Options(
            target=given.get("target"), putts=given.get("n_putts"), strict=given.get("strict", False)
        )
        rules = with_options(load(drill), options)
        chain = explore(rules, PLAYER)
        for _ in range(each):
            putts = random_putts(chance)
            expected = plain_score(drill, putts, **given)
            walker = Walker(chain, rules.uses_gate)
            for _number, outcome, gate in putts:
                walker.play(outcome, gate)
            got = (walker.status, walker.counted, walker.restarts, walker.points)
            points = round(100 * (expected["points"] or 0))
            assert got == (expected["state"], expected["counted"], expected["restarts"], points), putts
            states.add((got[0], got[2] > 0, bool(expected["set_aside"])))
    assert len(states) >= 4, "the walks reach too little of the drill to show anything"


@pytest.mark.parametrize("drill", [name for name in EXACT if not load(name).two_players])
def test_every_drill_walks_as_it_is_scored(drill):
    rules = load(drill)
    chain = explore(rules, PLAYER)
    chance = random.Random(5)
    for _ in range(100):
        putts = random_putts(chance)
        card = score(rules, [Putt(number=n, outcome=o, gate_result=g) for n, o, g in putts])
        walker = Walker(chain, rules.uses_gate)
        for _number, outcome, gate in putts:
            walker.play(outcome, gate)
        out = card.to_json()
        got = (walker.status, walker.counted, walker.restarts)
        assert got == (out["state"], out["counted"], out["restarts"])
        assert walker.points == (card.points or 0)


@pytest.mark.parametrize("drill", EXACT)
def test_a_chain_is_whole(drill):
    chain = explore(load(drill), PLAYER)
    assert chain.chance.sum(axis=0) == pytest.approx(np.ones(chain.n))
    out = np.asarray(chain.matrix().sum(axis=1)).ravel() + chain.end_chances().sum(axis=1)
    assert out == pytest.approx(np.ones(chain.n))
    assert chain.to.max() < chain.n
    assert chain.states[0] == play.start(load(drill))
    assert all(state.status == "running" for state in chain.states)


@pytest.mark.parametrize(
    ("drill", "options", "n"),
    [
        ("head-gate-streak", Options(target=100), 100),
        ("nine-six-three", Options(), 12),  # 2, then made and missed in stages 2 and 3: 2 + 6 + 4
        ("ball-gate-points", Options(putts=20), 20),
    ],
)
def test_no_state_too_many(drill, options, n):
    assert explore(with_options(load(drill), options), PLAYER).n == n


def test_a_drill_with_too_many_states_is_not_explored_to_the_end():
    with pytest.raises(TooManyStates, match="more than 49 states"):
        explore(load("head-gate-streak"), PLAYER, most_states=49)


def test_events_that_never_happen_are_not_followed():
    chain = explore(load("head-gate-streak"), Player(make=(("", 1.0),)))
    assert chain.n == 50
    assert (chain.chance[1] == 0).all()
    assert len(events(load("head-gate-streak"), PLAYER)) == 2


def test_measures_have_no_chain():
    with pytest.raises(ValueError, match="leave_m"):
        explore(load("lag-zone"), PLAYER)
