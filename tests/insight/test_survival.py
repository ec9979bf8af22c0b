import numpy as np
import pytest

from aftersit.insight.survival import kaplan_meier, survival
from aftersit.record import Bout

# Remission in weeks under 6-mercaptopurine, some cut short: Freireich et al. 1963, Blood
# 21:699; the estimates are those of the usual textbook tables (from memory).
WEEKS = (6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35)
CUT = (3, 5, 7, 8, 11, 12, 13, 16, 17, 18, 19, 20)  # places in that list
PUBLISHED = {6: 0.857, 7: 0.807, 10: 0.753, 13: 0.690, 16: 0.627, 22: 0.538, 23: 0.448}


def trial():
    return np.array(WEEKS, float), ~np.isin(np.arange(len(WEEKS)), CUT)


def test_the_estimate_is_the_published_one():
    at, share, low, high = kaplan_meier(*trial())
    for week, expected in PUBLISHED.items():
        k = at.tolist().index(week)
        assert share[k] == pytest.approx(expected, abs=0.0006)
        assert low[k] < share[k] < high[k]


def bouts():
    return [
        Bout(block=2, start_s=40, stop_s=40 + length, ended_by="lapse" if ended else "bad")
        for length, ended in zip(*trial(), strict=True)
    ]


def test_median_and_shares_come_from_it():
    found = survival(bouts())
    assert (found.bouts, found.cut, found.median_s) == (21, 12, 23)
    assert {s.length_s: s.share for s in found.still_on} == pytest.approx(
        {1: 1.0, 2: 1.0, 5: 1.0, 10: 0.753, 20: 0.627, 30: 0.448}, abs=0.0006
    )


def test_bouts_that_were_all_cut_say_only_that():
    cut = [b.model_copy(update={"ended_by": "block-end"}) for b in bouts()[:4]]
    found = survival(cut)
    assert (found.bouts, found.cut, found.median_s, found.still_on) == (4, 4, None, ())
    assert survival([]) is None
