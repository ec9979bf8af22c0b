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


def test_residual_amplitude_of_a_burst_is_its_amplitude():
    x = np.zeros((2, 256 * 10))
    t = np.arange(256 * 2) / 256
    x[1, 1024:1536] = 20 * np.sin(2 * np.pi * 50 * t)
    amplitude, size = mains.residual_amplitude(x, 256.0, 50.0)
    assert size == 128
    np.testing.assert_allclose(amplitude[1, 8:12], 20, rtol=0.02)
    assert amplitude[0].max() == 0


def test_residual_amplitude_reaches_the_end():
    """Half a second less one sample is left over; the last block reaches back from the end."""
    t = np.arange(256 * 4 + 127) / 256
    x = np.where(t >= 4, 20 * np.sin(2 * np.pi * 50 * t), 0)[None]
    amplitude, _ = mains.residual_amplitude(x, 256.0, 50.0)
    assert amplitude.shape == (1, 9)
    assert amplitude[0, 8] == pytest.approx(20, rel=0.02)
    assert amplitude[0, :8].max() == 0
