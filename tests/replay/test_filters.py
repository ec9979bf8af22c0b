import numpy as np
import pytest
from scipy import signal

from aftersit.replay import filters


def test_group_delay_equals_that_of_the_whole_polynomial():
    band_hz, rate_hz = (20, 30), 160
    b, a = signal.butter(2, band_hz, "bandpass", fs=rate_hz)
    [whole] = signal.group_delay((b, a), w=[np.sqrt(600)], fs=rate_hz)[1]
    sos = filters.band_pass(band_hz, rate_hz, 2)
    assert filters.group_delay_s(sos, band_hz, rate_hz) == pytest.approx(whole / rate_hz, rel=1e-6)


def test_carried_state_equals_one_pass_of_scipy():
    x = np.random.default_rng(5).normal(size=(3, 700)) + np.array([[4.0], [-7], [30]])
    sos = filters.band_pass((4, 8), 128, 3)
    start = signal.sosfilt_zi(sos)[:, None, :] * x[None, :, :1]
    whole, _ = signal.sosfilt(sos, x, zi=start)
    one = filters.CausalFilter(sos)
    parts = [one(x[:, a:b]) for a, b in ((0, 1), (1, 8), (8, 8), (8, 500), (500, 700))]
    np.testing.assert_array_equal(np.concatenate(parts, axis=1), whole)


def test_an_offset_does_not_ring_and_restart_forgets():
    sos = filters.band_pass((8, 13), 128, 4)
    one = filters.CausalFilter(sos)
    assert np.abs(one(np.full((2, 300), 5e4))).max() < 1e-6
    x = np.random.default_rng(6).normal(size=(2, 90))
    one.restart()
    np.testing.assert_array_equal(one(x), filters.CausalFilter(sos)(x))
