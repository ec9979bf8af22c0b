"""Spectra and band power against closed forms and scipy."""

import numpy as np
import pytest

from aftersit.head.spectra import cross_spectrum, segment_starts, usable_runs

RATE_HZ = 256.0


def spectrum_of(signal, rate_hz=RATE_HZ, runs=((0.0, 1e9),), segment_s=2.0, overlap=0.5):
    return cross_spectrum(np.atleast_2d(signal), rate_hz, runs, segment_s, overlap)


@pytest.mark.parametrize(
    ("bad", "runs"),
    [
        ([], [(10, 60)]),
        ([(0, 10)], [(10, 60)]),
        ([(5, 12.5), (70, 80)], [(12.5, 60)]),
        ([(30, 31), (20, 25), (24, 30.5)], [(10, 20), (31, 60)]),
        ([(55, 60)], [(10, 55)]),
        ([(3, 99)], []),
    ],
)
def test_bad_spans_cut_a_block_into_runs(bad, runs):
    assert usable_runs(10, 60, bad) == runs


def test_segments_stay_within_their_run():
    (starts,) = segment_starts([(1.25, 7.0)], 4.0, 8, 0.5)
    np.testing.assert_array_equal(starts, [5, 9, 13, 17])
    assert starts[-1] + 8 <= 28


def test_a_run_of_exactly_one_segment_is_used():
    """0.1 * 3 s is not 0.3 s in binary; a limit in seconds is still a whole sample."""
    spectrum = spectrum_of(np.arange(200.0), 100.0, [(0.1 * 3, 0.3 + 0.5)], segment_s=0.5)
    assert (spectrum.n_segments, spectrum.seconds) == (1, 0.5)


def test_what_lies_in_a_bad_span_changes_nothing():
    clean = np.random.default_rng(8).normal(size=int(40 * RATE_HZ))
    dirty = clean.copy()
    dirty[int(11 * RATE_HZ) : int(13 * RATE_HZ)] += 1e6
    runs = usable_runs(0, 40, [(11, 13)])
    one, other = spectrum_of(clean, runs=runs), spectrum_of(dirty, runs=runs)
    np.testing.assert_array_equal(one.density, other.density)
    assert (one.n_segments, one.seconds) == (10 + 26, 38)


def test_no_usable_segment_gives_no_value():
    spectrum = spectrum_of(np.ones(1000), runs=[(0, 1.9)])
    assert (spectrum.n_segments, spectrum.seconds) == (0, 0)
    assert np.isnan(spectrum.band_covariance(8, 13)).all()


def test_runs_end_with_the_recording():
    signal = np.random.default_rng(2).normal(size=int(10 * RATE_HZ))
    assert spectrum_of(signal, runs=[(4, 999)]).seconds == 6


def test_signal_is_left_as_it_was():
    signal = np.random.default_rng(6).normal(size=(2, 2000))
    before = signal.copy()
    spectrum_of(signal)
    np.testing.assert_array_equal(signal, before)
