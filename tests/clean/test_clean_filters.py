"""Filters against closed forms."""

from functools import partial

import numpy as np
import pytest
from scipy.signal import welch

from aftersit.clean import filters

RATE_HZ = 200.0


def sine(frequency_hz: float, duration_s: float = 60) -> np.ndarray:
    return np.sin(2 * np.pi * frequency_hz * np.arange(RATE_HZ * duration_s) / RATE_HZ)[None]


@pytest.mark.parametrize("frequency_hz", [0.25, 0.5, 0.8, 1.0, 3.0])
def test_high_pass_gain_is_butterworths_squared(frequency_hz):
    """|H|^2 = 1 / (1 + (fc / f)^(2 n)), once for each direction."""
    out = filters.high_pass(sine(frequency_hz), RATE_HZ, 0.5)[0]
    middle = slice(3000, 9000)
    gain = out[middle].std() / sine(frequency_hz)[0, middle].std()
    order = filters.HIGH_PASS_ORDER
    assert gain == pytest.approx(1 / (1 + (0.5 / frequency_hz) ** (2 * order)), rel=0.01)


def test_high_pass_does_not_move_waves():
    out = filters.high_pass(sine(2.3), RATE_HZ, 0.5)[0, 2000:10000]
    assert np.corrcoef(out, sine(2.3)[0, 2000:10000])[0, 1] > 0.9999


def test_drift_is_what_the_high_pass_took():
    x = sine(10.3) + 100 * sine(0.07)
    passed, drift = filters.without_drift(x, RATE_HZ, 0.5)
    assert np.abs(passed[0, 2000:-2000] - sine(10.3)[0, 2000:-2000]).max() < 0.3
    assert drift.shape == (12, 1)
    assert 10 < np.median(drift) < 100


def test_gaps_become_straight_lines_and_ends_hold():
    x = np.array([[9.0, 1.0, 2.0, 7.0, 7.0, 5.0, 6.0, 8.0, 8.0]])
    filters.bridge_over(x, [(0, 0, 1), (0, 3, 5), (0, 7, 9)])
    np.testing.assert_allclose(x, [[1, 1, 2, 3, 4, 5, 6, 6, 6]])


def test_spectra_of_white_noise():
    """One-sided density 2 sigma^2 / rate; the median's bias is taken out."""
    x = 10 * np.random.default_rng(3).standard_normal((2, 200 * 600))
    f, density = filters.spectra(x, RATE_HZ)
    np.testing.assert_allclose(density[:, 8:-8].mean(axis=1), 2 * 100 / 200, rtol=0.03)
    assert f[-1] == 100


def test_spectra_are_scipys_medians_of_periodograms():
    x = 7 * np.random.default_rng(1).standard_normal((3, 5003)) + 3
    f, density = filters.spectra(x, 250.0)
    theirs_f, theirs = welch(x, 250.0, nperseg=1000, average="median")
    np.testing.assert_allclose(f, theirs_f)
    np.testing.assert_allclose(density, theirs, rtol=1e-9)


@pytest.mark.parametrize("size", [250, 251])
def test_mean_and_median_powers_are_scipys_up_to_the_density_scale(size):
    """Whether a segment is of even or odd length, with its mean or without."""
    x = 7 * np.random.default_rng(2).standard_normal((3, 5003)) + 3
    window, hop = np.hamming(size), size - size // 2
    scale = 250.0 * (window**2).sum() / 2
    welch_of = partial(welch, x, 250.0, window=window, nperseg=size, noverlap=size // 2)
    inner = slice(1, -1)  # 0 Hz and half the rate have no mirror image
    mean = filters.mean_power(x, window, hop)
    np.testing.assert_allclose(mean[:, inner], welch_of()[1][:, inner] * scale, rtol=1e-9)
    median = filters.median_power(x, window, hop, centred=False)
    bias = filters.median_bias((x.shape[1] - size) // hop + 1)
    theirs = welch_of(average="median", detrend=False)[1] * scale * bias
    np.testing.assert_allclose(median[:, inner], theirs[:, inner], rtol=1e-9)


def test_products_in_pieces_are_products():
    rng = np.random.default_rng(4)
    x = rng.standard_normal((5, 2 * filters.PIECE_SAMPLES + 77)).astype(np.float32)
    some = rng.standard_normal((3, 5))
    np.testing.assert_allclose(filters.product(some, x), some @ x, rtol=1e-12, atol=1e-12)
