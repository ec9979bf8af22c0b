"""Mains: found per recording, removed, the bands left alone."""

import numpy as np
import pytest
from simulated import SETTINGS, band_power, change_db, quiet

from aftersit.clean import filters, mains

WINDOW_S = SETTINGS.mains.window_s


def with_mains(frequency_hz: float, size_uv: float, rate_hz: float = 256):
    recording = quiet(60, rate_hz)
    swell = 1 + 0.2 * np.sin(2 * np.pi * recording.t / 23)
    wave = size_uv * swell * np.sin(2 * np.pi * frequency_hz * recording.t + 0.7)
    return recording, recording.x + wave


@pytest.mark.parametrize(
    ("frequency_hz", "prior_hz", "expected"),
    [(49.93, 50, 50.0), (60.04, 50, 60.0), (60.04, None, 60.0), (49.96, 60, 50.0)],
)
def test_mains_is_found_whatever_the_sheet_says(frequency_hz, prior_hz, expected):
    _, x = with_mains(frequency_hz, 4.0)
    assert mains.find_mains(*filters.spectra(x, 256.0), prior_hz, SETTINGS.mains) == expected


def test_none_is_found_where_there_is_none():
    spectra = filters.spectra(quiet(60).x, 256.0)
    assert mains.find_mains(*spectra, 50, SETTINGS.mains) is None


@pytest.mark.parametrize("frequency_hz", [49.9, 50.03])
def test_removal_leaves_the_band_below_within_a_tenth_of_a_db(frequency_hz):
    recording, x = with_mains(frequency_hz, 8.0)
    out = mains.remove_mains(x, 256.0, [50.0], WINDOW_S)
    for band in ((45, 48), (30, 45), (8, 13), (52, 60)):
        change = change_db(band_power(out, 256, *band), band_power(recording.x, 256, *band))
        assert np.abs(change).max() < 0.1
    without = band_power(recording.x, 256, 48, 52)
    assert (band_power(x, 256, 48, 52) > 20 * without).all()
    assert (band_power(out, 256, 48, 52) < 1.3 * without).all()


def test_a_pure_sinusoid_leaves_nothing_behind():
    t = np.arange(256 * 40) / 256
    x = 7 * np.sin(2 * np.pi * 50.08 * t + 0.3)[None]
    out = mains.remove_mains(x, 256.0, [50.0], WINDOW_S)
    assert np.abs(out[0, 512:-512]).max() < 0.01 * 7


def test_harmonics_are_named_only_where_they_stand_out():
    recording, x = with_mains(50.0, 8.0, rate_hz=512)
    x = x + 3 * np.sin(2 * np.pi * 150 * recording.t)
    found = mains.harmonics(*filters.spectra(x, 512.0), 50.0, SETTINGS.mains)
    assert found == [50.0, 150.0]


def test_input_is_not_changed():
    _, x = with_mains(50.0, 5.0)
    before = x.copy()
    mains.remove_mains(x, 256.0, [50.0], WINDOW_S)
    np.testing.assert_array_equal(x, before)


def test_a_burst_is_found_where_it_is_on_top_of_steady_mains():
    recording, x = with_mains(50.0, 8.0)
    part = slice(30 * 256, 33 * 256)
    x[5, part] += 6 * np.sin(2 * np.pi * 50 * recording.t[part] + 1.1)
    runs = mains.bursts(x, 256.0, 50.0, SETTINGS.mains)
    assert {row for row, _, _ in runs} == {5}
    ((_, start, stop),) = runs
    assert start == pytest.approx(part.start, abs=128)
    assert stop == pytest.approx(part.stop, abs=128)


def test_tense_muscle_is_no_burst_of_mains():
    """A jaw clenched for 3 s, 25 uV above 25 Hz, has as much at 44 Hz as at 50 Hz."""
    _, x = with_mains(50.0, 2.0, rate_hz=500)
    noise = np.random.default_rng(8).standard_normal((1, x.shape[1]))
    clenched = 25 * filters.high_pass(noise, 500.0, 25.0)[0]
    x[7, 10000:11500] += clenched[10000:11500]
    assert mains.bursts(x, 500.0, 50.0, SETTINGS.mains) == []


def test_a_step_of_mains_that_stays_is_no_burst():
    recording, x = with_mains(50.0, 2.0)
    later = recording.t > 30
    x[3] += later * 15 * np.sin(2 * np.pi * 50 * recording.t)
    runs = mains.bursts(x, 256.0, 50.0, SETTINGS.mains)
    assert sum(stop - start for _, start, stop in runs) <= 2 * 256


def test_what_a_burst_leaves_of_steady_mains_is_removed_beside_it():
    """Learned from the burst, the seconds beside it would get a share of it subtracted."""
    recording, x = with_mains(50.0, 8.0)
    part = slice(30 * 256, 32 * 256)
    burst = x.copy()
    burst[5, part] += 40 * np.sin(2 * np.pi * 50 * recording.t[part] + 1.1)
    steady = np.ones(x.shape, bool)
    for row, start, stop in mains.bursts(burst, 256.0, 50.0, SETTINGS.mains):
        steady[row, start:stop] = False
    left = mains.remove_mains(burst, 256.0, [50.0], WINDOW_S, steady) - recording.x
    beside = np.r_[27 * 256 : 29 * 256, 33 * 256 : 35 * 256]
    assert np.sqrt((left[5, beside] ** 2).mean()) < 0.6
