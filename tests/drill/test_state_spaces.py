"""The engine's state holds what the future depends on and no more: its reachable values are few."""

from itertools import product

import pytest

from puttvision.drill.catalogue import load
from puttvision.drill.options import with_options
from puttvision.drill.play import start, step
from puttvision.drill.rules import Options
from puttvision.putts import Putt

EVENTS = [
    Putt(number=1, outcome=outcome, gate_result=gate)
    for outcome, gate in product(("holed", "missed", "unseen"), ("clear", "outside"))
]


@pytest.mark.parametrize(
    ("name", "options", "n_states"),
    [
        # counts 0..99 running, and finished
        pytest.param("head-gate-streak", Options(target=100), 101, id="streak of 100 with two grips"),
        # putts played 0..19, and finished
        pytest.param("ball-gate-points", Options(), 21, id="20 putts for points"),
        # 2 counts at 9 ft; 3 counts x 2 misses at 6 ft; 4 counts at 3 ft; finished
        pytest.param("nine-six-three", Options(), 13, id="three stages"),
    ],
)
def test_reachable_states_are_few(name, options, n_states):
    rules = with_options(load(name), options)
    seen = {start(rules)}
    waiting = list(seen)
    while waiting:
        state = waiting.pop()
        for event in EVENTS:
            after, _ = step(rules, state, event)
            if after not in seen:
                seen.add(after)
                waiting.append(after)
    assert len(seen) == n_states
