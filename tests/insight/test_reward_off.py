"""What was higher while the reward stayed off; conditions listen to alpha at O2 or to the back."""

from dataclasses import replace

import numpy as np
import pytest
from cases import BLOCKS, NAMES, RATE_HZ, block, condition, noise, protocol, sitting
from cases import replay as run
from scipy import signal

from aftersit.insight.reward_off import turns

LONG = [block(1, "baseline", 0, 20), block(2, "practice", 20, 110), block(3, "practice", 110, 200)]
ALPHA = condition("alpha", {"electrodes": ["O2"]}, (8, 13), db_over_baseline=0.4)


def band_noise(seconds, low, high, seed):
    sos = signal.butter(3, (low, high), "bandpass", fs=RATE_HZ, output="sos")
    return signal.sosfilt(sos, noise(seconds, seed=seed, n=1)[0])


def swinging(with_beta, every_s=8):
    """Alpha at O2 comes and goes every `every_s`; beta at T7 comes when it goes, or steadily."""
    samples = noise(200, seed=4)
    on = np.arange(samples.shape[1]) // round(every_s * RATE_HZ) % 2 == 0
    on[: round(20 * RATE_HZ)] = False
    samples[NAMES.index("O2")] += band_noise(200, 8.5, 12.5, 5) * on * 6
    samples[NAMES.index("T7")] += band_noise(200, 15, 28, 6) * (~on if with_beta else 0.7) * 2
    return sitting(samples, LONG)


def found_in(of, rule=ALPHA):
    return run(of, protocol(rule)).record.insight.reward_off


def test_what_comes_while_the_reward_is_away_is_found_in_its_band():
    found = found_in(swinging(True))
    assert (found.tested, found.left_out) == (68 * 5, 0)
    higher = {c.band for c in found.found if c.higher_db > 0}
    assert higher == {"beta"}
    for c in found.found:
        assert c.low_db < c.higher_db < c.high_db
        assert c.p <= c.q <= found.false_discovery_rate
        assert (c.heard_by == ("alpha",)) == (c.band == "alpha")
    assert {c.band for c in found.found if c.higher_db < 0} == {"alpha"}  # it chose the moments


def test_the_time_that_was_compared_is_known_time_in_whole_windows():
    told = run(swinging(True), protocol(ALPHA))
    found, table = told.record.insight.reward_off, told.timelines["cleaned"]
    seconds = {s: 0.125 * (table["state"] == s).sum() for s in ("reward", "no-reward")}
    assert found.rewarded_s == pytest.approx(seconds["reward"], abs=2)
    assert found.unrewarded_s == pytest.approx(seconds["no-reward"], abs=2)


def test_nothing_is_found_where_only_the_conditions_band_differs():
    found = found_in(swinging(False))
    assert [c for c in found.found if c.band != "alpha"] == []


def test_what_a_condition_is_made_of_is_left_out():
    where = {"region": "precuneus", "hemisphere": "both"}
    found = found_in(swinging(True), condition("back", where, (10, 14), db_over_baseline=0.2))
    assert found.left_out == 4  # both sides, in alpha and in beta
    assert found.tested == 68 * 5 - 4
    own = {"precuneus-left", "precuneus-right"}
    assert not [c for c in found.found if c.place in own and c.band in ("alpha", "beta")]
    right = {"region": "insula", "hemisphere": "right"}
    assert (
        found_in(swinging(True), condition("in", right, (8, 13), db_over_baseline=0)).left_out == 1
    )


@pytest.mark.parametrize("db", [20, -20])
def test_reward_that_never_changes_tells_nothing(db):
    assert found_in(swinging(True), ALPHA | {"threshold": {"db_over_baseline": db}}) is None


def test_a_reward_that_turns_seldom_tells_nothing():
    """180 s hold 22 changes of 8 s and 6 of 26 s; what the gate adds is less than that."""
    assert found_in(swinging(True)) is not None
    assert found_in(swinging(True, every_s=26)) is None


def test_turns_count_from_one_side_of_half_to_the_other():
    """By hand: down after 0.7, up after 0.2, down after 0.9."""
    assert turns(np.array([0.6, 0.7, 0.4, 0.2, 0.9, 0.3, 0.1])) == 3


def test_windows_in_bad_spans_count_for_neither():
    of = swinging(True, every_s=4)
    spans = ((30.0, 60.0), (130.0, 145.0))
    loud = of.cleaned.samples.copy()
    for a, b in spans:
        loud[:, round(a * RATE_HZ) : round(b * RATE_HZ)] *= 50
    of = replace(of, cleaned=replace(of.cleaned, samples=loud, bad_spans=spans))
    found = found_in(of)
    assert found.rewarded_s + found.unrewarded_s < 180 - 45
    assert {c.band for c in found.found if c.higher_db > 0} == {"beta"}


def test_a_short_sitting_tells_nothing():
    assert BLOCKS[1].stop_s - BLOCKS[1].start_s < 30
    assert found_in(sitting(blocks=[*LONG[:1], block(2, "practice", 20, 38)])) is None
