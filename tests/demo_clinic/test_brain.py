"""Background, alpha and bursts: levels, slopes and places."""

import numpy as np
import pytest
from scipy.signal import welch
from scipy.stats import linregress

from aftersit.errors import AftersitError
from demo_clinic import alpha, background, bursts
from demo_clinic.sources import average_reference, factor

RATE_HZ = 250.0
N = 50_000


def referenced(x):
    return x - x.mean(axis=0)


def band(x, low, high):
    f, density = welch(x, RATE_HZ, nperseg=1000)
    return density[..., (f >= low) & (f < high)].sum(axis=-1) * f[1]


@pytest.fixture(scope="module")
def noise(sources):
    return background.simulate(np.random.default_rng(8), sources, N, RATE_HZ, 0.8)


def test_background_has_the_level_that_is_asked_for(noise):
    # Muscle-free people have 0.5-1.1 uV^2 in 30-45 Hz (Whitham et al. 2007, fig. 1, digitised).
    assert band(referenced(noise), 30, 45).mean() == pytest.approx(0.8, rel=0.05)


@pytest.mark.parametrize(("low", "high", "slope"), [(1, 12, -1.3), (20, 60, -2.6)])
def test_background_falls_with_the_stated_slopes(noise, low, high, slope):
    # -2.6 lies within the -2.3 to -4.6 that the digitised muscle-free spectra show over 20-60 Hz.
    f, density = welch(referenced(noise), RATE_HZ, nperseg=1000)
    chosen = (f >= low) & (f <= high)
    fit = linregress(np.log(f[chosen]), np.log(density.mean(axis=0)[chosen]))
    assert fit.slope == pytest.approx(slope, abs=0.12)


def test_background_has_the_covariance_of_equally_active_cortex(noise, sources, head):
    own = (head.gain * head.area_mm2) @ head.gain.T
    own = average_reference(own) / np.trace(average_reference(own))
    seen = np.cov(referenced(noise))
    assert np.linalg.norm(seen / np.trace(seen) - own) < 0.1 * np.linalg.norm(own)


def test_regions_add_up_to_the_cortex(sources):
    total = sum(sources.region_covariance(r, "both") for r in sorted(set(sources.region)))
    np.testing.assert_allclose(total, sources.cortex, rtol=1e-9, atol=1e-9 * sources.cortex.max())


def test_sides_add_up_to_both(sources):
    halves = [sources.region_covariance("insula", side) for side in ("left", "right")]
    both = sources.region_covariance("insula", "both")
    np.testing.assert_allclose(sum(halves), both, rtol=1e-9)


def test_an_unknown_region_names_the_known_ones(sources):
    with pytest.raises(AftersitError, match=r"no region 'pineal' \(left\).*insula"):
        sources.region_covariance("pineal", "left")


def test_electrodes_find_the_region_under_them(sources):
    assert sources.region_heard_at(("O1", "O2")) in {"lateraloccipital", "pericalcarine", "cuneus"}


def test_a_factor_of_full_rank_is_exact(sources):
    made = factor(sources.cortex)
    np.testing.assert_allclose(made @ made.T, sources.cortex, atol=1e-9 * sources.cortex.max())


def test_alpha_is_largest_at_the_back_and_as_large_as_asked(sources):
    x = alpha.simulate(np.random.default_rng(2), sources, RATE_HZ, 9.4, np.full(N, 7.0))
    power = band(referenced(x), 7, 12)
    rows = [sources.electrodes.index(name) for name in ("O1", "O2")]
    assert power[rows].mean() == pytest.approx(49, rel=0.15)
    assert set(np.argsort(power)[-2:]) == set(rows)
    front = [sources.electrodes.index(name) for name in ("F3", "Fz", "F4")]
    assert power[front].max() < 0.4 * power[rows].mean()


@pytest.mark.parametrize(("region", "side"), [("insula", "right"), ("superiorfrontal", "both")])
def test_bursts_stand_over_the_background_as_asked(sources, noise, region, side):
    level_db, hz = 3.7, (14.0, 21.0)
    place = bursts.place(sources, region, side)
    other = np.cov(noise) / np.trace(np.cov(noise)) * band(noise, *hz).sum()
    size = np.full(N, bursts.power_for(level_db, place, other) ** 0.5)
    x = bursts.simulate(np.random.default_rng(6), place, hz, size, RATE_HZ)
    along = [band(place.topography @ referenced(part), *hz) for part in (x, noise)]
    assert 10 * np.log10(along[0] / along[1]) == pytest.approx(level_db, abs=0.6)


def test_a_rise_is_the_background_plus_the_bursts():
    # 10 log10(1 + 10^(L/10)) = rise (powers of independent signals add).
    assert 10 * np.log10(1 + 10 ** (bursts.level_for_rise(2.2) / 10)) == pytest.approx(2.2)
    assert bursts.level_for_rise(3.0103) == pytest.approx(0, abs=1e-4)
    with pytest.raises(ValueError, match="a rise of -1 dB is not possible"):
        bursts.level_for_rise(-1)
