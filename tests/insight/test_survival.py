import numpy as np
import pytest

from aftersit.evidence.facts import facts
from aftersit.insight.survival import survival
from aftersit.record import Bout

TRIAL = facts().facts["survival"]  # a published trial, some people cut short


def trial():
    return np.array(TRIAL["weeks"], float), ~np.isin(np.arange(21), TRIAL["cut_places"])


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
