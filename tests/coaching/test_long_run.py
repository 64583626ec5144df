"""The long run of a stroke against the stroke that the putts were rolled with (`sample_media.year`)."""

import random
from dataclasses import replace
from datetime import date

import pytest

from puttvision.coaching.attempts import Attempt
from puttvision.coaching.long_run import ENOUGH, long_run, newest
from puttvision.coaching.propagate import at_the_hole
from sample_media.year import FALL, STIMP_FT, one_putt

TEN_FT_M = 3.048


def rolled(n, line_deg, pace, read_deg=0.0, seed=3, session=1):
    chance = random.Random(seed)
    return [
        Attempt(
            session=session,
            day=date(2026, 1, session),
            stimp_ft=STIMP_FT,
            putt=one_putt(chance, k + 1, TEN_FT_M, (line_deg, pace, read_deg)),
        )
        for k in range(n)
    ]


@pytest.mark.parametrize(("line_deg", "pace", "read_deg"), [(0.9, 0.05, 0.0), (0.4, 0.08, 0.5)])
def test_it_finds_the_stroke_and_slope_again_and_the_make_rate(line_deg, pace, read_deg):
    putts = rolled(2000, line_deg, pace, read_deg)
    found = long_run(putts)
    assert found.spot.cross_slope == pytest.approx(FALL, rel=0.05)
    assert found.spot.start_spread_deg == pytest.approx(line_deg, rel=0.05)
    assert found.spot.run_out_spread_m == pytest.approx((TEN_FT_M + 0.35) * pace, rel=0.05)
    assert found.spot.read_m == pytest.approx(TEN_FT_M * read_deg * 3.14159 / 180, abs=0.004)
    missed = sum(not one.holed for one in putts) / len(putts)
    assert found.at_hole.miss_chance == pytest.approx(missed, abs=0.035)  # 3 standard errors of 2000 putts
    assert found.at_hole == at_the_hole(found.spot)


def test_it_tells_pace_from_line():
    assert long_run(rolled(200, 0.2, 0.16)).by_pace
    assert not long_run(rolled(200, 1.2, 0.04)).by_pace


def test_too_few_putts_say_nothing_and_an_older_session_speaks():
    few, many = rolled(ENOUGH - 1, 0.6, 0.05, session=2), rolled(30, 0.6, 0.05)
    assert long_run(few) is None
    assert newest([*many, *few]) == long_run(many)
    assert newest([]) is None
    assert long_run([replace(one, putt=replace(one.putt, hole_distance_m=type(one.putt.run_out_m)()))
                     for one in many]) is None  # fmt: skip
