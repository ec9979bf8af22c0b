"""Filters that a BrainVision header states in its amplifier set-up."""

import pytest

from aftersit.electrodes import STANDARD_19
from aftersit.intake.recording import read_recording
from aftersit.intake.upload_files import find_files
from small_uploads import SETTINGS, write_brainvision, write_sheet

HEADING = """
A m p l i f i e r  S e t u p
============================
Number of channels: 19
Sampling Rate [Hz]: 128
Sampling Interval [µS]: 7812.5
Channels
--------
#     Name      Phys. Chn.    Resolution / Unit   Low Cutoff [s]   High Cutoff [Hz]   Notch [Hz]
"""


def filters_of(folder, low: str, high: str, notch: str):
    folder.mkdir()
    write_sheet(folder)
    write_brainvision(folder)
    rows = [
        f"{n}     {name}         {n}                0.1 µV          {low}             {high}"
        f"              {notch}"
        for n, name in enumerate(STANDARD_19, 1)
    ]
    with (folder / "rec.vhdr").open("a") as file:
        file.write("\n[Comment]\n" * ("[Comment]" not in (folder / "rec.vhdr").read_text()))
        file.write(HEADING + "\n".join(rows) + "\n\nS o f t w a r e  F i l t e r s\n")
        file.write("==============================\nDisabled\n")
    recording = read_recording(find_files(folder), SETTINGS, "Europe/Vienna")
    (filters,) = {c.filters for c in recording.channels}
    return filters


def test_time_constant_high_cutoff_and_notch_are_read(tmp_path):
    """Closed form: the low cut-off in seconds is a time constant, 1 / (2 pi 10 s) = 0.0159 Hz."""
    filters = filters_of(tmp_path / "u", "10", "40", "50")
    assert filters.highpass_hz == pytest.approx(0.0159155, rel=1e-3)
    assert (filters.lowpass_hz, filters.notches_hz) == (40.0, (50.0,))


def test_filters_that_are_off_are_not_stated(tmp_path):
    filters = filters_of(tmp_path / "u", "DC", "40", "Off")
    assert (filters.highpass_hz, filters.notches_hz) == (None, ())
