import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import fft, signal, stats

from aftersit.insight.longrun import compare, mean_variance, share_interval

SEED = 20260301


def ar1(phi, n_cases, n, seed):
    """AR(1) with standard deviation 1, started long before."""
    noise = np.random.default_rng(seed).normal(size=(n_cases, n + 500))
    return signal.lfilter([np.sqrt(1 - phi**2)], [1, -phi], noise)[:, 500:]


def test_coefficients_are_those_of_scipys_orthonormal_cosine_transform():
    # Type II, as in Lazarus et al. 2018.
    x = np.random.default_rng(3).normal(4, 2, size=(5, 37))
    expected = (fft.dct(x, type=2, norm="ortho")[:, 1:4] ** 2).mean(axis=1) / 37
    np.testing.assert_allclose(mean_variance(x, 3), expected, rtol=1e-12)


def test_all_cosines_give_the_textbook_variance():
    # Parseval: with all n - 1 of them it is the sample variance over n.
    x = np.random.default_rng(8).gamma(2, size=23)
    assert mean_variance(x, 22) == pytest.approx(x.var(ddof=1) / 23)


def test_with_all_cosines_a_comparison_is_scipys_welch_test():
    rng = np.random.default_rng(4)
    before, after = rng.normal(2, 1, 12), rng.normal(5, 3, 12)
    found = compare(before, after, 11)
    test = stats.ttest_ind(after, before, equal_var=False)
    interval = test.confidence_interval(0.95)
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high))
    assert found.p == pytest.approx(test.pvalue)
    assert found.change == pytest.approx(after.mean() - before.mean())


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


@pytest.mark.parametrize(("phi", "naive"), [(0, 0.04), (0.5, 0.25), (0.8, 0.50), (0.95, 0.76)])
def test_false_alarms_stay_where_a_naive_test_gives_many(phi, naive):
    # Two halves of AR(1), 600 values each, nothing between them; the naive rates
    # are those of a plain t-test (own computation, 5 % asked for).
    x = ar1(phi, 2000, 1200, SEED)
    before, after = x[:, :600], x[:, 600:]
    plain = stats.ttest_ind(before, after, axis=1).pvalue
    assert (plain < 0.05).mean() == pytest.approx(naive, abs=0.03)
    assert 0.03 <= (compare(before, after, 2).p < 0.05).mean() <= 0.06


@pytest.mark.parametrize("phi", [0.5, 0.9])
def test_intervals_cover_a_planted_change(phi):
    x = ar1(phi, 2000, 800, SEED + 1)
    found = compare(x[:, :300], x[:, 300:] + 1.7, 2)
    assert 0.93 <= ((found.low < 1.7) & (found.high > 1.7)).mean() <= 0.97


def test_a_share_of_independent_trials_has_clopper_and_pearsons_interval():
    # With as many cosines as there are, n trials of 0 or 1 are n trials.
    shares = np.array([1, 0, 0, 1, 1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0], float)
    n = len(shares)
    expected = stats.binomtest(6, n).proportion_ci(0.95, method="exact")
    low, high = share_interval(shares, n - 1)
    # The sample variance divides by n - 1 where Clopper and Pearson's n trials do by n.
    assert (low, high) == pytest.approx((expected.low, expected.high), abs=0.01)


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
