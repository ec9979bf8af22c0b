"""The yardstick: thresholds that never move show a course that an adaptive one hides."""

from dataclasses import replace

import numpy as np
import pytest
from cases import BLOCKS, NAMES, SETTINGS, condition, noise, protocol, quality, replay, sitting

from aftersit.yardstick.measure import measure
from aftersit.yardstick.rules import yardstick

RISES_DB = (0.3, 0.8, 1.4, 1.9, 2.5)
"""By how much the band's power in practice lies over the baseline, sitting after sitting."""
AIM = 0.65


def raised(rise_db: float, seed: int) -> np.ndarray:
    """Noise that is louder in both practice blocks of `BLOCKS`."""
    samples = noise(80, seed)
    rate_hz = samples.shape[1] / 80
    for block in BLOCKS:
        if block.kind == "practice":
            samples[:, int(block.start_s * rate_hz) : int(block.stop_s * rate_hz)] *= 10 ** (
                rise_db / 20
            )
    return samples


def rules(**threshold):
    return protocol(condition("alpha", {"electrodes": ["Cz", "O2"]}, (8, 20), **threshold))


ADAPTIVE = rules(
    adaptive={"target_rate": AIM, "speed_db_per_min": 60, "start": {"db_over_baseline": 1.3}}
)


def on_yardstick(used, samples):
    found = replay(sitting(samples), used)
    table = found.timelines["cleaned"]
    return found.record, measure(found.record, table, BLOCKS, yardstick(used), SETTINGS)


@pytest.fixture(scope="module")
def course():
    """The same client with an adaptive threshold in five sittings."""
    return [on_yardstick(ADAPTIVE, raised(rise, i)) for i, rise in enumerate(RISES_DB, 3)]


def test_an_adaptive_threshold_keeps_its_rate_and_the_yardstick_does_not(course):
    """Its rate stands still at its aim by its definition (Robbins and Monro 1951); the power
    in practice was raised from sitting to sitting, which the yardstick must show."""
    rates = [record.cleaned.in_target_share for record, _ in course]
    shares = [measured.share for _, measured in course]
    assert max(rates) - min(rates) < 0.2
    assert all(np.diff(shares) > 0)
    assert shares[-1] - shares[0] > 0.5


def test_levels_are_those_that_were_put_in(course):
    """Decibels over the baseline, as simulated; white noise of 30 s is uncertain by some 0.4."""
    for (_, measured), rise in zip(course, RISES_DB, strict=True):
        level = measured.levels["alpha"]
        assert level.db == pytest.approx(rise, abs=1.0)
        assert level.low_db is None or level.low_db < level.db < level.high_db


def test_a_fixed_threshold_over_the_baseline_is_its_own_yardstick():
    """Measured again from the values that the replay left, in six digits."""
    used = rules(db_over_baseline=1.3)
    record, measured = on_yardstick(used, raised(1.9, 5))
    assert measured.share == pytest.approx(record.cleaned.in_target_share, abs=1e-9)
    assert measured.bouts == record.cleaned.bouts_total
    assert measured.longest_s == pytest.approx(record.cleaned.longest_bout_s)


def test_what_the_gate_holds_counts_on_neither_side():
    """Swings in the baseline and in practice: the yardstick's threshold is the replay's."""
    rule = condition("alpha", {"electrodes": ["Cz", "O2"]}, (8, 20), db_over_baseline=0.4)
    samples = raised(1.9, 5)
    rate_hz = samples.shape[1] / 80
    for start_s in (8, 14, 31):
        samples[3, int(start_s * rate_hz) : int((start_s + 0.5) * rate_hz)] += 1e-3
    gated = protocol(rule, gate={"limit_uv": 100, "hold_s": 1.0})
    record, measured = on_yardstick(gated, samples)
    assert measured.share == pytest.approx(record.cleaned.in_target_share, abs=1e-9)
    _, open_gate = on_yardstick(protocol(rule), samples)
    assert open_gate.share < measured.share - 0.1


def test_practice_under_another_protocol_is_left_out():
    """As the replay leaves it out."""
    used = rules(db_over_baseline=0.4)
    blocks = [replace(b, protocol="other") if b.index == 4 else b for b in BLOCKS]
    samples = raised(1.9, 5)
    found = replay(sitting(samples, blocks), used)
    table = found.timelines["cleaned"]
    measured = measure(found.record, table, blocks, yardstick(used), SETTINGS)
    assert measured.share == pytest.approx(found.record.cleaned.in_target_share, abs=1e-9)
    assert measured.known_s < 25


def test_another_gain_is_no_change():
    """Baseline-relative: everything five times as loud gives the same."""
    used = rules(absolute=37.0)
    samples = raised(1.1, 4)
    _, quiet = on_yardstick(used, samples)
    _, loud = on_yardstick(used, samples * 5)
    assert loud.share == pytest.approx(quiet.share, abs=1e-3)
    assert loud.levels["alpha"].db == pytest.approx(quiet.levels["alpha"].db, abs=1e-3)


def test_rules_become_fixed_ones_over_the_baseline():
    used = protocol(
        condition("a", percentile_of_baseline=62),
        condition("b", absolute=7.5),
        condition("c", db_over_baseline=-1.5),
        condition(
            "d",
            adaptive={"target_rate": 0.3, "speed_db_per_min": 2, "start": {"absolute": 7.5}},
        ),
        condition(
            "e",
            adaptive={
                "target_rate": 0.3,
                "speed_db_per_min": 2,
                "start": {"percentile_of_baseline": 62},
            },
        ),
    )
    found = [c.threshold.model_dump() for c in yardstick(used).conditions]
    assert found == [
        {"percentile_of_baseline": 62.0},
        {"db_over_baseline": 0.0},
        {"db_over_baseline": -1.5},
        {"db_over_baseline": 0.0},
        {"percentile_of_baseline": 62.0},
    ]
    assert used.conditions[3].is_adaptive


def test_without_a_baseline_there_is_nothing_to_measure():
    used = rules(absolute=37.0)
    later = tuple(b for b in BLOCKS if b.kind != "baseline")
    found = replay(sitting(noise(80), later), used)
    assert found.record.status == "scored"
    table = found.timelines["cleaned"]
    assert measure(found.record, table, later, yardstick(used), SETTINGS) is None


def test_bad_seconds_stay_unknown():
    used, spans = rules(db_over_baseline=1.3), ((30.0, 34.0, "movement"),)
    found = replay(sitting(raised(1.9, 5), found=quality(NAMES, spans=spans)), used)
    measured = measure(found.record, found.timelines["cleaned"], BLOCKS, yardstick(used), SETTINGS)
    seconds = [b.seconds for b in found.record.cleaned.blocks]
    known_s = sum(s.reward_s + s.no_reward_s for s in seconds)
    assert measured.known_s == pytest.approx(known_s, abs=0.3)
