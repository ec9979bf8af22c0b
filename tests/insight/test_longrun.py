import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from aftersit.insight.longrun import (
    LEAST_P,
    compare,
    compare_shares,
    mean_variance,
    share_interval,
)

SEED = 20260301


def ar1(phi, n_cases, n, seed):
    """AR(1) with standard deviation 1, started long before."""
    noise = np.random.default_rng(seed).normal(size=(n_cases, n + 500))
    return signal.lfilter([np.sqrt(1 - phi**2)], [1, -phi], noise)[:, 500:]


def test_all_cosines_give_the_textbook_variance():
    # Parseval: with all n - 1 of them it is the sample variance over n.
    x = np.random.default_rng(8).gamma(2, size=23)
    assert mean_variance(x, 22) == pytest.approx(x.var(ddof=1) / 23)


@pytest.mark.parametrize(("before", "after"), [(2.1, 5.3), (2.1, 2.1)])
def test_sides_that_never_vary_tell_nothing_of_a_difference(before, after):
    found = compare(np.full(9, before), np.full(7, after), 2)
    assert found.change == pytest.approx(after - before)
    assert (found.low, found.high, found.p) == (-np.inf, np.inf, 1)


@given(st.floats(0.1, 90), st.floats(-50, 50))
def test_a_comparison_keeps_to_the_unit_and_forgets_the_level(scale, level):
    rng = np.random.default_rng(6)
    before, after = rng.normal(size=30), rng.normal(0.4, size=40)
    one, two = compare(before, after, 3), compare(scale * before + level, scale * after + level, 3)
    assert two.low == pytest.approx(scale * one.low, abs=1e-9)
    assert two.high == pytest.approx(scale * one.high, abs=1e-9)
    assert two.p == pytest.approx(one.p, rel=1e-6)


def test_a_share_that_never_varies_leaves_the_exact_one_sided_room():
    low, high = share_interval(np.zeros(30), 6)
    assert (low, high) == (0, pytest.approx(1 - 0.025 ** (1 / 30)))
    assert share_interval(np.ones(30), 6) == (pytest.approx(0.025 ** (1 / 30)), 1)


def test_intervals_of_a_share_cover_the_rate_of_a_process_with_memory():
    x = ar1(0.9, 1500, 300, SEED + 2)
    shares = (x > 0.5244).reshape(1500, 50, 6).mean(axis=2)  # exceeded 30 % of the time
    limits = np.array([share_interval(row, 6) for row in shares])
    covered = (limits[:, 0] <= 0.3) & (limits[:, 1] >= 0.3)
    assert 0.93 <= covered.mean() <= 0.985


def test_shares_that_never_vary_are_compared_by_their_exact_one_sided_rooms():
    # Five of five against none of five: each side leaves 1 - 0.025^(1/5) (Clopper and
    # Pearson), squared and added (Newcombe 1998, method 10). The p is the tail at which
    # both rooms together reach from 1 to 0: 1 - (p / 2)^(1/5) = 1 / sqrt(2).
    room = 1 - 0.025 ** (1 / 5)
    found = compare_shares(np.zeros(5), np.ones(5), 2)
    assert (found.change, found.high) == (1, pytest.approx(1))
    assert found.low == pytest.approx(1 - np.hypot(room, room))
    assert found.p == pytest.approx(2 * (1 - 0.5**0.5) ** 5, rel=1e-6)
    # None of twenty against none of thirty.
    found = compare_shares(np.zeros(20), np.zeros(30), 2)
    rooms = [1 - 0.025 ** (1 / n) for n in (20, 30)]
    assert (found.low, found.high) == pytest.approx((-rooms[0], rooms[1]))
    assert found.p == 1


def test_no_comparison_of_shares_is_certain():
    found = compare_shares(np.zeros(60), np.ones(60), 2)
    assert found.p == LEAST_P > 0
    assert found.low < 1


@given(st.integers(6, 40), st.integers(0, 10**6))
def test_a_comparison_of_shares_agrees_with_its_p_and_turns_with_its_sides(n, seed):
    rng = np.random.default_rng(seed)
    before, after = rng.random(n) ** rng.uniform(0.2, 5), rng.random(n + 3).round()
    one, back = compare_shares(before, after, 2), compare_shares(after, before, 2)
    assert -1 <= one.low < one.change < one.high <= 1
    assert (one.p < 0.05) == (not one.low <= 0 <= one.high)
    assert (back.low, back.high) == pytest.approx((-one.high, -one.low), abs=1e-9)
    lapses = compare_shares(1 - before, 1 - after, 2)
    assert (lapses.low, lapses.high) == pytest.approx((-one.high, -one.low), abs=1e-9)
    assert back.p == pytest.approx(one.p, rel=1e-6)


@pytest.mark.parametrize(("before", "after", "n"), [(0.02, 0.02, 10), (0.005, 0.05, 20)])
def test_intervals_cover_a_change_of_rare_bouts(before, after, n):
    """Bouts of 2 s on average, 6 s segments; simulated, so the truth is known."""
    rng = np.random.default_rng(SEED + 3)
    found = [compare_shares(bouts(rng, before, n), bouts(rng, after, n), 2) for _ in range(400)]
    change = after - before
    assert np.mean([f.low <= change <= f.high for f in found]) >= 0.93
    assert min(f.high - f.low for f in found) > 0.05
    assert np.mean([f.p < 0.05 for f in found if before == after] or [0.0]) <= 0.06


def bouts(rng, share, n_segments, bout_s=2.0, segment_s=6.0, step_s=0.25):
    """Shares of segments of a two-state chain, by its stays, drawn one after the other."""
    n, steps, on, states = n_segments * round(segment_s / step_s), 0, rng.random() < share, []
    while steps < n:
        leave = step_s / bout_s if on else step_s / bout_s * share / (1 - share)
        stay = int(rng.geometric(leave))
        states += [on] * min(stay, n - steps)
        steps, on = steps + stay, not on
    return np.array(states, dtype=float).reshape(n_segments, -1).mean(axis=1)
