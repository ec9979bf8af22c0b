"""Bad spans: runs, clipping, pops, movement, guards, joining."""

import numpy as np
import pytest
from simulated import NAMES, SETTINGS, blinks, quiet

from aftersit.clean import spans
from aftersit.clean.windows import (
    in_both_windows,
    in_windows,
    typical_covariance,
    unexplained,
    window_covariances,
)
from aftersit.quality import BadSpan

LIMITS = SETTINGS.spans
RATE_HZ = 256


def test_constant_runs_are_found_to_the_sample():
    x = np.random.default_rng(2).standard_normal((3, 500))
    x[1, 40:100] = 2.5
    x[2, 450:] = 0.0
    assert spans.constant_runs(x, 50) == [(1, 40, 100), (2, 450, 500)]
    assert spans.constant_runs(x, 61) == []


def test_repeated_values_of_a_coarse_converter_are_no_runs():
    x = np.round(quiet(30).x)
    assert spans.constant_runs(x, round(LIMITS.constant_s * RATE_HZ)) == []


def test_clipping_needs_the_same_rail_three_times():
    wave = 50 * np.sin(2 * np.pi * np.arange(2560) / 256)
    x = np.stack([np.clip(wave, -40, 60), wave])
    runs = spans.clipped_runs(x, 3, 200)
    assert len(runs) == 10
    assert {row for row, _, _ in runs} == {0}
    once = wave.copy()
    once[100:110] = 80
    assert spans.clipped_runs(once[None], 3, 200) == []


def test_a_still_end_is_constant_and_a_gap_inside_is_a_dropout():
    stopped = np.zeros(1000, bool)
    stopped[300:400] = stopped[900:] = True
    runs = [(0, 300, 400), (1, 900, 950), (1, 950, 1000), (2, 500, 560)]
    assert [reason for _, reason in spans.sort_constant(runs, stopped)] == [
        "dropout",
        "constant",
        "constant",
        "constant",
    ]


def test_guard_counts_as_lost_and_near_runs_become_one():
    runs = [(0, 2560, 2600), (3, 2700, 2720), (0, 7000, 7010)]
    found = spans.to_spans(runs, NAMES, RATE_HZ, 7050, "pop", 0.5)
    assert [(s.start_s, s.stop_s) for s in found] == [
        (9.5, pytest.approx(2720 / 256 + 0.5)),
        (pytest.approx(7000 / 256 - 0.5), pytest.approx(7050 / 256, abs=1e-6)),
    ]
    assert found[0].electrodes == ("Fp1", "F3")
    lost = spans.bad_samples(found, RATE_HZ, 7050)
    assert lost.sum() == (2720 + 128) - (2560 - 128) + 7050 - (7000 - 128)


def test_spans_of_one_reason_join_and_others_stay():
    def span(start, stop, reason, *electrodes):
        return BadSpan(start_s=start, stop_s=stop, reason=reason, electrodes=electrodes)

    found = spans.joined(
        [
            span(5, 8, "pop", "O1"),
            span(1, 3, "pop", "Pz"),
            span(2, 6, "pop", "C3"),
            span(0, 9, "mains"),
        ],
        NAMES,
    )
    assert found == [span(0, 9, "mains"), span(1, 8, "pop", "C3", "Pz", "O1")]


def _pops(x: np.ndarray) -> np.ndarray:
    typical = typical_covariance(window_covariances(x, RATE_HZ))
    jump, _ = spans.jumps(unexplained(typical), x, np.arange(19), RATE_HZ)
    return spans.pops(jump, LIMITS)


def test_a_pop_is_found_and_a_blink_is_none():
    recording = quiet(60)
    x = recording.x + blinks(recording, 150, 4)
    assert not _pops(x).any()
    since = np.arange(x.shape[1] - 40 * RATE_HZ) / RATE_HZ
    x[NAMES.index("O1"), 40 * RATE_HZ :] += 180 * np.exp(-since / 1.5)
    flags = _pops(x)
    assert set(np.flatnonzero(flags[NAMES.index("O1")])) <= {159, 160}
    assert flags[NAMES.index("O1"), 159:161].any()


def test_swings_of_a_sine_are_its_amplitude_and_smoothing_loses_muscle():
    t = np.arange(RATE_HZ * 8) / RATE_HZ
    slow, fast = 30 * np.sin(2 * np.pi * 2 * t), 40 * np.sin(2 * np.pi * 75 * t)
    np.testing.assert_allclose(spans.swings(slow[None], 64)[0], 30, rtol=1e-3)
    smooth = round(spans.JUMP_S * RATE_HZ)
    assert spans.swings((slow + fast)[None], 64, smooth).max() < 36


def test_the_last_partial_block_is_looked_at_too():
    """700 samples are ten blocks of 64 and 60 more: a jolt in these is in no whole block."""
    x = np.sin(2 * np.pi * 2 * np.arange(700) / RATE_HZ)[None]
    x[0, 660:680] += 80
    swing = spans.swings(x, 64)[0]
    assert swing.shape == (10,)
    assert swing[:9].max() < 1.01
    assert 39 < swing[9] < 42
    assert spans.swings(x[:, :640], 64).shape == (1, 9)
    blocks = in_both_windows(spans.swings(x, 64) > 30)
    (span,) = spans.to_spans(spans.window_runs(blocks, 64), NAMES, RATE_HZ, 700, "movement", 0)
    assert (span.start_s, span.stop_s) == (640 / RATE_HZ, round(700 / RATE_HZ, 6))


def test_an_event_is_caught_to_the_block_that_it_begins_in():
    """Windows of two hops that touch an event begin before it; blocks in both do not."""
    event = np.zeros((1, 1000), bool)
    event[0, 330:570] = True
    windows = np.array([spans_window.any() for spans_window in _windows(event[0], 100)])[None]
    blocks = in_both_windows(windows)[0]
    assert np.flatnonzero(windows[0]).tolist() == [2, 3, 4, 5]
    assert np.flatnonzero(blocks).tolist() == [3, 4, 5]
    np.testing.assert_array_equal(in_windows(event[0], 100), windows[0])


def _windows(row, hop):
    return [row[at : at + 2 * hop] for at in range(0, row.size - hop, hop)]


def test_weak_signs_count_beside_strong_ones_only():
    strong = np.array([[0, 0, 1, 0, 0, 0, 0]], bool)
    weak = np.array([[1, 1, 1, 1, 1, 0, 1]], bool)
    assert np.flatnonzero(spans.grown(strong, weak)).tolist() == [1, 2, 3]


def test_a_pop_in_the_last_partial_window_is_found():
    recording = quiet(60)
    x = recording.x[:, : 59 * RATE_HZ + 50]
    x[NAMES.index("O1"), 59 * RATE_HZ + 20 :] += 180
    flags = _pops(x)
    assert flags.shape[1] == 237
    assert np.flatnonzero(flags[NAMES.index("O1")]).tolist()[-1] == 236


def test_movement_needs_many_times_the_usual():
    swing = np.full((19, 40), 12.0)
    swing[:6, 10] = 90
    swing[:, 20] = 50
    assert np.flatnonzero(spans.beyond_usual(swing, LIMITS).any(axis=0)).tolist() == [10]
