"""The drill's running score in clips: before and after each putt, as the engine has it."""

import pytest

from puttvision.drill.catalogue import load, names
from puttvision.drill.scorecard import score
from puttvision.drill.tally import points_text
from puttvision.putts import Putt
from puttvision.review.clips.score import standings

HOLED = [Putt(number=k, outcome="holed", gate_result="clear") for k in range(1, 6)]


def test_points_before_and_after():
    putts = [HOLED[0], Putt(number=2, outcome="missed", gate_result="clear"), *HOLED[2:]]
    found = standings(load("ball-gate-points"), putts)
    assert found[1].before == "0 points, 0 of 20 played"
    assert found[2].after == "1.5 points, 2 of 20 played"
    assert all(found[k].after == found[k + 1].before for k in range(1, 5))
    last = score(load("ball-gate-points"), putts)
    assert found[5].after.startswith(f"{points_text(last.points)} points")


def test_stages_are_named():
    found = standings(load("nine-six-three"), HOLED)
    assert found[1].before == "Stage 1 of 3: 0 of 2"
    assert found[2].after.startswith("Stage 2 of 3")


def test_the_end_is_told_and_later_putts_change_nothing():
    found = standings(load("plus-minus"), [Putt(number=k, outcome="holed") for k in range(1, 9)])
    assert found[5].after.startswith("Finished after 5 putts")
    assert found[8].after == found[5].after
    assert found[8].happened == "after the drill's end"


def test_a_putt_not_seen_is_set_aside():
    found = standings(load("head-gate-streak"), [HOLED[0], Putt(number=2, outcome="unseen")])
    assert found[2].before == found[2].after
    assert found[2].happened.startswith("set aside")


def test_without_a_drill_the_holed_ones_are_counted():
    found = standings(None, [*HOLED[:2], Putt(number=3, outcome="missed"), Putt(number=4, outcome="unseen")])
    assert [found[k].after for k in (1, 2, 3, 4)] == [
        "1 holed of 1", "2 holed of 2", "2 holed of 3", "2 holed of 3",
    ]  # fmt: skip


@pytest.mark.parametrize("drill", names())
def test_every_drill_has_a_line(drill):
    found = standings(load(drill), HOLED)
    assert all(stand.after and stand.before and stand.happened for stand in found.values())
