import numpy as np
import pytest
from cases import NAMES, SETTINGS, TWO, condition, protocol, quality, sitting
from cases import replay as run
from scipy import signal

from aftersit.insight.chance import chance, leakage_between
from aftersit.insight.playback import Playback

CHOSEN = SETTINGS.insight.model_copy(update={"shifts": 59, "shift_min_s": 5})


def related(rng, n, r, phi=0.9):
    """Two AR(1) series of unit size whose values at a time correlate with r."""
    root = np.linalg.cholesky([[1, r], [r, 1]])
    x = signal.lfilter([np.sqrt(1 - phi**2)], [1, -phi], rng.normal(size=(2, n + 300)))
    return root @ x[:, 300:]


def played(distance, blocks=2):
    n = distance.shape[1]
    limits = tuple((k * n // blocks, (k + 1) * n // blocks) for k in range(blocks))
    return Playback(distance, limits, limits, np.arange(n), 0.125, len(distance), 0, 0)


def test_on_unrelated_conditions_the_excess_is_centred_on_nothing():
    rng, excess, p = np.random.default_rng(31), [], []
    for _ in range(150):
        found = chance(played(related(rng, 4000, 0.0) + 0.3), None, None, CHOSEN, seed=5)
        excess.append(found.together_share - found.unrelated.together_share)
        p.append(found.unrelated.p)
    error = np.std(excess) / np.sqrt(len(excess))
    assert abs(np.mean(excess)) < 3 * error
    assert np.mean(np.array(p) <= 0.05) == pytest.approx(0.05, abs=0.05)


def test_a_planted_relation_is_found():
    found = chance(
        played(related(np.random.default_rng(3), 4000, 0.7) + 0.3), None, None, CHOSEN, seed=5
    )
    assert found.unrelated.p == pytest.approx(1 / 60)  # the least that 59 surrogates give
    assert found.together_share > found.unrelated.together_high
    assert found.longest_bout_s >= found.unrelated.longest_bout_s


def test_what_leakage_explains_is_no_excess_over_it():
    rng = np.random.default_rng(12)
    leakage = np.array([[1, 0.6], [0.6, 1]])
    found = chance(played(related(rng, 8000, 0.6)), None, leakage, CHOSEN, seed=5)
    assert found.unrelated.p < 0.05
    assert found.only_leakage.p > 0.05
    assert found.together_share == pytest.approx(found.only_leakage.together_share, abs=0.03)


def test_the_same_seed_gives_the_same_figures():
    distance = related(np.random.default_rng(2), 3000, 0.4)
    leakage = np.array([[1, 0.2], [0.2, 1]])
    one, two = (chance(played(distance), None, leakage, CHOSEN, seed=9) for _ in range(2))
    assert one == two
    assert one != chance(played(distance), None, leakage, CHOSEN, seed=10)


def test_one_condition_or_short_blocks_have_nothing_to_shift():
    distance = related(np.random.default_rng(2), 3000, 0.4)
    assert chance(played(distance[:1]), None, None, CHOSEN, seed=9).unrelated is None
    short = played(distance[:, :300], blocks=2)  # 18.75 s each, four times 5 s are needed
    assert chance(short, None, None, CHOSEN, seed=9).unrelated is None


def test_shifts_stay_within_blocks():
    # Met in the first block only: shifted within it, the second stays without.
    distance = np.full((2, 4000), -1.0)
    distance[0, 500:1500], distance[1, 500:1500] = 1, 1
    found = chance(played(distance), None, None, CHOSEN, seed=9)
    assert found.together_share == 0.25
    assert found.unrelated.together_share == pytest.approx(0.5 * 0.5 * 0.5, abs=0.03)


def test_leakage_counts_only_where_bands_meet_and_turns_with_the_direction():
    rules = protocol(
        {**TWO[0], "band_hz": [8, 13]},
        {**TWO[1], "band_hz": [10, 14], "direction": "below"},
        {**TWO[1], "name": "far", "band_hz": [20, 30]},
    )
    one, two = np.diag([1.0, 0, 0]), np.diag([0.5, 0.5, 0])
    between = leakage_between(rules.conditions, [[one], [two], [two]], np.eye(3))
    # tr(AB) = 1/2, tr(AA) = 1, tr(BB) = 1/2: correlated by sqrt(1/2) in one band (Searle 1971).
    # 10-13 Hz of 5 and 4 Hz: 3 / sqrt(20); one of the two is turned round.
    assert between[0, 1] == pytest.approx(-(0.5**0.5) * 3 / np.sqrt(20))
    assert between[0, 2] == between[1, 2] == 0
    assert np.diag(between) == pytest.approx([1, 1, 1])


def test_relative_power_shares_with_its_band_what_its_reference_leaves():
    """log A and log A - log B, A 5 of the 26 Hz of B.

    By hand: variances 1/5 and 1/5 - 1/26, covariance 1/5 - 1/26; so sqrt(1 - 5/26).
    """
    relative = {**TWO[1], "band_hz": [8, 13], "relative_to_hz": [4, 30], "direction": "above"}
    rules = protocol({**TWO[0], "band_hz": [8, 13]}, relative)
    one = np.diag([0.7, 0, 0])
    between = leakage_between(rules.conditions, [[one], [one, one]], np.eye(3))
    assert between[0, 1] == pytest.approx((1 - 5 / 26) ** 0.5)


def test_leakage_is_that_of_the_cleaned_signal():
    """Two electrodes hear one loud source; where cleaning takes it out, nothing is shared."""
    from types import SimpleNamespace

    from aftersit.insight.account import _leakage

    rules = protocol(
        condition("one", {"electrodes": ["Cz"]}, absolute=2.0),
        condition("two", {"electrodes": ["O2"]}, absolute=2.0),
    )
    source = np.array([0.2, -0.9, 0.7, -0.6, 0.6])  # of average reference
    unit = source / np.linalg.norm(source)
    measures = SimpleNamespace(
        good=NAMES, keys=(), covariance=400 * np.outer(source, source) + np.eye(5)
    )
    keep = np.eye(5) - np.outer(unit, unit)
    # What is left is white less the mean and one direction u: P = I - 1 / 5 - uu'.
    p = keep - 1 / 5
    left = p[2, 4] ** 2 / (p[2, 2] * p[4, 4])
    for kept, exact in (((), 1.0), (keep.tolist(), left)):
        found = quality().model_copy(update={"keep": kept})
        of = SimpleNamespace(regions=measures, quality=found)
        between = _leakage(SimpleNamespace(running=list(rules.conditions), sitting=of))
        assert between[0, 1] == pytest.approx(exact, abs=0.02)


def test_the_baseline_is_played_under_fixed_thresholds_only():
    """Half of a baseline lies above its median; a threshold that sets itself has none to try."""
    place = {"electrodes": ["Cz", "O2"]}
    median = condition("one", place, (14, 28), percentile_of_baseline=50)
    found = run(sitting(), protocol(median)).record.insight.chance.baseline
    assert found.reward_share == pytest.approx(0.5, abs=0.05)
    start = {"percentile_of_baseline": 50}
    moving = {"target_rate": 0.7, "speed_db_per_min": 9, "start": start}
    own = condition("own", place, (14, 28), adaptive=moving)
    assert run(sitting(), protocol(own)).record.insight.chance.baseline is None
    assert run(sitting(), protocol(median, own)).record.insight.chance.baseline is None
