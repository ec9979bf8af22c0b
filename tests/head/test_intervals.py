"""Degrees of freedom and intervals against published formulas and simulation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from aftersit.head.intervals import band_dof, bin_correlation, form_dof, interval, segment_dof
from aftersit.head.spectra import cross_spectrum, hann

WINDOW = hann(512)


def test_segments_that_do_not_overlap_give_two_each():
    assert segment_dof([7, 4], WINDOW, 512) == pytest.approx(2 * 11)


def test_runs_share_nothing():
    """Two runs of three are known better than one of six: one pair less overlaps."""
    assert segment_dof([3, 3], WINDOW, 256) == pytest.approx(2 * segment_dof([3], WINDOW, 256))
    assert segment_dof([6], WINDOW, 256) < segment_dof([3, 3], WINDOW, 256)


def test_nothing_is_known_of_no_segment():
    assert np.isnan(segment_dof([], WINDOW, 256))


def test_a_flat_band_is_known_better_than_a_peak():
    correlation = bin_correlation(WINDOW)
    flat, peak = np.full((1, 10), 3.0), np.full((1, 10), 1e-6)
    peak[0, 4] = 30.0
    expected = 100 / (10 + 2 * (9 * 4 / 9 + 8 / 36))
    assert band_dof(flat, 40.0, correlation) == pytest.approx(40 * expected)
    assert band_dof(peak, 40.0, correlation) == pytest.approx(40, rel=1e-3)


@pytest.mark.parametrize("band_hz", [(10.0, 10.5), (8, 13), (1, 4), (30, 45)])
def test_intervals_cover_the_true_power_of_noise(band_hz):
    """95 % within the sampling error of 600 recordings; white noise, 20 s each."""
    rng = np.random.default_rng(44)
    true = 2 / 256 * (band_hz[1] - band_hz[0])
    covered = []
    for _ in range(600):
        spectrum = cross_spectrum(rng.normal(size=(1, 20 * 256)), 256.0, [(0, 20)], 2.0, 0.5)
        density = spectrum.auto[:, spectrum.inside(*band_hz)]
        dof = band_dof(density, spectrum.dof, bin_correlation(WINDOW))
        low, high = interval(density.sum(axis=1) * spectrum.bin_hz, dof)
        covered.append(low[0] < true < high[0])
    # Standard error of a share of 0.95 over 600 is 0.009.
    assert np.mean(covered) == pytest.approx(0.95, abs=0.025)


def test_intervals_of_a_quadratic_measure_cover_too():
    """A mean over three unlike filters of five correlated channels."""
    rng = np.random.default_rng(45)
    mixing = rng.normal(size=(5, 5))
    filters = rng.normal(size=(3, 5)) * [[1.0], [0.7], [0.2]]
    matrix = (filters.T @ filters)[None]
    true = 2 / 128 * 5 * np.trace(matrix[0] @ mixing @ mixing.T)
    covered = []
    for _ in range(500):
        signal = mixing @ rng.normal(size=(5, 20 * 128))
        spectrum = cross_spectrum(signal, 128.0, [(0, 20)], 2.0, 0.5)
        covariance = spectrum.band_covariance(8, 13)
        inside = spectrum.density[spectrum.inside(8, 13)].real.reshape(10, -1)
        density = matrix.reshape(1, -1) @ inside.T
        dof = band_dof(density, spectrum.dof, bin_correlation(hann(256)))
        low, high = interval(
            np.sum(matrix * covariance, axis=(1, 2)), dof * form_dof(matrix, covariance)
        )
        covered.append(low[0] < true < high[0])
    assert np.mean(covered) == pytest.approx(0.95, abs=0.03)


@given(dof=st.floats(2, 5000), power=st.floats(1e-9, 1e9))
def test_interval_holds_its_estimate_and_narrows(dof, power):
    low, high = interval(np.array([power]), np.array([dof]))
    assert low[0] < power < high[0]
    narrower = interval(np.array([power]), np.array([2 * dof]))
    assert high[0] - low[0] > narrower[1][0] - narrower[0][0]
