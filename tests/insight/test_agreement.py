import numpy as np
import pytest
from cases import block
from hypothesis import given, settings
from hypothesis import strategies as st

from aftersit.insight.agreement import agreement, cohens_kappa
from aftersit.replay.timeline import BAD, NO_REWARD, OUTSIDE, REWARD, Timeline

CODES = {"o": OUTSIDE, "x": BAD, ".": NO_REWARD, "#": REWARD}


def series(both, only_one, only_other, neither):
    counts = (both, only_one, only_other, neither)
    return np.repeat([1, 1, 0, 0], counts) > 0, np.repeat([1, 0, 1, 0], counts) > 0


@pytest.mark.parametrize(
    ("table", "kappa"),
    [
        # Package Delta on CRAN, example of GetKappa: 50, 10, 10, 20 gives 0.5.
        ((50, 10, 10, 20), 0.5),
        # A worked example with two doctors on easycalculation.com: 12, 2, 4, 2 gives 0.21.
        ((12, 2, 4, 2), 0.21),
    ],
)
def test_kappa_is_that_of_published_worked_examples(table, kappa):
    assert cohens_kappa(*series(*table)) == pytest.approx(kappa, abs=0.001)


@given(st.tuples(*[st.integers(1, 60)] * 4))
@settings(deadline=None)
def test_kappa_is_that_of_scikit_learn(table):
    from sklearn.metrics import cohen_kappa_score

    one, other = series(*table)
    assert cohens_kappa(one, other) == pytest.approx(cohen_kappa_score(one, other), abs=1e-12)


def timeline(states):
    state = np.array([CODES[s] for s in states], dtype=np.int8)
    n, none = len(state), np.zeros((0, len(state)))
    times = np.arange(n) * 0.5
    met, swung = none.astype(bool), np.zeros(n, bool)
    return Timeline(times, n * 0.5, np.ones(n, int), state, (), (), none, none, met, 1, swung)


def test_a_late_log_is_found_and_its_bouts_are_matched():
    #                  0123456789...
    replay = timeline("oo...####......####....##......oo")
    spans = [(3.5, 5.5), (8.5, 10.5), (14.0, 15.0)]  # two bouts one second late, one of its own
    found = agreement("cleaned", replay, [block(1, "practice", 1, 15.5)], spans)
    assert found.lag_s == 1.0
    assert found.kappa_at_lag > found.kappa
    assert (found.logged_bouts, found.replayed_bouts) == (3, 3)
    assert (found.missed_bouts, found.extra_bouts) == (1, 1)
    assert found.logged_share == pytest.approx(10 / 29)
    assert found.known_s == pytest.approx(14.5)


def test_time_that_is_not_known_counts_for_neither():
    replay = timeline("..####xxxx....")
    found = agreement("uncleaned", replay, [block(1, "practice", 0, 7)], [(1.0, 5.0)])
    assert (found.kappa, found.lag_s, found.missed_bouts) == (1.0, 0.0, 0)
    assert found.known_s == 5


def test_a_log_of_moments_has_bouts_but_no_kappa():
    replay = timeline("....####......####..........")
    found = agreement("cleaned", replay, [block(1, "practice", 0, 14)], [(2.5, 2.5), (12.5, 12.5)])
    assert (found.kappa, found.lag_s) == (None, None)
    assert (found.logged_bouts, found.missed_bouts, found.extra_bouts) == (2, 1, 1)


def test_a_side_without_any_reward_has_no_kappa():
    replay = timeline("." * 20)
    found = agreement("cleaned", replay, [block(1, "practice", 0, 10)], [(2, 3)])
    assert (found.kappa, found.kappa_at_lag, found.missed_bouts) == (None, None, 1)
    assert agreement("cleaned", timeline("x" * 20), [block(1, "practice", 0, 10)], [(2, 3)]) is None
