"""Spectra against closed forms and scipy's Welch estimate."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.signal import welch

from demo_clinic import noise

RATE_HZ = 200.0


def rng():
    return np.random.default_rng(5)


def test_flat_density_gives_density_times_half_the_rate_as_variance():
    # White noise of variance v has the one-sided density 2 v / rate (closed form).
    x = noise.shaped_noise(rng(), 3, 60_000, RATE_HZ, lambda f: np.full_like(f, 0.07))
    assert x.var(axis=1) == pytest.approx([0.07 * RATE_HZ / 2] * 3, rel=0.03)


def test_a_bump_has_power_one_and_its_top_at_the_centre():
    assert quad(noise.bump(9.3, 0.7), 0, 30)[0] == pytest.approx(1, abs=1e-6)
    x = noise.shaped_noise(rng(), 1, 100_000, RATE_HZ, noise.bump(9.3, 0.7))[0]
    f, density = welch(x, RATE_HZ, nperseg=800)
    assert f[density.argmax()] == pytest.approx(9.3, abs=0.5)


def test_band_power_equals_quadrature():
    def density(f):
        return 3 * np.asarray(f) ** -1.7

    assert noise.band_power(density, 4, 9) == pytest.approx(quad(density, 4, 9)[0], rel=1e-6)


@pytest.mark.parametrize("band", [(4, 7), (13, 20), (35, 45)])
def test_a_rhythm_keeps_its_size_and_its_band(band):
    x = noise.band_rhythm(rng(), 2, 60_000, RATE_HZ, band)
    f, density = welch(x, RATE_HZ, nperseg=800)
    inside = (f >= band[0]) & (f <= band[1])
    assert x.var(axis=1) == pytest.approx([1, 1], rel=0.02)
    assert (density[:, inside].sum(axis=1) / density.sum(axis=1) > 0.95).all()


def test_waxing_has_mean_square_one_and_really_moves():
    envelope = noise.waxing(rng(), 600_000, RATE_HZ, cutoff_hz=0.3, spread=0.35)
    assert np.mean(envelope**2) == pytest.approx(1, rel=0.06)
    assert np.std(np.log(envelope)) == pytest.approx(0.35, rel=0.1)


def test_slow_noise_has_nothing_fast():
    x = noise.slow_noise(rng(), 1, 200_000, RATE_HZ, 0.5)[0]
    f, density = welch(x, RATE_HZ, nperseg=8000)
    assert x.var() == pytest.approx(1, rel=0.15)
    assert density[f > 1.5].sum() < 0.01 * density.sum()


def test_parts_have_streams_of_their_own():
    draws = {
        noise.generator(*key).integers(1 << 60)
        for key in [(4, "a", "x"), (4, "a", "y"), (4, "b", "x"), (5, "a", "x")]
    }
    assert len(draws) == 4
