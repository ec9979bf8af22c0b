"""Spectra and band power against closed forms and scipy."""

import mne
import numpy as np
import pytest
import scipy.signal

from aftersit.electrodes import STANDARD_19, read_label
from aftersit.head.bands import bands
from aftersit.head.spectra import CrossSpectrum, cross_spectrum, segment_starts, usable_runs

RATE_HZ = 256.0


def spectrum_of(signal, rate_hz=RATE_HZ, runs=((0.0, 1e9),), segment_s=2.0, overlap=0.5):
    return cross_spectrum(np.atleast_2d(signal), rate_hz, runs, segment_s, overlap)


@pytest.fixture(scope="module")
def white() -> np.ndarray:
    """Ten minutes of white noise of 10 uV (in uV)."""
    return np.random.default_rng(11).normal(scale=10.0, size=(1, int(600 * RATE_HZ)))


@pytest.mark.parametrize(("rate_hz", "segment_s"), [(256.0, 2.0), (500.0, 2.0), (160.0, 1.7)])
def test_equals_welch_of_scipy(rate_hz, segment_s):
    signal = np.random.default_rng(3).normal(size=(2, int(31.3 * rate_hz))) + 5
    length = round(segment_s * rate_hz)
    frequency, theirs = scipy.signal.welch(signal, rate_hz, "hann", length, detrend="constant")
    ours = spectrum_of(signal, rate_hz, segment_s=segment_s)
    np.testing.assert_allclose(ours.frequency_hz, frequency, rtol=1e-12)
    np.testing.assert_allclose(ours.auto, theirs, rtol=1e-9)


def test_cross_spectrum_equals_csd_of_scipy():
    signal = np.random.default_rng(5).normal(size=(3, 9000)).cumsum(axis=1)
    _, theirs = scipy.signal.csd(signal[2], signal[0], RATE_HZ, nperseg=512)
    ours = spectrum_of(signal).density[:, 0, 2]
    np.testing.assert_allclose(ours, theirs, rtol=1e-9, atol=1e-9 * np.abs(theirs).max())


def test_density_of_white_noise(white):
    """One-sided density is 2 sigma^2 / rate (Parseval; SciPy's tutorial on spectra)."""
    spectrum = spectrum_of(white)
    inner = (spectrum.frequency_hz > 2) & (spectrum.frequency_hz < 126)
    assert spectrum.auto[0, inner].mean() == pytest.approx(2 * 10**2 / RATE_HZ, rel=0.01)


@pytest.mark.parametrize("band", bands(), ids=str)
def test_white_noise_fills_every_band_by_its_width(white, band):
    """Counting the bins on both edges would give 10 % too much in 8-13 Hz."""
    power = spectrum_of(white).band_covariance(*band.limits_hz)[0, 0]
    expected = 2 * 10**2 / RATE_HZ * (band.high_hz - band.low_hz)
    # Sampling error of K = 599 segments over B bins is about sqrt(2 / (K B)) (Welch 1967).
    error = np.sqrt(2 / 599 / (2 * (band.high_hz - band.low_hz)))
    assert power == pytest.approx(expected, rel=3 * error)


@pytest.mark.parametrize("band", bands(), ids=str)
def test_flat_density_gives_exactly_the_band_width(band):
    """A density of 1 everywhere: power is the width, with no bin counted twice."""
    frequency_hz = np.arange(257) * 0.5
    spectrum = CrossSpectrum(frequency_hz, np.ones((257, 2, 2), complex), 3, 4.0)
    width = band.high_hz - band.low_hz
    assert spectrum.band_covariance(*band.limits_hz)[0, 0] == pytest.approx(width, rel=1e-12)


@pytest.mark.parametrize("tone_hz", [10.0, 10.25, 10.1])
def test_sine_gives_half_its_squared_amplitude_wherever_it_lies(tone_hz):
    """Heinzel, Ruediger & Schilling 2002: sums over bins, not peaks, are power."""
    time_s = np.arange(int(60 * RATE_HZ)) / RATE_HZ
    signal = 7 * np.sin(2 * np.pi * tone_hz * time_s + 0.3)
    power = spectrum_of(signal).band_covariance(8, 13)[0, 0]
    assert power == pytest.approx(7**2 / 2, rel=1e-4)


def test_no_frequency_is_in_two_bands():
    edges = [limit for band in bands() for limit in band.limits_hz]
    assert edges == sorted(edges)
    assert [f"{band}" for band in bands()][2] == "alpha (8-13 Hz)"


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


@pytest.mark.open_data
def test_fast_power_of_the_open_baseline(open_data):
    """Own computation of 30-48 Hz in uV^2 on 60 s with open eyes, made apart from this code."""
    (path,) = (open_data / "motor-imagery-baseline").glob("*.edf")
    raw = mne.io.read_raw_edf(path, verbose="ERROR")
    names = {read_label(label).name: label for label in raw.ch_names}
    signal = raw.get_data(picks=[names[name] for name in STANDARD_19])[:, : 60 * 160] * 1e6
    spectrum = spectrum_of(signal - signal.mean(axis=0), raw.info["sfreq"])
    power = dict(zip(STANDARD_19, np.diag(spectrum.band_covariance(30, 48)), strict=True))
    expected = {"T8": 142, "Fp1": 60, "T7": 57, "O2": 34, "F7": 33, "O1": 22, "Cz": 18, "Pz": 13}
    assert {name: power[name] for name in expected} == pytest.approx(expected, rel=0.05)
