"""Absorbing chains against textbook answers.

Grinstead and Snell, *Introduction to Probability*, 2nd ed., ch. 11.2 (drunkard's walk); Feller, *An
Introduction to Probability Theory and Its Applications*, vol. 1, ch. XIV (gambler's ruin) and IX (coupons);
negative binomial and geometric laws from scipy.stats. Chapters from memory; the formulas are standard.
"""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.sparse import csr_array

from puttvision.drill.absorb import Course, absorbing, course, ever_ends


def chain_of(q, ends):
    """The chain from a dense matrix, found to agree with that from a sparse one."""
    q, ends = np.asarray(q, dtype=float), np.asarray(ends, dtype=float)
    dense, sparse = absorbing(q, ends), absorbing(csr_array(q), ends)
    assert np.array_equal(dense.q, sparse.q.toarray())
    assert np.array_equal(dense.kept, sparse.kept)
    assert np.array_equal(dense.ends, sparse.ends)
    begun = np.zeros(dense.n)
    begun[0] = 1.0
    assert dense.expected(np.ones(dense.n)) == pytest.approx(sparse.expected(np.ones(dense.n)), rel=1e-6)
    assert dense.visits(begun) == pytest.approx(sparse.visits(begun), rel=1e-6)
    assert course(dense, 30).ended == pytest.approx(course(sparse, 30).ended)
    return dense


def walk(n, p, begin):
    """A walk on 1..n-1 with ends at 0 (first) and n; its states are numbered so that ``begin`` is 0."""
    order = [begin, *(i for i in range(1, n) if i != begin)]
    at = {place: i for i, place in enumerate(order)}
    q, ends = np.zeros((n - 1, n - 1)), np.zeros((n - 1, 2))
    for place, i in at.items():
        for to, chance in ((place + 1, p), (place - 1, 1 - p)):
            if to in at:
                q[i, at[to]] = chance
            else:
                ends[i, 0 if to == 0 else 1] = chance
    return chain_of(q, ends)


def test_the_drunkards_walk():
    # Grinstead and Snell, ch. 11.2: corners 0 to 4; from 1, 2, 3 it takes 3, 4, 3 steps on average; it comes
    # home at 0 with chance 3/4, 1/2, 1/4; mean visits from 2 are 1, 2, 1.
    chain = walk(4, 0.5, begin=2)
    assert chain.expected(np.ones(3)) == pytest.approx([4, 3, 3])
    visits = chain.visits(np.array([1.0, 0.0, 0.0]))
    assert visits == pytest.approx([2, 1, 1])
    assert visits @ chain.ends == pytest.approx([0.5, 0.5, 0])
    from_one = np.linalg.solve(np.eye(3) - chain.q, chain.ends[:, :2])
    assert from_one[1] == pytest.approx([0.75, 0.25])
    assert from_one[2] == pytest.approx([0.25, 0.75])


@pytest.mark.parametrize("p", [0.3, 0.45, 0.5, 0.6])
@pytest.mark.parametrize(("n", "begin"), [(5, 1), (10, 5), (30, 20)])
def test_gamblers_ruin(n, begin, p):
    # Feller XIV.2: chance of ruin; XIV.3: mean duration
    q = 1 - p
    ruin = 1 - begin / n if p == 0.5 else ((q / p) ** n - (q / p) ** begin) / ((q / p) ** n - 1)
    duration = (
        begin * (n - begin)
        if p == 0.5
        else begin / (q - p) - n / (q - p) * (1 - (q / p) ** begin) / (1 - (q / p) ** n)
    )
    chain = walk(n, p, begin)
    run = course(chain)
    assert run.is_whole
    assert run.ended_at_last(0) == pytest.approx(ruin, rel=1e-9)
    assert run.mean() == pytest.approx(duration, rel=1e-9)
    assert chain.expected(np.ones(chain.n))[0] == pytest.approx(duration, rel=1e-9)
    assert run.visits.sum() == pytest.approx(duration, rel=1e-9)


def coupons(n):
    """State k: k of n kinds met."""
    q = np.diag([k / n for k in range(n)]) + np.diag([(n - k) / n for k in range(n - 1)], 1)
    ends = np.zeros((n, 1))
    ends[-1] = 1 / n
    return chain_of(q, ends)


@pytest.mark.parametrize("n", [2, 6, 20])
def test_coupon_collector(n):
    # mean n (1 + 1/2 + ... + 1/n); variance sum of (1 - p) / p^2; chance by inclusion and exclusion
    run = course(coupons(n))
    parts = [(n - k) / n for k in range(n)]
    assert run.mean() == pytest.approx(sum(1 / p for p in parts), rel=1e-10)
    assert run.variance() == pytest.approx(sum((1 - p) / p**2 for p in parts), rel=1e-8)
    for steps in (n, 2 * n, 5 * n, 40 * n):
        chance = sum((-1) ** i * math.comb(n, i) * ((n - i) / n) ** steps for i in range(n + 1))
        assert run.ended_within(steps) == pytest.approx(chance, abs=1e-10)
    assert run.ended_within(n - 1) == 0


@pytest.mark.parametrize("p", [0.9, 0.3, 0.01, 0.002])
@pytest.mark.parametrize("r", [1, 4])
def test_waiting_for_r_successes_is_negative_binomial(r, p):
    q = (1 - p) * np.eye(r) + p * np.eye(r, k=1)
    ends = np.zeros((r, 1))
    ends[-1] = p
    run = course(chain_of(q, ends))
    law = stats.nbinom(r, p, loc=r)
    if run.is_whole:
        assert run.mean() == pytest.approx(law.mean(), rel=1e-6)
        assert math.sqrt(run.variance()) == pytest.approx(law.std(), rel=1e-5)
    last = min(run.n_steps, 200_000)
    for n in {r, 2 * r, 50, 1000, last - 1, last}:
        if r <= n <= last:
            assert run.ended_within(n) == pytest.approx(law.cdf(n), abs=1e-9)
    for chance in (0.01, 0.5, 0.9):
        n = int(law.ppf(chance))
        if n < last:
            assert run.first_with(chance) == n


def test_far_beyond_the_last_step_the_tail_is_geometric():
    # one state that is left once in a thousand steps: settled at once, asked for ten thousand steps later
    run = course(chain_of([[0.999]], [[0.001]]))
    assert run.shrink is not None
    assert run.n_steps < 100
    law = stats.geom(0.001)
    for n in (run.n_steps + 1, 500, 10_000, 40_000):
        assert run.ended_within(n) == pytest.approx(law.cdf(n), rel=1e-9)
    for chance in (0.2, 0.31, 0.52, 0.73, 0.9, 0.99, 0.999):
        assert run.first_with(chance) == int(law.ppf(chance))
    assert run.mean() == pytest.approx(1000)
    assert run.variance() == pytest.approx(law.var(), rel=1e-9)


@pytest.mark.parametrize("period", [2, 3, 5, 7])
def test_a_chain_that_goes_round(period):
    # it leaves the ring at one place only, with one chance in four: n = period * (geometric)
    q, ends = np.zeros((period, period)), np.zeros((period, 1))
    for i in range(period - 1):
        q[i, i + 1] = 1
    q[-1, 0], ends[-1, 0] = 0.75, 0.25
    run = course(chain_of(q, ends))
    assert run.mean() == pytest.approx(4 * period, rel=1e-9)
    assert run.variance() == pytest.approx(period**2 * 12, rel=1e-8)
    for rounds in (1, 2, 10, 30):
        assert run.ended_within(rounds * period) == pytest.approx(1 - 0.75**rounds, abs=1e-12)
        assert run.ended_within(rounds * period + period - 1) == pytest.approx(1 - 0.75**rounds, abs=1e-12)


def test_what_never_ends_is_an_end_of_its_own():
    # from 0: half to an end, half into a trap (states 1 and 2 for ever)
    q = [[0, 0.5, 0], [0, 0, 1], [0, 1, 0]]
    ends = [[0.5], [0], [0]]
    assert ever_ends(csr_array(np.array(q, float)), np.array(ends, float))
    part = chain_of(q, ends)
    assert part.n == 1
    assert part.ends == pytest.approx(np.array([[0.5, 0.5]]))
    assert not ever_ends(csr_array(np.array([[0.0, 1.0], [1.0, 0.0]])), np.zeros((2, 1)))


def test_states_that_cannot_be_met_are_left_out():
    q = np.zeros((3, 3))
    q[2, 0] = 1.0
    part = chain_of(q, [[1.0], [1.0], [0.0]])
    assert list(part.kept) == [0]


def test_stepping_stops_at_a_horizon():
    run = course(chain_of([[0.5]], [[0.5]]), horizon=3)
    assert run.n_steps == 3
    assert run.ended_within(2) == 0.75
    assert run.ended_within(3) == run.ended_within(1000) == 0.875
    assert run.alive[-1] == 0.125


@st.composite
def any_chain(draw):
    """Up to six states, each with some way out, so that it surely ends."""
    n = draw(st.integers(1, 6))
    weights = st.lists(st.floats(0, 1), min_size=n + 2, max_size=n + 2)
    rows = np.array([draw(weights) for _ in range(n)]) + np.r_[np.zeros(n), 0.05, 0.0]
    rows /= rows.sum(axis=1, keepdims=True)
    return rows[:, :n], rows[:, n:]


@settings(max_examples=60, deadline=None)
@given(any_chain())
def test_stepping_and_solving_agree(chain):
    """Mean, spread, ends: dense inverse (Kemeny and Snell's fundamental matrix) against our two ways."""
    q, ends = chain
    part = chain_of(q, ends)
    run = course(part)
    kept_q = q[np.ix_(part.kept, part.kept)]
    fundamental = np.linalg.inv(np.eye(part.n) - kept_q)
    t = fundamental @ np.ones(part.n)
    variance = ((2 * fundamental - np.eye(part.n)) @ t - t**2)[0]
    assert run.mean() == pytest.approx(t[0], rel=1e-8)
    assert run.variance() == pytest.approx(variance, rel=1e-6, abs=1e-8)
    reached = fundamental[0] @ ends[part.kept]
    assert [run.ended_at_last(0), run.ended_at_last(1)] == pytest.approx(list(reached), abs=1e-9)
    power = np.linalg.matrix_power(kept_q, 17)
    assert 1 - run.ended_within(17, 0) - run.ended_within(17, 1) == pytest.approx(power[0].sum(), abs=1e-10)
    within = [run.ended_within(k) for k in range(60)]
    assert all(later >= sooner - 1e-15 for sooner, later in itertools.pairwise(within))


def test_a_course_that_is_not_known_says_so():
    run = Course(np.array([1.0, 0.9]), np.array([[0.0], [0.1]]), np.ones(1), None, is_whole=False)
    assert math.isnan(run.mean())
    assert math.isnan(run.variance())
    assert math.isnan(run.ended_within(5))
    assert run.ended_within(1) == pytest.approx(0.1)
    assert run.first_with(0.5) is None
