import numpy as np
import pytest

from aftersit.quality import BadSpan
from aftersit.replay.spans import merged, overlap_s, settled, touched


def span(start, stop):
    return BadSpan(start_s=start, stop_s=stop, reason="pop")


def test_overlapping_spans_become_one():
    assert merged([span(9, 11), span(2, 5), span(3, 4), span(5, 6)]) == [(2, 6), (9, 11)]


def test_overlap_counts_each_second_once():
    assert overlap_s([(2, 6), (9, 11)], 5.5, 10.25) == pytest.approx(1.75)


def test_a_row_is_touched_when_it_shares_time():
    times = np.arange(8) * 0.5
    rows = touched(times, times + 0.5, [(0.75, 1.5), (3.5, 3.6)])
    np.testing.assert_array_equal(np.flatnonzero(rows), [1, 2, 7])


def test_settled_counts_from_the_last_restart_and_the_start():
    times = np.arange(12) * 0.5
    known = settled(times, [2.25], 1.0)
    np.testing.assert_array_equal(np.flatnonzero(known), [2, 3, 4, 7, 8, 9, 10, 11])
