"""What the sittings of a dataset share: its description and its table of people.

Writers of several sittings take turns under a lock. A person's age, sex and
handedness are those of the sitting with the lowest number that gives one, so
the order in which sittings are written makes no difference; what each sitting
gives stands in the person's sessions table.
"""

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.metadata import version
from pathlib import Path

from aftersit.bids.tables import MISSING, cell, read_tsv, tsv
from aftersit.clinic import SittingId
from aftersit.files import as_json, write_if_changed
from aftersit.sheet import Sheet

BIDS_VERSION = "1.11.1"
OLDEST = 89
"""BIDS caps ages at 89 years."""

TRAITS = ("age", "sex", "handedness")

README = """\
# Meditation sittings with EEG feedback

Each session (`ses-`) is one recorded sitting of one person, numbered in the order of receipt.
The recordings hold the 19 electrodes of the 10-20 system, and ECG, EOG or trigger channels
where there were any. `events.tsv` says when baseline, practice, break and rest took place and
under which protocol; `channels.tsv` says which filters the recording's header states.
Electrode positions are those of a template head; they were not measured.
Names, dates of birth and notes were never written here. Times of day are local.
"""

_COLUMNS = {
    "age": {"Description": f"Age in years; {OLDEST} stands for {OLDEST} and more", "Units": "year"},
    "sex": {
        "Description": "Sex, as the sitting sheet says",
        "Levels": {"female": "female", "male": "male", "other": "other"},
    },
    "handedness": {
        "Description": "Handedness, as the sitting sheet says",
        "Levels": {"left": "left", "right": "right", "ambidextrous": "ambidextrous"},
    },
}


@contextmanager
def dataset_lock(bids_root: Path) -> Iterator[None]:
    """One writer at a time; the lock file lies in the clinic's `.aftersit/`."""
    state = bids_root.parent / ".aftersit"
    state.mkdir(parents=True, exist_ok=True)
    with (state / "bids.lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        try:
            yield
        finally:
            # Closing is not enough: a process forked meanwhile would go on holding the lock.
            fcntl.flock(file, fcntl.LOCK_UN)


def write_shared(bids_root: Path, sitting: SittingId, sheet: Sheet) -> None:
    """Bring the shared files up to date for one sitting; the caller holds the lock."""
    for name, text in _fixed_files().items():
        write_if_changed(bids_root / name, text)
    sessions = _sessions_path(bids_root, sitting.client)
    rows = {row["session_id"]: row for row in _rows(sessions)}
    rows[f"ses-{sitting.label}"] = {"session_id": f"ses-{sitting.label}"} | _traits(sheet)
    ordered = sorted(rows.values(), key=lambda row: int(row["session_id"].removeprefix("ses-")))
    _write_rows(sessions, "session_id", ordered)
    _put_person(bids_root, sitting.client, ordered)


def _fixed_files() -> dict[str, str]:
    description = {
        "Name": "Meditation sittings with EEG feedback",
        "BIDSVersion": BIDS_VERSION,
        "DatasetType": "raw",
        "GeneratedBy": [{"Name": "Aftersit", "Version": version("aftersit")}],
    }
    person = {"participant_id": {"Description": "Client code"}} | _COLUMNS
    session = {"session_id": {"Description": "Number of the sitting"}} | _COLUMNS
    time = "Local day and time of the first sample; 00:00:00 where the recording has no time"
    scans = {
        "filename": {"Description": "The recording"},
        "acq_time": {"Description": time},
    }
    return {
        "README.md": README,
        "dataset_description.json": as_json(description),
        "participants.json": as_json(person),
        "sessions.json": as_json(session),
        "scans.json": as_json(scans),
    }


def _traits(sheet: Sheet) -> dict[str, str]:
    age = None if sheet.age is None else min(sheet.age, OLDEST)
    return {"age": cell(age), "sex": cell(sheet.sex), "handedness": cell(sheet.handedness)}


def _put_person(bids_root: Path, client: str, sessions: list[dict[str, str]]) -> None:
    """First value given wins; `sessions` are in the order of their numbers."""
    person = {"participant_id": f"sub-{client}"}
    for trait in TRAITS:
        given = (row[trait] for row in sessions if row[trait] != MISSING)
        person[trait] = next(given, MISSING)
    path = bids_root / "participants.tsv"
    others = [row for row in _rows(path) if row["participant_id"] != person["participant_id"]]
    ordered = sorted([*others, person], key=lambda row: row["participant_id"])
    _write_rows(path, "participant_id", ordered)


def _sessions_path(bids_root: Path, client: str) -> Path:
    return bids_root / f"sub-{client}" / f"sub-{client}_sessions.tsv"


def _rows(path: Path) -> list[dict[str, str]]:
    return read_tsv(path.read_text()) if path.is_file() else []


def _write_rows(path: Path, key: str, rows: list[dict[str, str]]) -> None:
    columns = [key, *TRAITS]
    write_if_changed(path, tsv(columns, ([row[c] for c in columns] for row in rows)))
