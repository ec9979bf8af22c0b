import numpy as np
from cases import KEYS, RATE_HZ, TWO, noise, protocol, quality, regions, replay, sitting
from scipy import signal

from aftersit.insight.elsewhere import window_powers


def test_window_powers_are_scipys_spectra_seen_through_the_matrices():
    samples, length, starts = noise(20), 256, np.array([0, 300, 2000])
    matrices = np.stack([regions().matrix(k) for k in KEYS])
    found = window_powers(samples, RATE_HZ, starts, length, [(8, 13), (13, 30)], matrices)
    ratios = []
    for k, start in enumerate(starts):
        part = samples[:, start : start + length]
        f, density = signal.csd(
            part[:, None], part[None], RATE_HZ, "hann", length, scaling="spectrum"
        )
        for b, (low, high) in enumerate(((8, 13), (13, 30))):
            inside = (f >= low) & (f < high)
            power = (matrices * density[..., inside].real.sum(-1)).sum((1, 2))
            ratios.append(found[:, b, k] / power)
    np.testing.assert_allclose(ratios, ratios[0][0], rtol=1e-9)


def alpha_after(gain):
    """Alpha in front of all electrodes, stronger after the break."""
    samples = noise(80)
    sos = signal.butter(3, (8.5, 12.5), "bandpass", fs=RATE_HZ, output="sos")
    alpha = signal.sosfilt(sos, noise(80, seed=17, n=1)) * np.array(
        [[0.5], [1], [-0.8], [1.2], [0.7]]
    )
    alpha[:, round(50 * RATE_HZ) :] *= gain
    return sitting(samples + alpha)


def test_a_change_in_one_band_is_found_there():
    [found] = replay(alpha_after(3), protocol(*TWO)).record.breaks
    assert found.elsewhere.tested == 68 * 5  # one-sided regions by bands
    in_alpha = [c for c in found.elsewhere.found if c.band == "alpha"]
    assert len(in_alpha) == 68  # all of them hear it
    # A rate of 5 % is one of expectation: of these some 4 by chance.
    assert len(found.elsewhere.found) - len(in_alpha) < 8
    for one in found.elsewhere.found:
        assert one.low_db < one.change_db < one.high_db
        assert one.p <= one.q <= 0.05


def test_nothing_is_found_where_nothing_changed():
    [found] = replay(alpha_after(1), protocol(*TWO)).record.breaks
    assert found.elsewhere.found == ()


def test_bands_that_the_recording_does_not_carry_are_not_tested():
    narrow = sitting(found=quality(high_hz=20.0))
    alpha = dict(TWO[0])
    [found] = replay(narrow, protocol(alpha)).record.breaks
    assert found.elsewhere.tested == 68 * 3
