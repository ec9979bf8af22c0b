import numpy as np
import pytest
from scipy import stats

from aftersit.replay.breaks import change, segment_means, welch_interval


def test_interval_equals_scipys_welch():
    rng = np.random.default_rng(4)
    before, after = rng.normal(2, 1, 7), rng.normal(5, 3, 12)
    test = stats.ttest_ind(after, before, equal_var=False)
    expected = test.confidence_interval(0.95)
    assert welch_interval(before, after) == pytest.approx((expected.low, expected.high))


def test_equal_segments_leave_no_room():
    assert welch_interval(np.array([2.0, 2]), np.array([5.0, 5, 5])) == (3.0, 3.0)


def test_segments_need_enough_that_is_known():
    values = np.array([1, 2, 3, np.nan, np.nan, 8, np.nan, 4, 6, -np.inf, 5, 7, 9])
    np.testing.assert_allclose(segment_means(values, 4, 0.5), [2, 6, 6])
    np.testing.assert_allclose(segment_means(values, 4, 0.75), [2, 6])
    assert len(segment_means(values[:3], 4, 0.5)) == 0


def test_few_segments_give_a_change_without_interval():
    found = change("alpha", np.array([1.0, 3]), np.array([4.0, 5, 9]), 3)
    assert (found.before_db, found.after_db, found.change_db) == (2, 6, 4)
    assert (found.low_db, found.high_db) == (None, None)


def test_a_side_without_segments_gives_no_change():
    found = change("alpha", np.array([]), np.array([4.0, 5, 9]), 3)
    assert (found.before_db, found.after_db, found.change_db) == (None, 6, None)
