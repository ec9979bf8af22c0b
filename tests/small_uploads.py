"""Small invented uploads, one for each file format, for tests of intake and BIDS."""

import datetime as dt
import warnings
from pathlib import Path

import mne
import pybv
import yaml

from aftersit.clinic import Clinic
from aftersit.electrodes import STANDARD_19
from aftersit.evidence.invented import (
    CLINIC_SETTINGS,
    RATE,
    SECONDS,
    SHEET,
    START,
    edf_bytes,
    eeg_uv,
)
from aftersit.intake.settings import IntakeSettings

__all__ = ["CLINIC_SETTINGS", "RATE", "SECONDS", "SHEET", "START", "edf_bytes", "eeg_uv"]

SETTINGS = IntakeSettings()
PROTOCOL = {
    "title": "Soft alpha",
    "purpose": "For tests.",
    "practices": ["loving-kindness"],
    "literature": "None.",
    "conditions": [
        {
            "name": "alpha",
            "where": {"electrodes": ["O1", "O2"]},
            "band_hz": [8, 13],
            "direction": "above",
            "threshold": {"absolute": 3.0},
        }
    ],
}


def write_brainvision(folder: Path, labels=STANDARD_19, data=None, markers=()) -> None:
    """`rec.vhdr`, `.eeg`, `.vmrk`; `markers` are (onset in s, duration in s, text)."""
    data = eeg_uv(len(labels)) if data is None else data
    events = [
        {
            "onset": round(onset * RATE),
            "duration": max(round(duration * RATE), 1),
            "description": text,
            "type": "Comment",
        }
        for onset, duration, text in markers
    ]
    pybv.write_brainvision(
        data=data * 1e-6,
        sfreq=RATE,
        ch_names=list(labels),
        fname_base="rec",
        folder_out=folder,
        events=events or None,
        meas_date=START,
    )


def write_fif(path: Path, labels=STANDARD_19, data=None, first_samp=0, marker=None) -> None:
    """A FIF file whose start is 16:05:09 UTC, which is 17:05:09 in Vienna."""
    data = eeg_uv(len(labels)) if data is None else data
    info = mne.create_info(list(labels), RATE, "eeg", verbose="ERROR")
    raw = mne.io.RawArray(data * 1e-6, info, first_samp=first_samp, verbose="ERROR")
    raw.set_meas_date(dt.datetime(2026, 3, 14, 16, 5, 9, tzinfo=dt.UTC))
    if marker:
        raw.set_annotations(
            mne.Annotations(*([value] for value in marker), orig_time=raw.info["meas_date"])
        )
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="This filename")  # mne wants `_raw.fif`
        raw.save(path, fmt="double", verbose="ERROR")


def write_sheet(folder: Path, **changes) -> None:
    """`sitting.yaml`; a change of None takes a key out."""
    sheet = {k: v for k, v in {**SHEET, **changes}.items() if v is not None}
    (folder / "sitting.yaml").write_text(yaml.safe_dump(sheet))


def make_upload(folder: Path, recording: bytes | None = None, name="rec.edf", **changes) -> Path:
    """An upload with one recording (EDF unless given) and a sheet."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(edf_bytes() if recording is None else recording)
    write_sheet(folder, **changes)
    return folder


def make_clinic(root: Path) -> Clinic:
    """A clinic with the protocols soft-alpha v1 and v3, and quiet-theta v2."""
    for name, number in (("soft-alpha", 1), ("soft-alpha", 3), ("quiet-theta", 2)):
        path = root / "protocols" / name / f"v{number}.yaml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(yaml.safe_dump({"name": name, "version": number, **PROTOCOL}))
    return Clinic(root)
