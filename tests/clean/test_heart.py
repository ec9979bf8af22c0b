"""The heart's field: found at its beats, with a channel of its own and without, and taken out."""

import numpy as np
import pytest
from open_edf import read_edf
from simulated import NAMES, SETTINGS, band_power, change_db, positions, quiet

from aftersit.clean import filters
from aftersit.clean.heart import find_heart, remove_heart

RATE_HZ = 256.0
LIMITS = SETTINGS.heart
BASE = filters.high_pass(quiet(150, number=11).x, RATE_HZ, 0.5)
USABLE = np.ones(BASE.shape[1], bool)
BEAT_HZ = (8.0, 30.0)


def beats(number: int = 6) -> np.ndarray:
    """R waves in samples, 0.88 s apart with a spread of 5 %."""
    rng = np.random.default_rng(number)
    at = np.cumsum(rng.normal(0.88, 0.044, 200)) * RATE_HZ
    return at[at < BASE.shape[1] - RATE_HZ].astype(int)


def heart(size_uv: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Field at the electrodes, ECG and beats: R waves 30 ms wide and slow T waves."""
    at, t = beats(), np.arange(-64, 128) / RATE_HZ
    wave = np.exp(-0.5 * (t / 0.012) ** 2) + 0.2 * np.exp(-0.5 * ((t - 0.28) / 0.04) ** 2)
    train = np.zeros(BASE.shape[1])
    train[at] = 1
    lead = np.convolve(train, wave)[64:][: train.size]
    gradient = positions() @ np.array([0.9, 0.2, -0.3])
    field = np.outer(size_uv * gradient / np.abs(gradient - gradient.mean()).max(), lead)
    return field, 900 * lead + 15 * np.random.default_rng(3).standard_normal(lead.size), at


def found(x, ecg=None, usable=USABLE):
    return find_heart(x, NAMES, RATE_HZ, ecg, usable, LIMITS)


@pytest.mark.parametrize(("size_uv", "channel"), [(18.0, False), (18.0, True), (6.0, True)])
def test_a_heart_is_found_at_its_beats_and_taken_out(size_uv, channel):
    field, ecg, at = heart(size_uv)
    x = BASE + field
    one = found(x, ecg if channel else None)
    assert one.source == ("ecg" if channel else "eeg")
    away = np.abs(one.at[:, None] - at).min(axis=0)
    assert np.mean(away <= 0.02 * RATE_HZ) > 0.95
    assert one.size_uv == pytest.approx(np.ptp(field - field.mean(axis=0), axis=1).max(), rel=0.25)
    remove_heart(x, np.arange(len(x)), RATE_HZ, one)
    left = x - BASE
    worst = np.argmax((field - field.mean(axis=0)).var(axis=1))
    after, before = ((y - y.mean(axis=0))[worst] for y in (left, field))
    change = change_db(band_power(after, RATE_HZ, *BEAT_HZ), band_power(before, RATE_HZ, *BEAT_HZ))
    assert change < (-8 if size_uv > 10 else -4)


def test_taking_it_out_costs_the_brain_next_to_nothing():
    """A mean over n beats holds 1/n of the power of what does not beat."""
    field, ecg, _ = heart(18.0)
    x = BASE + field
    remove_heart(x, np.arange(len(x)), RATE_HZ, found(x, ecg))
    for band in ((1, 4), (4, 8), (8, 13), (13, 30), (30, 45)):
        change = change_db(band_power(x, RATE_HZ, *band), band_power(BASE, RATE_HZ, *band))
        assert np.abs(change).max() < 0.25


@pytest.mark.parametrize("number", [12, 13, 14])
def test_where_there_is_none_none_is_found(number):
    x = filters.high_pass(quiet(90, number=number).x, RATE_HZ, 0.5)
    assert found(x, usable=np.ones(x.shape[1], bool)) is None


def test_a_channel_that_does_not_beat_is_no_heart():
    noise = np.random.default_rng(5).standard_normal(BASE.shape[1])
    assert found(BASE, ecg=noise) is None


def test_beats_in_bad_seconds_teach_nothing():
    field, ecg, _ = heart(18.0)
    usable = USABLE.copy()
    usable[30 * 256 : 60 * 256] = False
    x = BASE + field
    clean = found(x, ecg, usable).field_uv
    x[:, 30 * 256 : 60 * 256] += 500
    np.testing.assert_allclose(found(x, ecg, usable).field_uv, clean, atol=1e-9)


@pytest.mark.open_data
@pytest.mark.parametrize("name", ["Subject00_1", "Subject01_1"])
def test_beats_found_without_the_channel_are_those_of_the_channel(name, open_data):
    raw, _ = read_edf(open_data / "mental-arithmetic" / f"{name}.edf")
    rate_hz = raw.info["sfreq"]
    x = raw.get_data(picks=NAMES)[:, : int(179 * rate_hz)] * 1e6
    x = filters.high_pass(x, rate_hz, 0.5)
    ecg = raw.get_data(picks="ECG")[0, : x.shape[1]] * 1e6
    usable = np.ones(x.shape[1], bool)
    by_eeg = find_heart(x, NAMES, rate_hz, None, usable, LIMITS)
    by_ecg = find_heart(x, NAMES, rate_hz, ecg, usable, LIMITS)
    assert (by_eeg.source, by_ecg.source) == ("eeg", "ecg")
    away = np.abs(by_eeg.at[:, None] - by_ecg.at).min(axis=1)
    assert np.mean(away < 0.04 * rate_hz) > 0.97
