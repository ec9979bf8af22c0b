"""What a recording carries: header, rate, measured roll-off, notches."""

import numpy as np
import pytest
from scipy import signal
from simulated import SETTINGS, quiet

from aftersit.clean import filters
from aftersit.clean.carried import ChannelLimits, carried

LOW_HZ = SETTINGS.high_pass_hz


def what(x: np.ndarray, rate_hz: float, limits: ChannelLimits):
    return carried(*filters.spectra(x, rate_hz), limits, LOW_HZ, SETTINGS.carried)


def test_the_headers_low_pass_counts():
    holds = what(quiet(30).x, 256, ChannelLimits(0.5, 45.0, (50.0,)))
    assert (holds.low_hz, holds.high_hz) == (0.5, 45.0)
    assert holds.holds((30, 45))
    assert not holds.holds((30, 48))


def test_without_a_header_the_rate_limits():
    assert what(quiet(30).x, 256, ChannelLimits()).high_hz == pytest.approx(0.9 * 128)
    assert what(quiet(30, 160).x, 160, ChannelLimits()).high_hz == pytest.approx(0.9 * 80)


@pytest.mark.parametrize("cut_hz", [35.0, 50.0, 70.0])
def test_a_low_pass_that_the_header_hides_is_measured(cut_hz):
    sos = signal.butter(8, cut_hz, fs=256, output="sos")
    x = signal.sosfilt(sos, quiet(60).x, axis=1)
    assert what(x, 256, ChannelLimits()).high_hz == pytest.approx(cut_hz, rel=0.2)


def test_notches_refuse_the_bands_that_they_cut():
    holds = what(quiet(30).x, 256, ChannelLimits(notches_hz=(50.0,)))
    assert holds.notches_hz == ((48.0, 52.0),)
    assert holds.holds((30, 48))
    assert holds.holds((52, 60))
    assert not holds.holds((30, 49))
    assert not holds.holds((45, 70))


@pytest.mark.parametrize(("notch_hz", "line_uv"), [(50.0, 0.0), (60.0, 0.0), (50.0, 1.4)])
def test_a_notch_that_the_header_hides_is_measured(notch_hz, line_uv):
    """Quality 20, as common amplifiers have; some of the line may be left in its middle."""
    b, a = signal.iirnotch(notch_hz, 20, fs=256)
    x = signal.lfilter(b, a, quiet(60).x, axis=1)
    x += line_uv * np.sin(2 * np.pi * notch_hz * np.arange(x.shape[1]) / 256)
    holds = what(x, 256, ChannelLimits())
    assert holds.notches_hz == ((notch_hz - 2, notch_hz + 2),)
    assert not holds.holds((40, 70))
    named = what(x, 256, ChannelLimits(notches_hz=(notch_hz + 0.5,)))
    assert named.notches_hz == ((notch_hz - 1.5, notch_hz + 2.5),)


@pytest.mark.parametrize("line_uv", [0.0, 3.0])
def test_a_line_without_a_notch_is_none(line_uv):
    x = quiet(60).x
    x = x + line_uv * np.sin(2 * np.pi * 50 * np.arange(x.shape[1]) / 256)
    assert what(x, 256, ChannelLimits()).notches_hz == ()


def test_a_high_pass_of_the_amplifier_counts():
    holds = what(quiet(30).x, 256, ChannelLimits(1.6, None))
    assert holds.low_hz == 1.6
    assert not holds.holds((1, 4))


def test_open_recordings_carry_45_hz(open_data):
    from open_edf import read_edf

    raw, limits = read_edf(open_data / "mental-arithmetic" / "Subject01_1.edf")
    x = raw.get_data(picks="eeg") * 1e6
    assert what(x, raw.info["sfreq"], limits).high_hz == 45.0
    measured = what(x, raw.info["sfreq"], ChannelLimits()).high_hz
    assert measured == pytest.approx(45, rel=0.2)
