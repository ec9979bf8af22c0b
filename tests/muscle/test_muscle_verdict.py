"""The one rule that joins the evidence, by worked examples with the settings in force.

Limits: share 0.10-0.40, level 3-9 dB, slope -2.3 to -1.0, follows 0.3-0.7; weights 4, 1, 0.5.
"""

import numpy as np
import pytest

from aftersit.muscle.evidence import Evidence, most_in_band
from aftersit.muscle.verdict import block_finding, finding
from aftersit.settings import load_settings

N = 60
NONE = float("nan")


@pytest.fixture(scope="module")
def rule():
    return load_settings("s1").clean.muscle.verdict


def evidence(share=NONE, at_most=NONE, level_db=NONE, slope=NONE, power=8.0) -> Evidence:
    """The same in each of 60 windows; what is not given is not known."""
    rows = {
        "power": power,
        "muscle": share * power,
        "at_most": at_most * power,
        "level_db": level_db,
        "slope": slope,
        "edge": NONE,
    }
    return Evidence(**{name: np.full(N, float(value)) for name, value in rows.items()})


def judged(rule, follows=None, **given):
    return finding(evidence(**given), np.ones(N, bool), follows, rule)


@pytest.mark.parametrize(
    ("given", "score", "verdict"),
    [
        # (4 * (0.28 - 0.1) / 0.3 + 1 * (0.5 + 0.5) / 2 + 0.5 * (0.5 - 0.3) / 0.4) / 5.5
        (
            {"share": 0.28, "level_db": 6.0, "slope": -1.65, "follows": 0.5},
            (4 * 0.6 + 0.5 + 0.25) / 5.5,
            "suspect",
        ),
        ({"share": 0.13, "level_db": 3.6, "slope": -2.3}, (4 * 0.1 + 0.05) / 5, "no-sign-found"),
        ({"share": 0.22, "level_db": 4.2, "slope": -2.04}, (4 * 0.4 + 0.2) / 5, "cant-tell"),
        ({"share": 0.85}, 1.0, "suspect"),
    ],
)
def test_score_and_verdict(rule, given, score, verdict):
    found = judged(rule, **given)
    assert found.score == pytest.approx(score)
    assert found.verdict == verdict


@pytest.mark.parametrize(
    ("level_db", "slope", "verdict"),
    [
        (-4.0, -3.1, "cant-tell"),  # nothing speaks for muscle; still it can't be ruled out
        (9.5, -2.2, "cant-tell"),
        (7.9, -1.2, "cant-tell"),
        (9.5, -1.2, "suspect"),
    ],
)
def test_without_a_share_it_never_says_that_no_sign_was_found(rule, level_db, slope, verdict):
    """As on recordings that end at 45 Hz and hold no muscle component."""
    found = judged(rule, level_db=level_db, slope=slope)
    assert found.verdict == verdict
    assert "no-fast-evidence" in found.reasons


def test_a_slow_band_is_not_muscle_because_the_jaw_is_tense(rule):
    found = judged(rule, share=0.35, at_most=0.04, level_db=-1.0, slope=-2.6)
    assert found.share == pytest.approx(0.04)
    assert found.verdict == "no-sign-found"


def test_a_bound_above_the_limit_says_nothing(rule):
    assert judged(rule, share=0.31, at_most=0.12).share == pytest.approx(0.31)
    assert judged(rule, at_most=0.12, level_db=1.5).share is None


def test_muscle_that_falls_steeply_is_within_the_bound():
    """Density f^-2.5 from 37.5 Hz (middle of 30-45) down to 19.5 Hz; weak below 15 Hz."""
    at_hz = np.sqrt(15 * 25.0)
    fast_hz = np.sqrt(30 * 45.0)
    reach = (1 + (15 / fast_hz) ** 4) / (1 + (15 / at_hz) ** 4)
    most = most_in_band((15.0, 25.0), 2.5)
    assert most == pytest.approx(reach * (fast_hz / at_hz) ** 2.5, rel=0.05)
    assert most > 2.9
    # Above the fast range nothing is added to what is seen there.
    assert most_in_band((50.0, 70.0), 2.5) == pytest.approx(1.0)


def test_a_bout_of_one_window_is_too_short(rule):
    found = finding(evidence(share=0.6), np.arange(N) == 17, None, rule)
    assert (found.verdict, found.reasons) == ("cant-tell", ("too-short",))


def test_muscle_that_comes_and_goes_counts_for_its_block(rule):
    """A fifth of the windows tense: the mean share of 0.13 alone would show no sign."""
    calm, tense = evidence(share=0.02), evidence(share=0.57)
    often = np.arange(N) % 5 == 3
    both = Evidence(**{k: np.where(often, getattr(tense, k), getattr(calm, k)) for k in vars(calm)})
    whole = np.ones(N, bool)
    assert finding(both, whole, None, rule).verdict == "no-sign-found"
    assert block_finding(both, whole, rule).verdict == "suspect"
