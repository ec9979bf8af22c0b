"""A sitting as raw BIDS: samples, sidecars, privacy, the same bytes each time."""

import datetime as dt
import json
from pathlib import Path

import edfio
import mne
import mne_bids
import numpy as np
import pandas as pd
import pytest

from aftersit.bids import pieces
from aftersit.bids.write import write_sitting
from aftersit.clinic import SittingId, bids_stem, eeg_folder
from aftersit.electrodes import STANDARD_19
from aftersit.intake.problems import UploadError
from small_uploads import (
    CLINIC_SETTINGS,
    RATE,
    SECONDS,
    SETTINGS,
    edf_bytes,
    eeg_uv,
    make_upload,
)

SITTING = SittingId("K07", 3)
LABELS = ["EEG T3", "Status", "ECG", *(n for n in STANDARD_19 if n != "T7")]
PATIENT = {
    "code": "MCH-0234567",
    "sex": "F",
    "birthdate": dt.date(1951, 5, 2),
    "name": "Haagse_Harry",
}
MARKS = [(3.0, 2.5, "tone on"), (21.0, 4.0, "cough by Harry")]
PRIVATE = {
    "notes": "private-notes",
    "message": "private-message",
    "instruction": "private-instruction",
    "age": 93,
    "sex": "female",
}


def write(root: Path, upload: Path, sitting=SITTING) -> Path:
    write_sitting(upload, sitting, root / "bids", CLINIC_SETTINGS, SETTINGS)
    return eeg_folder(root / "bids", sitting)


def data_uv() -> np.ndarray:
    data = eeg_uv(len(LABELS))
    data[1] = np.arange(data.shape[1]) // 500 % 5
    return data


def full_upload(folder: Path, **changes) -> Path:
    recording = edf_bytes(
        LABELS, data_uv(), annotations=MARKS, patient=edfio.Patient(**PATIENT), bdf=True
    )
    return make_upload(folder, recording, "Haagse_Harry.bdf", **{**PRIVATE, **changes})


def contents(folder: Path) -> dict[str, bytes]:
    files = (p for p in sorted(folder.rglob("*")) if p.is_file())
    return {str(p.relative_to(folder)): p.read_bytes() for p in files}


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    root = tmp_path_factory.mktemp("clinic")
    write(root, full_upload(root / "u"))
    return root / "bids"


@pytest.fixture
def sidecar(written):
    stem = bids_stem(SITTING)
    return json.loads((eeg_folder(written, SITTING) / f"{stem}_eeg.json").read_text())


@pytest.fixture
def channels(written):
    path = eeg_folder(written, SITTING) / f"{bids_stem(SITTING)}_channels.tsv"
    return pd.read_csv(path, sep="\t", keep_default_na=False, dtype=str)


def test_samples_are_within_one_digital_step(written):
    """Read with mne: volts of the file that another library wrote."""
    path = eeg_folder(written, SITTING) / f"{bids_stem(SITTING)}_eeg.vhdr"
    raw = mne.io.read_raw_brainvision(path, preload=True, verbose="ERROR")
    rows = [LABELS.index({"T7": "EEG T3"}.get(n, n)) for n in STANDARD_19]
    assert raw.ch_names == [*STANDARD_19, "TRIG1", "ECG1"]
    step = 2 * 3276.7e-6 / (2**16 - 1)
    assert np.abs(raw.get_data()[:19] - data_uv()[rows] * 1e-6).max() < step
    assert raw.n_times == data_uv().shape[1]
    assert raw.info["meas_date"] is None


def test_dataset_is_read_by_mne_bids_with_types_and_positions(written):
    path = mne_bids.BIDSPath(
        subject="K07", session="03", task="sitting", datatype="eeg", root=written
    )
    raw = mne_bids.read_raw_bids(path, verbose="ERROR")
    assert raw.get_channel_types() == ["eeg"] * 19 + ["stim", "ecg"]
    assert set(raw.annotations.description) >= {"baseline", "practice", "reward-logged"}
    cz = raw.get_montage().get_positions()["ch_pos"]["Cz"]
    assert 0.09 < np.linalg.norm(cz) < 0.16  # metres: the size of a head


def test_sidecar_is_filled_from_recording_and_sheet(sidecar):
    assert sidecar["TaskName"] == "sitting"
    assert sidecar["Practice"] == "loving-kindness"
    assert "practice: loving kindness" in sidecar["TaskDescription"]
    assert (sidecar["PowerLineFrequency"], sidecar["RecordingDuration"]) == (50, 64.0)
    counts = {k: v for k, v in sidecar.items() if k.endswith("ChannelCount")}
    assert [counts[f"{k}ChannelCount"] for k in ("EEG", "ECG", "Trigger", "Misc")] == [19, 1, 1, 0]
    assert sidecar["HardwareFilters"] == {
        "HighPass": {"CutoffHz": 0.3},
        "LowPass": {"CutoffHz": 40.0},
        "Notch": {"CentreHz": [50.0]},
    }


def test_sheets_mains_frequency_wins(tmp_path):
    folder = write(tmp_path, make_upload(tmp_path / "u", mains_hz=60))
    sidecar = json.loads((folder / f"{bids_stem(SITTING)}_eeg.json").read_text())
    assert sidecar["PowerLineFrequency"] == 60


def test_channels_have_header_filters_and_true_units(channels):
    fz = channels.set_index("name").loc["Fz"]
    assert list(channels.columns[:3]) == ["name", "type", "units"]
    assert (fz["units"], fz["sampling_frequency"]) == ("µV", "128")
    assert (fz["low_cutoff"], fz["high_cutoff"], fz["notch"]) == ("0.3", "40", "50")
    assert set(channels["status"]) == {"good"}


def test_flat_electrode_is_marked_bad(tmp_path):
    data = eeg_uv()
    data[7] = -3.0
    folder = write(tmp_path, make_upload(tmp_path / "u", edf_bytes(data=data)))
    table = pd.read_csv(folder / f"{bids_stem(SITTING)}_channels.tsv", sep="\t")
    bad = table[table["status"] == "bad"]
    assert bad[["name", "status_description"]].values.tolist() == [["T7", "flat"]]


def test_events_hold_blocks_and_logged_rewards_only(written):
    path = eeg_folder(written, SITTING) / f"{bids_stem(SITTING)}_events.tsv"
    table = pd.read_csv(path, sep="\t", keep_default_na=False)
    assert table[["onset", "duration", "trial_type"]].values.tolist() == [
        [2, 18, "baseline"],
        [3, 2.5, "reward-logged"],
        [20, 44, "practice"],
    ]
    described = json.loads(path.with_suffix(".json").read_text())
    assert set(described) == set(table.columns)
    assert set(table["trial_type"]) <= set(described["trial_type"]["Levels"])


@pytest.mark.parametrize(
    "text",
    [
        "MCH-0234567",
        "Haagse",
        "Harry",
        "02-MAY-1951",
        "1951-05-02",
        "private-",
        "cough",
        "Startdate",
    ],
)
def test_no_patient_field_or_free_text_is_in_any_file(written, text):
    assert len(contents(written)) > 10
    for name, data in contents(written.parent / "bids").items():
        assert text.encode() not in data, name
        assert text not in name


def test_no_open_patient_field_is_in_any_file(written, open_data, tmp_path):
    """The published headers hold `0 M 01-JAN-1990 Subject0`, a technician and a device."""
    source = open_data / "mental-arithmetic" / "Subject00_1.edf"
    blocks = [{"kind": "practice", "start": "0:00", "end": "3:02"}]
    write(tmp_path, make_upload(tmp_path / "u", source.read_bytes(), source.name, blocks=blocks))
    for name, data in contents(tmp_path / "bids").items():
        for text in (b"01-JAN-", b"Subject0", b"Doctor", b"NeuroCom"):
            assert text not in data, name


def test_two_runs_write_the_same_bytes(written, tmp_path):
    write(tmp_path, full_upload(tmp_path / "u"))
    assert contents(tmp_path / "bids") == contents(written)


def test_a_second_revision_replaces_the_whole_session(tmp_path):
    folder = write(tmp_path, full_upload(tmp_path / "u"))
    (folder / "left-over.txt").touch()
    blocks = [{"kind": "rest", "start": 1, "end": 50}]
    write(tmp_path, full_upload(tmp_path / "again", blocks=blocks))
    assert not (folder / "left-over.txt").exists()
    assert "rest" in (folder / f"{bids_stem(SITTING)}_events.tsv").read_text()
    assert list((tmp_path / ".aftersit" / "bids-writing").iterdir()) == []


def test_a_folder_left_by_a_killed_writer_does_no_harm(written, tmp_path):
    left = tmp_path / ".aftersit" / "bids-writing" / "K07-03" / "sub-K07" / "ses-03" / "eeg"
    left.mkdir(parents=True)
    (left / "half.eeg").touch()
    write(tmp_path, full_upload(tmp_path / "u"))
    assert contents(tmp_path / "bids") == contents(written)


def test_the_upload_is_not_changed(tmp_path):
    upload = full_upload(tmp_path / "u")
    before = contents(upload)
    write(tmp_path, upload)
    assert contents(upload) == before


def test_an_upload_that_can_not_serve_writes_nothing(tmp_path):
    upload = make_upload(tmp_path / "u", edf_bytes(STANDARD_19[:7]))
    with pytest.raises(UploadError, match="7 of the 19 standard electrodes"):
        write(tmp_path, upload)
    assert not (tmp_path / "bids").exists()


def test_a_recording_in_pieces_has_the_bytes_that_mne_bids_writes(written_whole, tmp_path):
    """The whole is mne-bids' own: one piece is longer than this recording."""
    upload, whole = written_whole
    assert pieces.PIECE_SAMPLES > RATE * SECONDS
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces, "PIECE_SAMPLES", 1013)
        assert contents(write(tmp_path, upload)) == whole


@pytest.fixture(scope="module")
def written_whole(tmp_path_factory) -> tuple[Path, dict[str, bytes]]:
    root = tmp_path_factory.mktemp("whole")
    upload = full_upload(root / "u")
    return upload, contents(write(root, upload))
