"""Write one sitting's upload as raw BIDS."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from aftersit.bids.dataset import dataset_lock, write_shared
from aftersit.bids.sidecars import eeg_json, events_json
from aftersit.bids.signal import write_signal
from aftersit.bids.tables import channels_tsv, events_tsv, scans_tsv
from aftersit.clinic import ClinicSettings, SittingId, bids_stem, eeg_folder
from aftersit.files import as_json, write_atomically
from aftersit.intake.block_times import sitting_blocks
from aftersit.intake.check import read_sheet, sitting_date
from aftersit.intake.logged_rewards import reward_times
from aftersit.intake.recording import Recording, read_recording
from aftersit.intake.settings import IntakeSettings
from aftersit.intake.upload_files import find_files
from aftersit.sheet import Sheet


def write_sitting(
    original: Path,
    sitting: SittingId,
    bids_root: Path,
    clinic_settings: ClinicSettings,
    settings: IntakeSettings,
) -> None:
    """Read an upload again and write it as one BIDS session.

    The session is made whole in a folder of its own and then moved into place;
    `sub-<client>/ses-<number>/` is never half written. Several sittings, of one
    client or many, can be written at the same time.

    Parameters
    ----------
    original : Path
        The uploaded bytes: recording and `sitting.yaml`.
    sitting : SittingId
        Client and number; the number becomes the session.
    bids_root : Path
        The clinic's `bids/`.
    clinic_settings : ClinicSettings
        `clinic.yaml`.
    settings : IntakeSettings
        Limits; the same as when the upload was checked.

    Raises
    ------
    UploadError
        The upload can't be processed.
    """
    files = find_files(original)
    sheet = read_sheet(files.sheet)
    recording = read_recording(files, settings, clinic_settings.time_zone)
    with _workplace(bids_root, sitting) as root:
        write_signal(root, sitting, recording, sheet.mains_hz or clinic_settings.mains_hz)
        _complete(root, sitting, sheet, recording, clinic_settings, settings)
        with dataset_lock(bids_root):
            write_shared(bids_root, sitting, sheet)
            _put_in_place(eeg_folder(root, sitting).parent, eeg_folder(bids_root, sitting).parent)


def _complete(
    root: Path,
    sitting: SittingId,
    sheet: Sheet,
    recording: Recording,
    clinic: ClinicSettings,
    settings: IntakeSettings,
) -> None:
    """Replace what mne-bids can't know, or gets wrong, beside the signal."""
    folder, stem = eeg_folder(root, sitting), bids_stem(sitting)
    blocks = sitting_blocks(sheet, recording, clinic, settings)
    mains_hz = sheet.mains_hz or clinic.mains_hz
    texts = {
        folder / f"{stem}_eeg.json": as_json(eeg_json(recording, sheet.practice, mains_hz)),
        folder / f"{stem}_channels.tsv": channels_tsv(recording),
        folder / f"{stem}_events.tsv": events_tsv(blocks, reward_times(recording, clinic)),
        folder / f"{stem}_events.json": as_json(events_json()),
        folder.parent / f"sub-{sitting.client}_ses-{sitting.label}_scans.tsv": scans_tsv(
            f"eeg/{stem}_eeg.vhdr", sitting_date(sheet, recording), recording.start
        ),
    }
    for path, text in texts.items():
        write_atomically(path, text)


@contextmanager
def _workplace(bids_root: Path, sitting: SittingId) -> Iterator[Path]:
    """A folder on the same disk; what an earlier run left behind there goes."""
    place = bids_root.parent / ".aftersit" / "bids-writing" / f"{sitting.client}-{sitting.label}"
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


def _put_in_place(made: Path, target: Path) -> None:
    """Move a whole session to its place; the one before goes with the workplace."""
    target.parent.mkdir(parents=True, exist_ok=True)
    if target.exists():
        os.rename(target, made.with_name(f"{made.name}-before"))
    os.rename(made, target)
