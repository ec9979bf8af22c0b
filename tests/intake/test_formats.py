"""Every format gives the same recording: names, order, volts, time and markers."""

import datetime as dt

import edfio
import numpy as np
import pytest

from aftersit.electrodes import STANDARD_19
from aftersit.intake.prefilter import Filters
from aftersit.intake.problems import UploadError
from aftersit.intake.recording import read_recording
from aftersit.intake.upload_files import find_files
from small_uploads import (
    RATE,
    SETTINGS,
    START,
    edf_bytes,
    eeg_uv,
    make_upload,
    write_brainvision,
    write_fif,
    write_sheet,
)

MIXED = [*reversed(STANDARD_19), "FCz", "ECG", "A1", "Room 3"]
MARKS = [(2.5, 10.0, "practising"), (20.0, 0.0, "tone on")]


def read(folder):
    return read_recording(find_files(folder), SETTINGS, "Europe/Vienna")


def upload(folder, form: str):
    folder.mkdir()
    write_sheet(folder)
    data = eeg_uv(len(MIXED))
    if form in ("edf", "bdf"):
        marks = [(onset, length or None, text) for onset, length, text in MARKS]
        data = edf_bytes(MIXED, data, annotations=marks, bdf=form == "bdf")
        (folder / f"rec.{form}").write_bytes(data)
    elif form == "brainvision":
        write_brainvision(folder, MIXED, data, MARKS)
    else:
        write_fif(folder / "rec.fif", MIXED, data)
    return folder


@pytest.mark.parametrize("form", ["edf", "bdf", "brainvision", "fif"])
def test_format_gives_standard_electrodes_first_in_volts(tmp_path, form):
    recording = read(upload(tmp_path / "u", form))
    names = [c.name for c in recording.channels]
    assert names == [*STANDARD_19, "ECG1", "A1", "MISC1"]
    assert [c.kind for c in recording.channels[19:]] == ["ECG", "MISC", "MISC"]
    rows = [MIXED.index(n) for n in STANDARD_19] + [20, 21, 22]
    expected = eeg_uv(len(MIXED))[rows] * 1e-6
    step = 2 * 3276.7e-6 / 65535 if form == "edf" else 1e-8
    assert np.abs(recording.signal - expected).max() <= 0.51 * step
    assert (recording.rate_hz, recording.duration_s) == (RATE, 64.0)


@pytest.mark.parametrize("form", ["edf", "bdf", "brainvision", "fif"])
def test_start_is_local_time(tmp_path, form):
    assert read(upload(tmp_path / "u", form)).start == START


@pytest.mark.parametrize("form", ["edf", "bdf", "brainvision"])
def test_markers_count_from_the_first_sample(tmp_path, form):
    marks = read(upload(tmp_path / "u", form)).annotations
    assert [(a.onset_s, a.duration_s, a.text) for a in marks] == MARKS


def test_fraction_of_a_second_before_the_first_sample_shifts_no_marker(tmp_path):
    """EDF+ 2.2.4: the first record's `+0.75` is the time of the first sample."""
    start = START.replace(microsecond=750_000)
    data = edf_bytes(annotations=[(2.5, 10.0, "practising")], start=start)
    assert b"+0.75\x14\x14" in data
    assert b"+3.25\x1510\x14practising" in data
    marks = read(make_upload(tmp_path / "u", data)).annotations
    assert [(a.onset_s, a.duration_s) for a in marks] == [(2.5, 10.0)]


def test_fif_markers_do_not_count_samples_cut_off_before(tmp_path):
    """mne counts from the start of the measurement, here 5 s before the first sample."""
    folder = tmp_path / "u"
    folder.mkdir()
    write_sheet(folder)
    write_fif(folder / "rec.fif", first_samp=5 * RATE, marker=(7.5, 10.0, "practising"))
    (mark,) = read(folder).annotations
    assert (mark.onset_s, mark.duration_s) == (2.5, 10.0)


def at_two_rates(label: str) -> bytes:
    """The standard electrodes at 128 Hz and one more signal at 32 Hz."""
    labels = [n for n in STANDARD_19 if n != label]
    rows = [(name, row, RATE) for name, row in zip(labels, eeg_uv(), strict=False)]
    rows.append((label, eeg_uv(1, rate=32)[0], 32))
    signals = [
        edfio.EdfSignal(
            row, rate, label=name, physical_dimension="uV", physical_range=(-3276.7, 3276.7)
        )
        for name, row, rate in rows
    ]
    return edfio.Edf(signals).to_bytes()


def test_other_channels_at_another_rate_are_left_out_with_a_note(tmp_path):
    recording = read(make_upload(tmp_path / "u", at_two_rates("ECG")))
    assert [c.name for c in recording.channels] == list(STANDARD_19)
    assert [n.code for n in recording.notes] == ["other-rate"]
    assert recording.rate_hz == RATE


def test_electrodes_at_different_rates_are_refused(tmp_path):
    with pytest.raises(UploadError, match="different rates: 32 Hz, 128 Hz"):
        read(make_upload(tmp_path / "u", at_two_rates("Pz")))


def test_filters_come_from_the_header(tmp_path):
    recording = read(make_upload(tmp_path / "u"))
    assert {c.filters for c in recording.channels} == {Filters(0.3, 40.0, (50.0,))}


def test_formats_without_filters_state_none(tmp_path):
    recording = read(upload(tmp_path / "u", "fif"))
    assert {c.filters for c in recording.channels} == {Filters()}


@pytest.mark.parametrize(("unit", "factor"), [("uV", 1), ("mV", 1e-3), ("nV", 1e3), ("uv", 1)])
def test_units_of_the_header_are_taken_to_volts(tmp_path, unit, factor):
    limit = round(3276.7 * factor, 4)
    data = edf_bytes(data=eeg_uv() * factor, unit=unit, limit=limit)
    signal = read(make_upload(tmp_path / "u", data)).signal
    step = 2 * 3276.7e-6 / 65535
    assert np.abs(signal - eeg_uv() * 1e-6).max() <= 0.51 * step


def test_missing_electrodes_are_noted(tmp_path):
    labels = [n for n in STANDARD_19 if n not in ("Fz", "T8")]
    recording = read(make_upload(tmp_path / "u", edf_bytes(labels)))
    assert len(recording.channels) == 17
    (note,) = [n for n in recording.notes if n.code == "missing-electrodes"]
    assert note.text == "not in the file: Fz, T8"


def test_flat_electrode_is_noted_and_kept(tmp_path):
    data = eeg_uv()
    data[4] = 7.3
    recording = read(make_upload(tmp_path / "u", edf_bytes(data=data)))
    assert [c.name for c in recording.channels if c.flat] == ["Fz"]
    assert ("flat-electrodes", "no signal in: Fz") in [(n.code, n.text) for n in recording.notes]


def test_zero_tail_and_constant_runs_are_noted_and_kept(tmp_path):
    data = eeg_uv(seconds=70)
    data[:, -5 * RATE :] = 0
    data[6, 10 * RATE : 13 * RATE] = -41.9
    physical = edf_bytes(data=data)
    recording = read(make_upload(tmp_path / "u", physical))
    notes = {n.code: n.text for n in recording.notes}
    assert recording.duration_s == 70.0
    assert notes["constant-tail"].startswith("the last 5.0 s of the recording are ")
    assert notes["constant-runs"] == "one constant value in: F8 3.0 s"


def test_zero_tail_of_the_open_recording_is_noted(open_data, tmp_path):
    """The published file has 60.2 s of signal and exact zeros after it."""
    data = (open_data / "motor-imagery-baseline" / "S001R01.edf").read_bytes()
    recording = read(make_upload(tmp_path / "u", data))
    notes = {n.code: n.text for n in recording.notes}
    assert notes["constant-tail"] == "the last 0.8 s of the recording are exact zeros"
    assert recording.start == dt.datetime(2009, 8, 12, 16, 15)
    assert recording.rate_hz == 160.0
