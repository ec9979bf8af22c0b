import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal

from aftersit.insight.longrun import compare, mean_variance, share_interval

SEED = 20260301


def ar1(phi, n_cases, n, seed):
    """AR(1) with standard deviation 1, started long before."""
    noise = np.random.default_rng(seed).normal(size=(n_cases, n + 500))
    return signal.lfilter([np.sqrt(1 - phi**2)], [1, -phi], noise)[:, 500:]


def test_all_cosines_give_the_textbook_variance():
    # Parseval: with all n - 1 of them it is the sample variance over n.
    x = np.random.default_rng(8).gamma(2, size=23)
    assert mean_variance(x, 22) == pytest.approx(x.var(ddof=1) / 23)


def test_equal_values_leave_no_room():
    found = compare(np.full(9, 2.0), np.full(7, 5.0), 2)
    assert (found.low, found.high, found.p) == (3, 3, 0)
    assert compare(np.full(9, 2.0), np.full(7, 2.0), 2).p == 1


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
