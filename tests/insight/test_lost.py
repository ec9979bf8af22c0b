"""Reward that only the uncleaned signal gives, planted by one cause at a time."""

from dataclasses import replace

import numpy as np
import pytest
from cases import NAMES, RATE_HZ, block, condition, noise, protocol, quality, sitting
from cases import replay as run

from aftersit.insight.lost import largest_fall
from aftersit.replay.run import Signal

FAST = condition("fast", {"electrodes": ["T7", "Cz", "O2"]}, (18, 28), db_over_baseline=3)
SLOW = condition("slow", {"electrodes": ["T7", "Cz", "O2"]}, (3, 8), db_over_baseline=3)
LOUD = slice(round(22 * RATE_HZ), round(40 * RATE_HZ))
TOPOGRAPHY = np.array([0.1, 0.8, -0.5, 0.2, -0.6])


def taken_out(topography) -> np.ndarray:
    """The part of a signal along one topography."""
    unit = topography - topography.mean()
    unit = unit / np.linalg.norm(unit)
    return np.outer(unit, unit)


def with_component(kind, topography=TOPOGRAPHY):
    """A loud component in the first practice block that cleaning took out."""
    raw, part = noise(80), taken_out(topography)
    raw[:, LOUD] += np.outer(topography, noise(80, seed=5, n=1)[0, LOUD]) * 6
    found = quality().model_copy(
        update={"keep": (np.eye(5) - part).tolist(), kind: part.tolist(), "duration_s": 80.0}
    )
    of = replace(sitting(found=found), eye_below_hz=10.0)
    referenced = raw - raw.mean(axis=0)
    return replace(
        of,
        uncleaned=replace(of.uncleaned, samples=raw),
        cleaned=replace(of.cleaned, samples=(np.eye(5) - part) @ referenced),
    )


@pytest.mark.parametrize(("kind", "rule"), [("muscle", FAST), ("eyes", SLOW)])
def test_what_a_component_earned_is_named_by_it(kind, rule):
    lost = run(with_component(kind), protocol(rule)).record.insight.lost
    assert lost.lost_s > 12
    assert lost.by_reason_s[kind] / lost.lost_s > 0.9
    assert sum(lost.by_reason_s.values()) == pytest.approx(lost.lost_s)


def test_a_component_of_another_kind_is_other():
    of = with_component("muscle")
    found = of.quality.model_copy(update={"muscle": ()})
    lost = run(replace(of, quality=found), protocol(FAST)).record.insight.lost
    assert lost.by_reason_s["other"] / lost.lost_s > 0.9


def test_eyes_take_nothing_from_bands_where_they_are_left_in():
    """Another component points nearly where the eyes do; only that one is taken out."""
    of = with_component("muscle")
    eyes = taken_out(TOPOGRAPHY + np.array([0.15, -0.1, 0.1, 0.2, -0.1]))
    keep = np.array(of.quality.keep) - eyes
    found = of.quality.model_copy(
        update={"muscle": (), "eyes": eyes.tolist(), "keep": keep.tolist()}
    )
    lost = run(replace(of, quality=found), protocol(FAST)).record.insight.lost
    assert lost.lost_s > 12
    assert lost.by_reason_s["other"] / lost.lost_s > 0.9


def test_what_a_left_out_electrode_earned_is_named_by_it():
    raw = np.vstack([noise(80), noise(80, seed=9, n=1)])
    raw[5, LOUD] *= 40  # the average reference carries it to all others
    names = (*NAMES, "Pz")
    found = quality(names, bad=("Pz",)).model_copy(update={"keep": np.eye(5).tolist()})
    of = sitting(found=found)
    of = replace(of, uncleaned=Signal(raw, names, RATE_HZ))
    lost = run(of, protocol(FAST)).record.insight.lost
    assert lost.by_reason_s["electrode"] / lost.lost_s > 0.9


@pytest.mark.parametrize(
    ("distance_db", "reason"),
    [
        ((3.0, 1.2, 1.0, 1.1, 0.9), "electrode"),
        ((3.0, 2.8, 0.7, 2.5, 0.6), "muscle"),
        ((3.0, 2.8, 2.5, 0.7, 0.6), "eyes"),
        ((3.0, 2.9, 2.8, 2.9, 0.4), "other"),
        ((3.0, 3.0, 3.2, 3.1, 3.4), "other"),  # no electrode was left out, and nothing fell
        ((3.0, 3.3, 3.2, 3.4, 3.1), "muscle"),
    ],
)
def test_the_largest_fall_is_named_if_anything_fell(distance_db, reason):
    """By hand: with all electrodes, the good ones, without muscle, without eyes, cleaned."""
    assert largest_fall(np.array(distance_db)) == reason


def test_reward_inside_bad_spans_is_lost_to_them():
    raw = noise(80)
    raw[:, LOUD] *= 4
    found = quality(spans=((24.0, 36.0, "movement"),))
    lost = run(sitting(raw, found=found), protocol(FAST)).record.insight.lost
    assert set(lost.by_reason_s) <= {"bad-span", "timing"}
    assert lost.by_reason_s["bad-span"] > 11


def test_nothing_is_lost_where_nothing_was_cleaned():
    lost = run(sitting(), protocol(FAST)).record.insight.lost
    assert (lost.lost_s, lost.by_reason_s) == (0, {})


def test_a_block_that_only_the_uncleaned_replay_scores_counts_in_neither_figure():
    blocks = [
        block(1, "baseline", 0, 20),
        block(2, "practice", 20, 40),
        block(3, "baseline", 40, 60),
        block(4, "practice", 60, 80),
    ]
    no_baseline = (40.5, 59.5, "movement")
    of = sitting(blocks=blocks, found=quality(spans=(no_baseline, (24.0, 27.0, "movement"))))
    found = run(of, protocol(condition(db_over_baseline=-1)))
    cleaned, uncleaned = (found.timelines[n] for n in ("cleaned", "uncleaned"))
    assert set(cleaned["state"][cleaned["block"] == 4]) == {"outside"}
    rewarded = uncleaned["state"] == "reward"
    assert rewarded[uncleaned["block"] == 4].any()
    in_both = rewarded & (uncleaned["block"] == 2)
    gone = in_both & (cleaned["state"] != "reward")
    assert gone.sum() > 8
    record = found.record
    assert record.insight.lost.lost_s == pytest.approx(gone.sum() * 0.125)  # a decision's seconds
    assert sum(record.insight.lost.by_reason_s.values()) == pytest.approx(gone.sum() * 0.125)
    assert record.removed_reward_share == pytest.approx(gone.sum() / in_both.sum())
