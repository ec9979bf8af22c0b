"""Spans and gates."""

import numpy as np
import pytest

from demo_clinic import spans


def test_alternating_spans_keep_inside_apart_and_near_their_means():
    made = spans.alternating(np.random.default_rng(3), (100.0, 5000.0), 8.0, 12.0, 2.0)
    edges = np.array(made).ravel()
    lengths, gaps = np.diff(edges)[::2], np.diff(edges)[1::2]
    assert edges[0] >= 102
    assert edges[-1] <= 4998
    assert min(lengths.min(), gaps.min()) >= 2 - 1e-3
    # Shape 4: standard error of a mean over 245 spans is 3 %.
    assert lengths.mean() == pytest.approx(8, rel=0.1)
    assert gaps.mean() == pytest.approx(12, rel=0.1)


def test_complement_and_spans_tile_the_time():
    own = [(3.0, 5.0), (7.5, 9.0)]
    assert spans.complement(own, (3.0, 10.0)) == [(5.0, 7.5), (9.0, 10.0)]
    assert spans.complement([], (3.0, 10.0)) == [(3.0, 10.0)]


def test_intersection_holds_where_both_hold():
    assert spans.intersection([(0, 4), (6, 9)], [(3, 7), (8.5, 12)]) == [(3, 4), (6, 7), (8.5, 9)]


def test_a_gate_is_open_inside_only():
    gate = spans.gate([(2.0, 4.0), (4.5, 4.8)], 60, 10.0, 0.2)
    assert gate[22:39].min() == 1
    assert gate[:20].max() == 0
    assert gate[49:].max() == 0
    assert gate[45:48].max() > 0.9


def test_levels_are_steps():
    steps = spans.levels([((0.0, 1.0), 3.0), ((1.0, 1.5), 7.0)], 20, 10.0)
    assert steps.tolist() == [3.0] * 10 + [7.0] * 5 + [0.0] * 5
