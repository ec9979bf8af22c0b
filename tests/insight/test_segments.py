import numpy as np

from aftersit.insight.segments import segment_means


def test_segments_need_enough_that_is_known():
    values = np.array([1, 2, 3, np.nan, np.nan, 8, np.nan, 4, 6, -np.inf, 5, 7, 9])
    np.testing.assert_allclose(segment_means(values, 4, 0.5), [2, 6, 6])
    np.testing.assert_allclose(segment_means(values, 4, 0.75), [2, 6])
    assert len(segment_means(values[:3], 4, 0.5)) == 0


def test_rows_keep_the_same_segments():
    values = np.array([[1, 3, np.nan, np.nan, 5, 9], [2, 8, np.nan, np.nan, 4, 6.0]])
    np.testing.assert_allclose(segment_means(values, 2, 1.0), [[2, 7], [5, 5]])
