"""A paused recording is refused in every format: times after the pause are not the sitting's."""

import datetime as dt
import warnings

import mne
import pytest

from aftersit.electrodes import STANDARD_19
from aftersit.intake.problems import UploadError
from aftersit.intake.recording import read_recording
from aftersit.intake.upload_files import find_files
from small_uploads import (
    RATE,
    SETTINGS,
    edf_bytes,
    eeg_uv,
    make_upload,
    write_brainvision,
    write_sheet,
)


def read(folder):
    return read_recording(find_files(folder), SETTINGS, "Europe/Vienna")


def refusal(folder):
    with pytest.raises(UploadError) as caught:
        read(folder)
    (problem,) = caught.value.problems
    assert (problem.code, problem.place) == ("discontinuous", "recording")
    assert "export each part as an upload of its own" in problem.todo
    return problem.found


def brainvision(folder, *rows: str):
    folder.mkdir()
    write_sheet(folder)
    write_brainvision(folder, markers=[(2.5, 10.0, "practising")])
    with (folder / "rec.vmrk").open("a") as file:
        file.writelines(f"Mk{n}={row}\n" for n, row in enumerate(rows, 3))
    return folder


@pytest.mark.parametrize("text", ["", "second part"])
def test_a_second_segment_of_brainvision_is_a_pause(tmp_path, text):
    """BrainVision Core Data Format 1.0: `New Segment` marks a new start of the recording.

    Position 3841 is the sample 3840 / 128 Hz = 30 s from the first.
    """
    row = f"New Segment,{text},3841,1,0,20260314170600000000"
    found = refusal(brainvision(tmp_path / "u", row))
    assert found == "it was paused at 00:30; times after the pause can't be trusted"


def test_the_first_segment_of_brainvision_is_no_pause(tmp_path):
    folder = brainvision(tmp_path / "u", "New Segment,,1,1,0,20260314170509000000")
    assert [a.text for a in read(folder).annotations] == ["practising"]


def two_parts() -> mne.io.BaseRaw:
    """What mne itself makes of two recordings put together, 20 s and 44 s long."""
    info = mne.create_info(list(STANDARD_19), RATE, "eeg", verbose="ERROR")
    whole = mne.io.RawArray(eeg_uv() * 1e-6, info, first_samp=3 * RATE, verbose="ERROR")
    whole.set_meas_date(dt.datetime(2026, 3, 14, 16, 5, 9, tzinfo=dt.UTC))
    first, second = whole.copy().crop(0, 20, include_tmax=False), whole.copy().crop(20)
    return mne.concatenate_raws([first, second], verbose="ERROR")


def fif(folder, raw):
    folder.mkdir()
    write_sheet(folder)
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="This filename")  # mne wants `_raw.fif`
        raw.save(folder / "rec.fif", fmt="double", verbose="ERROR")
    return folder


def test_parts_that_mne_has_joined_are_a_pause(tmp_path):
    raw = two_parts()
    assert {"BAD boundary", "EDGE boundary"} <= set(raw.annotations.description)
    assert "it was paused at 00:20;" in refusal(fif(tmp_path / "u", raw))


def test_a_skip_in_a_fif_file_is_a_pause(tmp_path):
    raw = two_parts().crop(20)
    raw.set_annotations(mne.Annotations([10 + 23], [4], "BAD_ACQ_SKIP", raw.info["meas_date"]))
    assert "it was paused at 00:10;" in refusal(fif(tmp_path / "u", raw))


def test_other_bad_seconds_are_no_pause(tmp_path):
    raw = two_parts().crop(0)
    raw.set_annotations(mne.Annotations([10 + 3], [4], "BAD_muscle", raw.info["meas_date"]))
    assert [a.onset_s for a in read(fif(tmp_path / "u", raw)).annotations] == [10.0]


@pytest.mark.parametrize("text", ["EDGE boundary", "boundary", "New Segment/"])
def test_marks_that_other_software_carried_into_edf_are_a_pause(tmp_path, text):
    """`boundary`: EEGLAB's name of an event where signal was cut out or joined."""
    data = edf_bytes(annotations=[(45.5, None, text)])
    assert "it was paused at 00:45" in refusal(make_upload(tmp_path / "u", data))


@pytest.mark.parametrize("mark", [(62.0, 2.0, "BAD_ACQ_SKIP"), (0.0, None, "boundary")])
def test_nothing_is_paused_where_no_signal_lies_on_both_sides(tmp_path, mark):
    """mne fills an EDF file's last record up and marks that as a skip."""
    read(make_upload(tmp_path / "u", edf_bytes(annotations=[mark])))
