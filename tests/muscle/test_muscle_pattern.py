"""The muscle's pattern: learnt above the brain, taken out of what is fast, no harm elsewhere."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aftersit.electrodes import STANDARD_19
from aftersit.muscle.cortex import cortex_covariance
from aftersit.muscle.model import fast_filter, muscle_pattern, ranges_of, upper_ranges
from aftersit.muscle.remove import remove_fast_muscle
from aftersit.muscle.windows import Spectra, densities_in, usable_bins
from aftersit.quality import Carried
from aftersit.settings import load_settings

SETTINGS = load_settings("s1").clean.muscle
RATE = 256.0
WIDE = Carried(low_hz=0.5, high_hz=115.0)


class Recorded:
    mains_hz = None

    def __init__(self, carried=WIDE, mains_hz=None):
        self.carried, self.mains_hz = carried, mains_hz


def brain(rng, n_s=60, level_uv2=0.84, slope=3.0):
    """Equally active cortex, f^-slope from 10 Hz on, `level_uv2` in 30-45 Hz at an electrode."""
    n = round(n_s * RATE)
    f = np.fft.rfftfreq(n, 1 / RATE)
    shape = np.maximum(f, 10.0) ** -slope
    inside = (f >= 30) & (f < 45)
    density = level_uv2 * shape / (shape[inside].mean() * 15)
    values, vectors = np.linalg.eigh(cortex_covariance(STANDARD_19))
    root = vectors * np.sqrt(np.maximum(values, 0))
    white = np.fft.rfft(rng.standard_normal((19, n)))
    return root @ np.fft.irfft(white * np.sqrt(density * RATE / 2), n)


def muscle(rng, at="T7", n_s=60, size_uv=20.0):
    """White noise at one electrode and a little at its neighbours."""
    near = {"T7": {"T7": 1.0, "F7": 0.6, "P7": 0.3, "C3": 0.2}}[at]
    pattern = np.array([near.get(name, 0.0) for name in STANDARD_19])
    return np.outer(pattern, size_uv * rng.standard_normal(round(n_s * RATE)))


def learn(x, carried=WIDE):
    recorded = Recorded(carried)
    windows = densities_in(Spectra(x, RATE), ranges_of(carried, SETTINGS), recorded)
    usable = np.ones(windows.start_s.size, bool)
    return muscle_pattern(windows, usable, STANDARD_19, SETTINGS)


def band(x, low, high):
    from scipy.signal import welch

    f, density = welch(x - x.mean(axis=0), RATE, nperseg=512)
    return density[:, (f >= low) & (f < high)].sum(axis=1) * (f[1] - f[0])


@pytest.mark.parametrize("n_s", [20, 150])
def test_a_density_is_that_of_scipy_welch(n_s):
    """However many pieces the windows are made in."""
    from scipy.signal import csd

    x = np.random.default_rng(3).standard_normal((19, n_s * 256)).cumsum(axis=1)
    windows = densities_in(Spectra(x, RATE), {"beta": (20.0, 30.0)}, Recorded())
    centred = x - x.mean(axis=0)
    f, cross = csd(centred[4], centred[11], RATE, nperseg=256)
    expected = cross.real[(f >= 20) & (f < 30)].mean()
    assert windows.density["beta"].mean(axis=0)[4, 11] == pytest.approx(expected, rel=1e-4)


def test_windows_of_all_pieces_are_those_of_scipy_in_their_order():
    from scipy.signal import spectrogram

    x = np.random.default_rng(5).standard_normal((19, 150 * 256)).cumsum(axis=1)
    windows = densities_in(Spectra(x, RATE), {"beta": (20.0, 30.0)}, Recorded())
    f, middle_s, density = spectrogram(
        x[7] - x.mean(axis=0), RATE, "hann", nperseg=256, noverlap=128, detrend="constant"
    )
    np.testing.assert_allclose(windows.start_s + 0.5, middle_s)
    expected = density[(f >= 20) & (f < 30)].mean(axis=0)
    np.testing.assert_allclose(windows.density["beta"][:, 7, 7], expected, rtol=1e-4)


def test_bins_stay_away_from_mains_and_notches():
    carried = Carried(low_hz=0.5, high_hz=100.0, notches_hz=((70.0, 74.0),))
    f = np.arange(129)
    found = f[usable_bins(256, RATE, (54.0, 120.0), Recorded(carried, 50.0))]
    assert set(found) == (set(range(54, 98)) - set(range(70, 75)))


def test_muscle_goes_and_brain_stays():
    rng = np.random.default_rng(11)
    true, tense = brain(rng), muscle(rng)
    x = true + tense
    pattern = learn(x)
    assert 1 <= len(pattern.kept) <= 6
    cleaned = x - x.mean(axis=0)
    remove_fast_muscle(cleaned, RATE, pattern)
    t7, cz = STANDARD_19.index("T7"), STANDARD_19.index("Cz")
    before, after, wanted = (band(signal, 30, 45) for signal in (x, cleaned, true))
    assert before[t7] > 30 * wanted[t7]
    assert after[t7] < 2 * wanted[t7]
    assert after[cz] == pytest.approx(wanted[cz], rel=0.05)
    for low, high in ((4, 8), (8, 13)):
        np.testing.assert_allclose(band(cleaned, low, high), band(x, low, high), rtol=0.04)


def test_a_true_burst_at_40_hz_is_no_muscle():
    rng = np.random.default_rng(8)
    t = np.arange(60 * 256) / RATE
    burst = np.outer(cortex_covariance(STANDARD_19)[8], 4 * np.sin(2 * np.pi * 40.3 * t))
    x = brain(rng) + burst
    cleaned = x - x.mean(axis=0)
    remove_fast_muscle(cleaned, RATE, learn(x))
    np.testing.assert_allclose(band(cleaned, 35, 45), band(x, 35, 45), rtol=0.03)


def test_what_ends_at_45_hz_shows_no_pattern():
    """Filters of many recorders: nothing is known above, so nothing is taken."""
    ends = Carried(low_hz=0.5, high_hz=45.0)
    assert upper_ranges(ends, SETTINGS) is None
    assert learn(brain(np.random.default_rng(2), n_s=20), ends) is None
    np.testing.assert_allclose(fast_filter(None, 19), np.eye(19) - 1 / 19)


@settings(max_examples=10, deadline=None)
@given(scale=st.floats(0.05, 40), common=st.floats(-50, 50))
def test_units_and_reference_do_not_matter(scale, common):
    rng = np.random.default_rng(13)
    x = brain(rng, n_s=20) + muscle(rng, n_s=20)
    one, other = learn(x), learn(scale * x + common * rng.standard_normal(x.shape[1]))
    np.testing.assert_allclose(other.kept, one.kept, rtol=1e-3)
    np.testing.assert_allclose(fast_filter(other, 19), fast_filter(one, 19), atol=2e-3)
