"""The recording itself as BrainVision, through mne-bids, and template electrode positions."""

import json
import warnings
from pathlib import Path

from aftersit.bids import pieces
from aftersit.bids.tables import read_tsv, tsv
from aftersit.clinic import TASK, SittingId
from aftersit.files import as_json, write_atomically
from aftersit.intake.recording import Recording

TEMPLATE = "fsaverage_1020"
_RESOLUTION = 0.1
"""uV; as mne-bids writes BrainVision."""
_MNE_TYPES = {"EEG": "eeg", "ECG": "ecg", "EOG": "eog", "EMG": "emg", "TRIG": "stim"}
_UNITLESS = "Encountered unsupported non-voltage units"
_TEMPLATE_NOTE = (
    "Positions of the 10-20 electrodes on the fsaverage template head, moved to the CapTrak "
    "frame of its own landmarks; not measured on this person."
)


def write_signal(root: Path, sitting: SittingId, recording: Recording, mains_hz: int) -> None:
    """Write the recording into a BIDS root of its own.

    Nothing of the uploaded file but its samples goes in: no date, no person,
    no annotations. Sidecars that mne-bids writes are completed by the caller.

    Parameters
    ----------
    root : Path
        An empty folder.
    sitting : SittingId
        Gives the names.
    recording : Recording
        What `read_recording` returned.
    mains_hz : int
        Mains frequency, Hz.
    """
    from mne_bids import BIDSPath, write_raw_bids

    path = BIDSPath(
        subject=sitting.client, session=sitting.label, task=TASK, datatype="eeg", root=root
    )
    with warnings.catch_warnings():
        # Triggers and other channels without a unit are meant to have none.
        warnings.filterwarnings("ignore", message=_UNITLESS)
        write_raw_bids(
            _first_piece(recording, mains_hz),
            path,
            format="BrainVision",
            allow_preload=True,
            readme=False,
            verbose="ERROR",
        )
    folder = root / f"sub-{sitting.client}" / f"ses-{sitting.label}" / "eeg"
    pieces.add_other_pieces(
        next(folder.glob("*.eeg")),
        recording.signal,
        recording.rate_hz,
        [channel.name for channel in recording.channels],
        ["µV" if channel.is_volt else "n/a" for channel in recording.channels],
        _RESOLUTION,
    )
    _tidy_positions(folder)


def _first_piece(recording: Recording, mains_hz: int):
    import mne
    from mne.io.constants import FIFF

    names = [channel.name for channel in recording.channels]
    types = [_MNE_TYPES.get(channel.kind, "misc") for channel in recording.channels]
    info = mne.create_info(names, recording.rate_hz, types, verbose="ERROR")
    raw = mne.io.RawArray(recording.signal[:, : pieces.PIECE_SAMPLES], info, verbose="ERROR")
    raw.info["line_freq"] = mains_hz
    for channel, entry in zip(recording.channels, raw.info["chs"], strict=True):
        entry["unit"] = FIFF.FIFF_UNIT_V if channel.is_volt else FIFF.FIFF_UNIT_NONE
    raw.set_montage(mne.channels.make_standard_montage(TEMPLATE), verbose="ERROR")
    return raw


def _tidy_positions(folder: Path) -> None:
    """Keep scalp electrodes only, to 0.1 mm, and say that the positions are a template's."""
    (table,) = folder.glob("*_electrodes.tsv")
    rows = [row for row in read_tsv(table.read_text()) if row["x"] != "n/a"]
    placed = [[row["name"], *(round(float(row[axis]), 4) for axis in "xyz")] for row in rows]
    write_atomically(table, tsv(["name", "x", "y", "z"], placed))
    table.with_suffix(".json").unlink(missing_ok=True)
    (path,) = folder.glob("*_coordsystem.json")
    system = json.loads(path.read_text())
    landmarks = system["AnatomicalLandmarkCoordinates"]
    system["AnatomicalLandmarkCoordinates"] = {
        name: [round(value, 4) + 0.0 for value in place] for name, place in landmarks.items()
    }
    standard = system["EEGCoordinateSystemDescription"]
    system["EEGCoordinateSystemDescription"] = f"{_TEMPLATE_NOTE} {standard}"
    write_atomically(path, as_json(system))
