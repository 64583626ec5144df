"""Where misses come from: shares that add up, and agree with putts rolled by brute force."""

import itertools
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from rolled import HOLE_M, as_attempts, is_holed, roll

from puttvision.coaching.attempts import Attempt
from puttvision.coaching.causes import CAUSES, Parts, break_shape, explain, shares, why
from puttvision.coaching.intervals import TooFew
from puttvision.coaching.propagate import Spot, at_the_hole
from puttvision.putts import Figure, Putt

DAY = date(2026, 5, 3)
SPOTS = [
    pytest.param(
        Spot(
            distance_m=3.048, stimp_ft=9.5, cross_slope=0.01, start_spread_deg=0.8, run_out_m=0.45,
            run_out_spread_m=0.2, read_m=0.02,
        ),
        id="10 ft, 1 %, read 2 cm off",
    ),
    pytest.param(
        Spot(
            distance_m=3.048, stimp_ft=9.0, cross_slope=-0.01, start_spread_deg=0.4, run_out_m=0.6,
            run_out_spread_m=0.25, read_m=-0.03,
        ),
        id="10 ft, the other way, tight line",
    ),
    pytest.param(
        Spot(
            distance_m=1.829, stimp_ft=9.0, cross_slope=0.01, start_spread_deg=1.2, run_out_m=0.35,
            run_out_spread_m=0.25,
        ),
        id="6 ft, nearly straight",
    ),
]  # fmt: skip


class Rolled:
    """Many putts of a spot by brute force, and the same with any of the three errors taken away."""

    def __init__(self, spot, n=20_000, seed=11):
        rng = np.random.default_rng(seed)
        self.spot, self.n = spot, n
        straight, _ = self.roll(np.zeros(1), np.array([spot.run_out_m]))
        # the aim that sends the usual ball to read_m beside the centre
        self.right_aim = -math.atan(straight[0] / spot.distance_m)
        self.read = math.atan(spot.read_m / spot.distance_m)
        self.line = rng.normal(0, math.radians(spot.start_spread_deg), n)
        self.run = rng.normal(spot.run_out_m, spot.run_out_spread_m, n)

    def roll(self, angle, run):
        spot = self.spot
        return roll(spot.distance_m, spot.stimp_ft, spot.cross_slope, angle, run)

    def with_errors(self, *errors):
        line = self.line if "line" in errors else np.zeros(self.n)
        run = self.run if "pace" in errors else np.full(self.n, self.spot.run_out_m)
        read = self.read if "read" in errors else 0.0
        if not {"line", "pace"} & set(errors):
            line, run = line[:1], run[:1]
        return self.roll(self.right_aim + read + line, run)


@pytest.mark.slow
@pytest.mark.parametrize("spot", SPOTS)
def test_shares_of_variance_as_brute_force(spot):
    """Within 0.02, the tolerance asked for; slopes of 1 %, see `propagate.py` on steeper ones."""
    rolled = Rolled(spot)
    squares = {name: np.nanmean(rolled.with_errors(name)[0] ** 2) for name in ("line", "pace", "read")}
    whole = np.nanmean(rolled.with_errors("line", "pace", "read")[0] ** 2)
    found = at_the_hole(spot)
    assert sum(found.shares) == pytest.approx(1, abs=1e-12)
    assert math.sqrt(found.mean_square_m2) == pytest.approx(math.sqrt(whole), rel=0.02)
    assert found.line_m2 / whole == pytest.approx(squares["line"] / whole, abs=0.02)
    # with the read comes what the curvature of the break adds to the mean
    assert found.pace_m2 / whole == pytest.approx(np.nanvar(rolled.with_errors("pace")[0]) / whole, abs=0.02)
    both = np.nanmean(rolled.with_errors("pace", "read")[0]) ** 2
    assert found.read_m2 / whole == pytest.approx(both / whole, abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("spot", SPOTS)
def test_shares_of_misses_as_brute_force(spot):
    rolled = Rolled(spot)
    names = ("line", "pace", "read")
    missed = {
        errors: 1 - is_holed(*rolled.with_errors(*errors)).mean()
        for n in range(4)
        for errors in itertools.combinations(names, n)
    }
    mean = dict.fromkeys(names, 0.0)
    for order in itertools.permutations(names):
        errors: set[str] = set()
        for name in order:
            before = tuple(n for n in names if n in errors)
            errors.add(name)
            mean[name] += (missed[tuple(n for n in names if n in errors)] - missed[before]) / 6
    found = at_the_hole(spot)
    assert found.miss_chance == pytest.approx(missed[names], abs=0.02)
    for name in names:
        assert getattr(found, f"miss_by_{name}") == pytest.approx(mean[name], abs=0.02)
    assert found.miss_by_line + found.miss_by_pace + found.miss_by_read == pytest.approx(found.miss_chance)


@pytest.mark.slow
@pytest.mark.parametrize("spot", SPOTS)
def test_parts_of_measured_putts_as_brute_force(spot):
    """What is split from start lines, offsets and run-outs alone, against the putts rolled again."""
    rolled = Rolled(spot, n=4000)
    angle = rolled.right_aim + rolled.read + rolled.line
    offset, speed = rolled.roll(angle, rolled.run)
    found = explain(as_attempts(DAY, spot.distance_m, spot.stimp_ft, angle, rolled.run, offset, speed))
    reached = ~np.isnan(offset)
    assert len(found.parts) == reached.sum()
    assert len(found.short) == (~reached).sum()
    whole = np.mean(offset[reached] ** 2)
    by_pace = rolled.with_errors("pace")[0]
    both = reached & ~np.isnan(by_pace)
    true = {"start line": spot.distance_m * np.tan(rolled.line), "pace": by_pace}
    for cause, part in true.items():
        part = part - part[both].mean()
        share = np.mean(part[both] * offset[both]) / whole
        assert found.shares.all[CAUSES.index(cause)] == pytest.approx(share, abs=0.02)
        mine = np.array([one.part(cause) for one in found.parts]) / 1000
        assert np.quantile(np.abs(mine - part[reached])[both[reached]], 0.95) < 0.006
    assert found.shares.read == pytest.approx(np.mean(offset[reached]) ** 2 / whole, abs=0.02)
    assert abs(found.shares.the_rest) < 0.02
    assert sum(found.shares.all) == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize("run_out_m", [0.02, 0.3, 1.2])
def test_break_shape_as_rolled(run_out_m):
    spot = {"distance_m": 3.0, "stimp_ft": 9.0, "slope": 0.01}
    offset, _ = roll(angle_rad=np.zeros(1), run_out_m=np.array([run_out_m]), **spot)
    k = 5 / 7 * 9.80665 * 0.01 / (2 * 1.83**2 / (2 * 9.0 * 0.3048))
    assert offset[0] == pytest.approx(k * break_shape(3.0, run_out_m), rel=0.01)


def test_die_in_break_is_twice_as_for_even_speed():
    # d - R ln(1 + d/R) tends to d for R to 0 and to d^2 / 2R for large R (series of the logarithm)
    assert break_shape(3.0, 0.0) == 3.0
    assert break_shape(3.0, 1000.0) == pytest.approx(4.5 / 1000, rel=0.01)


def an_attempt(number, offset_mm, start_deg, run_m=0.4, outcome=None, **more):
    holed = abs(offset_mm) < 40
    return Attempt(
        session=1,
        day=DAY,
        putt=Putt(
            number=number,
            outcome=outcome or ("holed" if holed else "missed"),
            hole_distance_m=Figure(3.0),
            start_direction_to_hole_deg=Figure(start_deg),
            hole_offset_mm=Figure(offset_mm),
            run_out_m=Figure(run_m),
            **more,
        ),
    )


def straight(degs, run_m=0.4):
    """Putts on a flat green: where they pass is where they started."""
    return [
        an_attempt(i, 3000 * math.sin(math.radians(deg)), deg, run_m) for i, deg in enumerate(degs, start=1)
    ]


def test_a_pushed_putt_missed_by_its_start_line():
    found = explain(straight([0.1, -0.2, 0.0, 0.2, -0.1, 2.0]))
    miss = found.parts[-1]
    assert miss.cause == "start line"
    assert "right by starting off its usual line" in why(miss)
    assert found.causes == {"start line": 1, "pace": 0, "read": 0, "the rest": 0}


def test_a_tight_row_beside_the_hole_missed_by_the_read():
    found = explain(straight([1.5, 1.6, 1.55, 1.45, 1.5]))
    assert {one.cause for one in found.parts} == {"read"}
    assert found.shares.read > 0.99


def test_a_firm_putt_over_the_edge_missed_by_pace():
    putts = straight([0.3] * 9)
    putts.append(an_attempt(10, 20.0, 0.3, 2.5, "missed"))
    miss = explain(putts).parts[-1]
    assert miss.cause == "pace"
    assert "too firm" in why(miss)


def test_a_short_putt_missed_by_pace_without_an_offset():
    putts = straight([0.1] * 5)
    short = Putt(number=9, outcome="missed", run_out_m=Figure(-0.2), hole_distance_m=Figure(3.0))
    by_hand = Putt(number=10, outcome="missed", miss_length="short")
    found = explain([*putts, *(Attempt(session=1, day=DAY, putt=putt) for putt in (short, by_hand))])
    assert found.short == ((1, 9), (1, 10))
    assert found.causes["pace"] == 2


def test_a_putt_that_met_a_post_of_the_gate_missed_by_its_start_line():
    putts = straight([0.1] * 5)
    stopped = Putt(number=9, outcome="missed", gate_result="touched", run_out_m=Figure(-0.4))
    holed = replace(putts[0].putt, number=10, outcome="holed", gate_result="touched")
    found = explain([*putts, *(Attempt(session=1, day=DAY, putt=putt) for putt in (stopped, holed))])
    assert (found.at_gate, found.short) == (((1, 9),), ())
    assert (found.causes["start line"], found.causes["pace"]) == (1, 0)
    assert found.left_out == 1  # what it did beyond the post tells nothing of the stroke
    assert found.shares == explain(putts).shares


def test_too_few_from_one_spot_are_left_out():
    found = explain(straight([0.1, 0.2, 0.3]))
    assert found.parts == ()
    assert found.left_out == 3
    assert isinstance(found.shares, TooFew)


def test_parts_add_up_putt_by_putt():
    rng = np.random.default_rng(3)
    putts = [an_attempt(i, rng.normal(0, 60), rng.normal(0, 1), rng.uniform(0, 1)) for i in range(1, 40)]
    for one in explain(putts).parts:
        assert math.fsum(one.part(cause) for cause in CAUSES) == pytest.approx(one.offset_mm)


def test_shares_of_one_lone_part():
    row = {"session": 1, "holed": True, "takes_mm": 45, "takes_usually_mm": 45, "cause": None}
    parts = [
        Parts(number=i, offset_mm=y, line_mm=y, pace_mm=0, read_mm=0, rest_mm=0, **row)
        for i, y in enumerate([5.0, -3, 2, 8, -9])
    ]
    assert shares(parts).all == pytest.approx((1, 0, 0, 0))
    assert HOLE_M > 0.045


def test_perfect_stroke_never_misses():
    spot = Spot(
        distance_m=3, stimp_ft=10, cross_slope=0.02, start_spread_deg=1e-6, run_out_m=0.4,
        run_out_spread_m=1e-6,
    )  # fmt: skip
    assert at_the_hole(spot).miss_chance == pytest.approx(0, abs=1e-9)
