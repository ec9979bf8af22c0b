"""Slopes of simulated spectra of known exponent; a bump told from a flatter spectrum."""

import numpy as np
import pytest

from aftersit.head.aperiodic import fit_range, fit_slopes
from aftersit.head.spectra import cross_spectrum

RATE_HZ = 256.0
FREQUENCY_HZ = np.arange(0.5, 128, 0.5)


@pytest.fixture
def rule(settings):
    return settings.aperiodic


def coloured(exponent: float, seconds: float, seed: int) -> np.ndarray:
    """Noise whose density falls as 1 / f^exponent above 0.5 Hz, made as a spectrum."""
    n = int(seconds * RATE_HZ)
    f = np.fft.rfftfreq(n, 1 / RATE_HZ)
    rng = np.random.default_rng(seed)
    spectrum = rng.normal(size=len(f)) + 1j * rng.normal(size=len(f))
    return np.fft.irfft(spectrum * np.maximum(f, 0.5) ** (-exponent / 2), n)


@pytest.mark.parametrize("exponent", [0.7, 1.3, 2.1])
def test_exponent_of_noise_is_recovered(rule, exponent):
    signal = coloured(exponent, 120, 8)[None]
    spectrum = cross_spectrum(signal, RATE_HZ, [(0, 120)], 2.0, 0.5)
    (slope,) = fit_slopes(spectrum.frequency_hz, spectrum.auto, (2, 40), rule)
    assert slope.exponent == pytest.approx(exponent, abs=0.1)
    assert slope.r_squared > 0.9


def test_a_bump_leaves_the_slope_where_it_is(rule):
    """Alpha of 6 dB on 1/f^1.2: the exponent stays, the band stands over the slope."""
    plain = 20 * FREQUENCY_HZ**-1.2
    bumpy = plain * 10 ** (0.9 * np.exp(-((FREQUENCY_HZ - 10) ** 2) / 2 / 1.4**2))
    flatter = plain * FREQUENCY_HZ**0.4
    slopes = fit_slopes(FREQUENCY_HZ, np.stack([plain, bumpy, flatter]), (2, 40), rule)
    assert [s.exponent for s in slopes] == pytest.approx([1.2, 1.2, 0.8], abs=0.05)
    alpha = (FREQUENCY_HZ >= 8) & (FREQUENCY_HZ < 13)
    over = [
        10 * np.log10(one[alpha].sum() / slope.density(FREQUENCY_HZ[alpha]).sum())
        for one, slope in zip((plain, bumpy, flatter), slopes, strict=True)
    ]
    true = 10 * np.log10(bumpy[alpha].sum() / plain[alpha].sum())
    # Power in the band rose in both: by the bump, and by the flatter slope.
    assert over == pytest.approx([0, true, 0], abs=0.5)
    assert min(one[alpha].sum() for one in (bumpy, flatter)) > 2 * plain[alpha].sum()


def test_unit_of_the_spectrum_moves_the_offset_alone(rule):
    density = (30 * FREQUENCY_HZ**-1.5)[None]
    (one,), (other,) = (
        fit_slopes(FREQUENCY_HZ, factor * density, (2, 40), rule) for factor in (1, 1e12)
    )
    assert other.exponent == pytest.approx(one.exponent, abs=1e-3)
    assert other.offset - one.offset == pytest.approx(12, abs=1e-2)


@pytest.mark.parametrize(
    ("high_hz", "expected"), [(70.0, (2, 40)), (31.0, (2, 31.0)), (24.0, None)]
)
def test_range_ends_with_the_recording(rule, high_hz, expected):
    assert fit_range(rule, high_hz) == expected


def test_spectra_that_can_t_be_fitted_give_nothing(rule):
    density = np.stack([np.full(len(FREQUENCY_HZ), np.nan), np.zeros(len(FREQUENCY_HZ))])
    assert all(np.isnan(s.exponent) for s in fit_slopes(FREQUENCY_HZ, density, (2, 40), rule))
    assert np.isnan(fit_slopes(FREQUENCY_HZ, density + 1, None, rule)[1].exponent)
