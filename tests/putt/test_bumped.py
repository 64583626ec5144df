"""A putt that rolled while the tripod was moved is for a person to look at."""

from types import SimpleNamespace

import pytest

from puttvision.putt.bumped import marked_if_bumped
from puttvision.putts import Figure, Putt


def rolled(start_s, end_s):
    putt = Putt(number=1, outcome="holed", start_s=Figure(start_s), confidence=0.98, review=("close",))
    return SimpleNamespace(putt=putt, cut=SimpleNamespace(track=SimpleNamespace(time_s=[start_s, end_s])))


@pytest.mark.parametrize(("bump_s", "marked"), [(4.9, False), (5.0, True), (7.1, True), (7.6, False)])
def test_a_bump_marks_the_putt_it_met(bump_s, marked):
    (putt,) = marked_if_bumped([rolled(5.0, 7.0)], [1.0, bump_s])
    assert any("tripod was moved" in why for why in putt.review) == marked
    assert putt.confidence == (0.5 if marked else 0.98)
    assert putt.review[0] == "close"
    assert putt.outcome == "holed"
