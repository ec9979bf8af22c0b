"""The artefact gate: what it holds, and what must not learn from what it holds."""

from dataclasses import replace

import numpy as np
import pytest
from cases import NAMES, RATE_HZ, TWO, block, condition, noise, protocol, replay, sitting

from aftersit.errors import AftersitError

EVERYWHERE = {"electrodes": list(NAMES)}


def run(*conditions, of=None, **rules):
    return replay(of or sitting(), protocol(*(conditions or TWO), **rules))


def test_the_gate_holds_the_reward_after_a_large_swing():
    samples = noise(80)
    samples[3, round(30 * RATE_HZ) : round(30.5 * RATE_HZ)] += 3e-4
    gate = {"limit_uv": 100, "hold_s": 2.0}
    table = run(of=sitting(samples), gate=gate).timelines["cleaned"]
    held = table[table["state"] == "gated"]["time_s"]
    assert 30 < held.min() <= 30.25
    assert 32.25 <= held.max() <= 33.5
    assert not (run(gate=gate).timelines["cleaned"]["state"] == "gated").any()


def with_swings(volts, at_s, seconds=80):
    """A half-second step on one electrode at each time; its ends swing."""
    samples = noise(seconds)
    for start in at_s:
        samples[3, round(start * RATE_HZ) : round((start + 0.5) * RATE_HZ)] += volts
    return samples


def test_a_baseline_leaves_out_what_the_gate_would_hold():
    gate = {"limit_uv": 100, "hold_s": 1.0}
    everywhere = condition("a", EVERYWHERE, (4, 20), db_over_baseline=0.5)
    calm = run(everywhere, gate=gate).record.cleaned.baselines["a"]
    swinging = sitting(with_swings(1e-3, [9]))
    assert run(everywhere, of=swinging).record.cleaned.baselines["a"] > 4 * calm
    found = run(everywhere, of=swinging, gate=gate).record.cleaned
    assert found.baselines["a"] == pytest.approx(calm, rel=0.15)


def test_an_adaptive_threshold_does_not_learn_from_what_the_gate_holds():
    """Without a swing it would stand at its target; each swing is a lesson that is no brain's."""
    moves = {"target_rate": 0.7, "speed_db_per_min": 20, "start": {"absolute": 16.0}}
    rule = condition("a", EVERYWHERE, (4, 20), adaptive=moves)
    gate = {"limit_uv": 100, "hold_s": 1.0}
    blocks = (block(1, "practice", 0, 299),)

    def met_share(samples):
        of = replace(sitting(samples), blocks=blocks)
        return run(rule, of=of, gate=gate).record.cleaned.blocks[0].conditions[0].met_share

    assert met_share(noise(300)) == pytest.approx(0.7, abs=0.03)
    assert met_share(with_swings(1e-3, range(7, 290, 5), 300)) == pytest.approx(0.7, abs=0.05)


def test_a_gate_has_the_band_that_is_written():
    gate = {"limit_uv": 60, "hold_s": 0.5, "band_hz": [30, 40]}
    samples = noise(80) + 1e-4 * np.sin(2 * np.pi * 55 * np.arange(80 * RATE_HZ) / RATE_HZ)
    samples[::2] *= -1  # what all electrodes share is not heard
    table = run(condition(absolute=0.2), of=sitting(samples), gate=gate).timelines["cleaned"]
    assert (table["state"] == "reward").any()
    assert not (table["state"] == "gated").any()


def test_a_gate_above_what_a_recording_holds_is_refused_in_words():
    with pytest.raises(AftersitError, match=r"artefact_gate.band_hz begins at 60 Hz, and .* 57.6"):
        run(gate={"limit_uv": 60, "band_hz": [60, 70]})


def test_mains_do_not_shut_the_gate_of_the_uncleaned_replay():
    found = sitting()
    mains = 4e-4 * np.sin(2 * np.pi * 50 * np.arange(80 * RATE_HZ) / RATE_HZ)
    hum = replace(
        found.uncleaned, samples=found.uncleaned.samples + mains * np.eye(5)[:, [2]], mains_hz=50.0
    )
    gate = {"limit_uv": 75, "hold_s": 0.5}
    loud = run(condition(absolute=0.2), of=replace(found, uncleaned=hum), gate=gate)
    state = loud.timelines["uncleaned"]["state"]
    assert (state == "reward").any()
    assert (state == "gated").mean() < 0.02
