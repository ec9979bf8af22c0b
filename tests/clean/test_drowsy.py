"""Alpha and theta in steps, against closed forms and another library."""

import numpy as np
import pytest
from scipy.signal import welch
from simulated import NAMES, quiet

from aftersit.clean.drowsy import ALPHA_HZ, THETA_HZ, band_steps, measure_drowsy
from aftersit.clean.slow_eyes import slow_copy

RATE_HZ = 250.0


def measured(x, rate_hz=RATE_HZ, lost=(), high_pass_hz=None, good=NAMES):
    bad = np.zeros(x.shape[1], bool)
    for start_s, stop_s in lost:
        bad[round(start_s * rate_hz) : round(stop_s * rate_hz)] = True
    rows = x[[NAMES.index(name) for name in good]]
    copy = slow_copy(x, NAMES, rate_hz)
    return measure_drowsy(rows - rows.mean(axis=0), good, rate_hz, bad, copy, high_pass_hz)


@pytest.mark.parametrize(("f_hz", "size"), [(9.5, 7.0), (10.25, 7.0), (11.1, 3.0)])
@pytest.mark.parametrize("rate_hz", [128.0, 250.0, 500.0])
def test_a_sine_has_half_its_squared_size_in_its_band_and_none_elsewhere(f_hz, size, rate_hz):
    """Heinzel, Ruediger & Schilling 2002: A^2 / 2, wherever it lies between bins."""
    t = np.arange(round(31 * rate_hz)) / rate_hz
    x = size * np.sin(2 * np.pi * f_hz * t + 0.4)
    alpha, theta = band_steps([x], rate_hz, round(rate_hz), (ALPHA_HZ, THETA_HZ))[:, 0]
    assert alpha.shape == (15,)
    np.testing.assert_allclose(alpha, size**2 / 2, rtol=0.01)
    assert theta.max() < 1e-4 * size**2


def test_bands_agree_with_welch():
    """White noise of 4 uV: 2 sigma^2 / rate a Hz; and scipy's Welch over the same windows."""
    x = 4 * np.random.default_rng(3).standard_normal(round(400 * RATE_HZ))
    steps = band_steps([x], RATE_HZ, round(RATE_HZ), (ALPHA_HZ,))[0, 0]
    assert steps.mean() == pytest.approx(5 * 2 * 16 / RATE_HZ, rel=0.05)
    f, density = welch(x, RATE_HZ, nperseg=500, noverlap=250, detrend=False)
    theirs = density[(f >= 8) & (f < 13)].sum() * 0.5
    assert steps[:-1].mean() == pytest.approx(theirs, rel=0.01)


def test_each_step_holds_its_own_seconds():
    t = np.arange(round(40 * RATE_HZ)) / RATE_HZ
    x = 5 * np.sin(2 * np.pi * 10 * t) * ((t >= 12) & (t < 22))
    (alpha,) = band_steps([x], RATE_HZ, round(RATE_HZ), (ALPHA_HZ,))[0]
    # Steps of 2 s reach 1 s further: 12-22 s are steps 6 to 10, of which the first
    # is whole and the last touches the end; step 5 reaches in.
    np.testing.assert_allclose(alpha[6:10], 12.5, rtol=0.01)
    assert alpha[:5].max() < 1e-6
    assert alpha[11:].max() < 1e-6


def test_rows_are_as_long_as_the_recording_and_in_uv2():
    x = quiet(61.3, RATE_HZ, alpha_uv=12).x
    signs = measured(x)
    assert signs.step_s == 2.0
    assert {len(r) for r in (signs.alpha_db, signs.theta_db, signs.rolls_db)} == {30}
    assert signs.limits == ()
    x -= x.mean(axis=0)
    f, density = welch(x, RATE_HZ, nperseg=500)
    back = [NAMES.index(n) for n in ("O1", "O2", "P3", "Pz", "P4")]
    power = density[back][:, (f >= 8) & (f < 13)].sum(axis=1).mean() * 0.5
    mean_power = np.mean(10 ** (np.array(signs.alpha_db) / 10))
    assert 10 * np.log10(mean_power / power) == pytest.approx(0, abs=0.2)


def test_tenfold_signal_is_20_db_more_and_nothing_else():
    x = quiet(44, RATE_HZ).x
    once, tenfold = measured(x), measured(10 * x)
    np.testing.assert_allclose(tenfold.alpha_db, np.array(once.alpha_db) + 20, atol=0.011)
    np.testing.assert_allclose(tenfold.theta_db, np.array(once.theta_db) + 20, atol=0.011)
    assert tenfold.rolls_db == once.rolls_db
    assert tenfold.alpha_stands_db == once.alpha_stands_db


def test_alpha_stands_out_by_its_own_share():
    """A power law has none; a spectrum with alpha as strong as nine times the rest has 10 dB."""
    rng = np.random.default_rng(8)
    n = round(600 * RATE_HZ)
    f = np.fft.rfftfreq(n, 1 / RATE_HZ)
    for times, expected in ((0.0, 0.0), (9.0, 10.0)):
        density = np.maximum(f, 0.5) ** -1.4 * (1 + times * ((f >= 8) & (f < 13)))
        white = rng.standard_normal((19, f.size)) + 1j * rng.standard_normal((19, f.size))
        x = 300 * np.fft.irfft(white * np.sqrt(density), n)
        # Read in the quarter of steps with most alpha, so chance adds something.
        assert expected - 0.5 < measured(x).alpha_stands_db < expected + 2


def test_focal_theta_at_the_front_midline_does_not_count_as_widespread():
    x = quiet(120, RATE_HZ).x
    t = np.arange(x.shape[1]) / RATE_HZ
    theta = 12 * np.sin(2 * np.pi * 5.6 * t) * (t > 60)
    focal, wide = x.copy(), x.copy()
    focal[NAMES.index("Fz")] += theta
    for i, name in enumerate(NAMES):
        wide[NAMES.index(name)] += theta * (-1) ** i
    rise = [
        np.median(m[31:]) - np.median(m[:29])
        for m in (np.array(measured(s).theta_db) for s in (focal, wide))
    ]
    assert rise[0] < 1.0
    assert rise[1] > 5.0


def test_lost_seconds_have_no_value():
    x = quiet(100, RATE_HZ).x
    signs = measured(x, lost=[(41.0, 42.5)])
    # Step k reads from 2k to 2k + 3 s; rolling is read from 2k - 4 to 2k + 6 s.
    assert [k for k, v in enumerate(signs.alpha_db) if v is None] == [20, 21][:2]
    assert [k for k, v in enumerate(signs.theta_db) if v is None] == [20, 21]
    assert [k for k, v in enumerate(signs.rolls_db) if v is None] == [18, 19, 20, 21, 22, 23]


@pytest.mark.parametrize(
    ("left_out", "limits", "empty"),
    [
        (("F7",), ("no-eye-electrodes",), {"rolls_db"}),
        (("O1", "O2", "P3", "P4"), ("no-posterior-electrodes",), {"alpha_db", "theta_db"}),
    ],
)
def test_what_can_not_be_measured_is_empty_and_said(left_out, limits, empty):
    good = [name for name in NAMES if name not in left_out]
    signs = measured(quiet(60, RATE_HZ).x, good=good)
    assert signs.limits == limits
    assert {name for name in ("alpha_db", "theta_db", "rolls_db") if not getattr(signs, name)} == (
        empty
    )


def test_a_recorder_with_half_a_hertz_carries_no_rolling():
    signs = measured(quiet(60, RATE_HZ).x, high_pass_hz=0.5)
    assert signs.limits == ("slow-waves-not-recorded",)
    assert signs.rolls_db == ()
    assert len(signs.alpha_db) == 30


def test_a_moment_is_not_measured():
    assert measured(quiet(14, RATE_HZ).x).limits == ("not-measured",)
