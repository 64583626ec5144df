"""100,000 putts in under a second, in one call; process time, so that a busy machine changes nothing."""

import random
import time

import pytest

from puttvision.drill.catalogue import load
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.putts import Putt

N_PUTTS = 100_000


@pytest.mark.parametrize(
    ("name", "options", "make"),
    [
        pytest.param("head-gate-streak", Options(target=N_PUTTS), 0.98, id="streak with many restarts"),
        pytest.param("head-gate-streak", Options(target=N_PUTTS), 1.0, id="streak without a miss"),
        pytest.param("ball-gate-points", Options(putts=N_PUTTS), 0.4, id="points"),
        pytest.param("nine-six-three", Options(), 0.05, id="three stages"),
    ],
)
def test_a_hundred_thousand_putts_in_a_second(name, options, make):
    chance = random.Random(4)
    putts = [
        Putt(
            number=number,
            outcome="holed" if chance.random() < make else "missed",
            gate_result=chance.choice(("clear", "touched", "outside")),
        )
        for number in range(1, N_PUTTS + 1)
    ]
    rules = with_options(load(name), options)
    for _ in range(3):  # the best of three, where the first is not good enough
        began_s = time.process_time()
        card = score(rules, putts)
        took_s = time.process_time() - began_s
        if took_s < 1.0:
            break
    assert card.counted == N_PUTTS
    assert took_s < 1.0
