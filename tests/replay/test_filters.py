import numpy as np
import pytest
from scipy import signal

from aftersit.replay import filters


@pytest.mark.parametrize(
    ("band_hz", "order", "delay_ms", "settle_ms"),
    [((30, 48), 2, 25, 63), ((30, 48), 4, 46, 129), ((8, 13), 4, 166, 480), ((4, 8), 2, 112, 285)],
)
def test_delays_at_256_hz(band_hz, order, delay_ms, settle_ms):
    # Own computation with scipy, kept with the published facts of the project.
    sos = filters.band_pass(band_hz, 256, order)
    assert filters.group_delay_s(sos, band_hz, 256) * 1000 == pytest.approx(delay_ms, abs=0.5)
    assert filters.settle_s(sos, 256, 0.99) * 1000 == pytest.approx(settle_ms, abs=0.6)


def test_group_delay_equals_that_of_the_whole_polynomial():
    band_hz, rate_hz = (20, 30), 160
    b, a = signal.butter(2, band_hz, "bandpass", fs=rate_hz)
    [whole] = signal.group_delay((b, a), w=[np.sqrt(600)], fs=rate_hz)[1]
    sos = filters.band_pass(band_hz, rate_hz, 2)
    assert filters.group_delay_s(sos, band_hz, rate_hz) == pytest.approx(whole / rate_hz, rel=1e-6)


@pytest.mark.parametrize("band_hz", [(8, 13), (25, 42)])
def test_a_tone_burst_is_as_late_as_reported(band_hz):
    # Group delay is the delay of a narrow burst's envelope (Widmann et al. 2015).
    rate_hz, centre_hz = 512, np.sqrt(band_hz[0] * band_hz[1])
    t = np.arange(8 * rate_hz) / rate_hz - 4
    burst = np.exp(-0.5 * (t / 0.6) ** 2) * np.cos(2 * np.pi * centre_hz * t)
    sos = filters.band_pass(band_hz, rate_hz, 4)
    late = filters.CausalFilter(sos)(burst[np.newaxis])[0]
    power = np.abs(signal.hilbert(late)) ** 2
    measured = (t * power).sum() / power.sum()
    assert measured == pytest.approx(filters.group_delay_s(sos, band_hz, rate_hz), abs=1 / rate_hz)


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
