"""Eyes, muscle and faults: places, spectra and shapes."""

import numpy as np
import pytest
from scipy.signal import welch
from scipy.stats import kurtosis

from demo_clinic import eyes, faults, muscle

RATE_HZ = 500.0


def rng():
    return np.random.default_rng(12)


def at(sources, values, *names):
    return np.array([values[sources.electrodes.index(name)] for name in names])


def referenced_power(columns):
    return (columns - columns.mean(axis=0)).__pow__(2).sum(axis=1)


@pytest.mark.parametrize(
    ("name", "strongest"),
    [
        ("jaw-left", {"T7", "F7"}),
        ("jaw-right", {"T8", "F8"}),
        ("brow", {"Fp1", "Fp2"}),
        ("neck", {"O1", "O2"}),
    ],
)
def test_muscle_is_strongest_over_itself_and_weak_at_the_vertex(sources, name, strongest):
    # Paralysis: muscle grows with distance from the vertex, greatest at the edge of the
    # scalp (Pope et al. 2009, Brain Topogr 22:13).
    power = referenced_power(muscle.mixing(sources, muscle.MUSCLES[name]))
    first = {sources.electrodes[i] for i in np.argsort(power)[-2:]}
    assert first == strongest
    assert power.max() == pytest.approx(1)
    assert at(sources, power, "Cz")[0] < 0.1


@pytest.mark.parametrize(("peak_hz", "low", "high"), [(25.0, 20, 30), (60.0, 40, 80)])
def test_muscle_spectra_peak_where_published(peak_hz, low, high):
    # Frontalis 20-30 Hz, temporalis 40-80 Hz; 20-300 Hz in all (Muthukumaraswamy 2013).
    x = muscle.units(rng(), 60_000, RATE_HZ, peak_hz)
    f, density = welch(x, RATE_HZ, nperseg=250)
    mean = density.mean(axis=0)
    assert low <= f[mean.argmax()] <= high
    assert mean[f < 8].max() < 0.02 * mean.max()
    assert mean[(f > 80) & (f < 140)].min() > 0.05 * mean.max()


def test_muscle_has_the_level_that_is_asked_for_and_is_spiky(sources):
    x = muscle.simulate(rng(), sources, "jaw-left", [((0.0, 120.0), 40.0)], 60_000, RATE_HZ)
    x = x - x.mean(axis=0)
    f, density = welch(x, RATE_HZ, nperseg=500)
    power = density[:, (f >= 30) & (f < 45)].sum(axis=1) * f[1]
    assert power.max() == pytest.approx(40, rel=0.15)
    assert kurtosis(x[power.argmax()]) > 0.5


def test_muscle_rests_outside_its_spans(sources):
    x = muscle.simulate(rng(), sources, "brow", [((10.0, 20.0), 30.0)], 15_000, RATE_HZ)
    assert np.abs(x[:, 10_001:]).max() == 0
    assert x[0, 5500:9500].std() > 1


def test_blinks_are_frontal_and_fall_backwards(sources):
    up = eyes.topography(sources, eyes.UP, ("Fp1", "Fp2"))
    fp, f3, cz, o1 = at(sources, up, "Fp1", "F3", "Cz", "O1")
    assert fp == pytest.approx(1, abs=0.1)
    assert fp > 2 * f3 > 2 * cz > 2 * o1
    assert np.abs(up).argmax() in [sources.electrodes.index(name) for name in ("Fp1", "Fp2")]


def test_sideward_gaze_has_opposite_signs_at_the_temples(sources):
    f7, f8, fz = at(sources, eyes.topography(sources, eyes.RIGHT, ("F8",)), "F7", "F8", "Fz")
    assert f8 == pytest.approx(1)
    assert f7 == pytest.approx(-1, abs=0.15)
    assert abs(fz) < 0.15


def test_blinks_come_as_often_as_asked_and_never_pile_up():
    times = eyes.blink_times(rng(), [((0.0, 3000.0), 14.0), ((3000.0, 3300.0), 0.0)])
    assert len(times) == pytest.approx(700, rel=0.12)
    assert np.diff(times).min() >= 0.599
    assert times.max() < 3000


def test_a_blink_trace_peaks_at_its_size():
    trace = eyes.blink_trace(rng(), np.array([1.0, 3.0]), 2500, RATE_HZ, 100.0)
    assert 70 <= trace[500:800].max() <= 130
    assert np.abs(trace[900:1490]).max() == 0


def test_rolling_eyes_are_slow():
    trace = eyes.rolling_trace(rng(), np.ones(60_000), RATE_HZ, 70.0)
    f, density = welch(trace, RATE_HZ, nperseg=20_000)
    assert 0.2 <= f[density.argmax()] <= 0.4


def test_mains_is_one_line_at_50_hz():
    x = faults.mains(rng(), 4, 30_000, RATE_HZ, 3.0)
    f, density = welch(x, RATE_HZ, nperseg=1000)
    assert f[density.argmax(axis=1)].tolist() == [50.0] * 4
    assert density[:, (f < 48) | ((f > 52) & (f < 148)) | (f > 152)].max() < 1e-3 * density.max()


def test_a_pop_jumps_and_sinks_back():
    x = faults.pop(10_000, RATE_HZ, 4.0, -180.0)
    assert x[1999] == 0
    assert x[2000] == -180
    # Time constant 1.5 s.
    assert x[2750] == pytest.approx(-180 / np.e)


def test_the_heart_beats_about_66_times_a_minute():
    x = faults.heart(rng(), 120_000, RATE_HZ)
    beats = np.flatnonzero((x[1:] > 600) & (x[:-1] <= 600))
    beats = beats[np.diff(beats, prepend=-1000) > 100]
    assert 60 / (np.diff(beats).mean() / RATE_HZ) == pytest.approx(66, abs=2)
