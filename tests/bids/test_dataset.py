"""Shared tables: right whatever the order or number of writers; the standard's own validator."""

import itertools
import multiprocessing
from pathlib import Path

import numpy as np
import pytest

from aftersit.bids.dataset import dataset_lock, write_shared
from aftersit.bids.write import write_sitting
from aftersit.clinic import SittingId
from aftersit.electrodes import STANDARD_19
from aftersit.evidence.checks.bids import issues
from aftersit.sheet import Sheet
from small_uploads import (
    CLINIC_SETTINGS,
    SETTINGS,
    edf_bytes,
    eeg_uv,
    make_upload,
    write_brainvision,
    write_fif,
    write_sheet,
)

SHEETS = {
    2: {"age": 41},
    1: {},
    5: {"sex": "female"},
    3: {"age": 42, "handedness": "left"},
    4: {"sex": "male"},
}


def sheet(**traits) -> Sheet:
    base = {"client": "K07", "practice": "compassion", "protocol": "p", "eyes": "open"}
    return Sheet.checked({**base, "blocks": "from-annotations", **traits}, "sheet")


def tables(root: Path) -> dict[str, str]:
    return {str(p.relative_to(root)): p.read_text() for p in sorted(root.rglob("*.tsv"))}


def test_first_sitting_that_gives_a_value_decides_in_any_order(tmp_path):
    found = []
    for number, order in enumerate(list(itertools.permutations(SHEETS))[::11]):
        root = tmp_path / str(number)
        for one in order:
            write_shared(root, SittingId("K07", one), sheet(**SHEETS[one]))
        found.append(tables(root))
    assert found[0]["participants.tsv"].splitlines()[1] == "sub-K07\t41\tmale\tleft"
    assert all(one == found[0] for one in found)


def test_sittings_past_ninety_nine_stay_in_numeric_order(tmp_path):
    for number, age in ((100, 50), (99, 49)):
        write_shared(tmp_path, SittingId("K07", number), sheet(age=age))
    assert "sub-K07\t49\t" in tables(tmp_path)["participants.tsv"]


def test_a_corrected_sheet_takes_its_value_back(tmp_path):
    write_shared(tmp_path, SittingId("K07", 1), sheet(age=14))
    write_shared(tmp_path, SittingId("K07", 2), sheet(age=41))
    write_shared(tmp_path, SittingId("K07", 1), sheet())
    assert "sub-K07\t41\t" in tables(tmp_path)["participants.tsv"]


def test_clients_are_sorted(tmp_path):
    for client in ("M2", "B9", "K07"):
        write_shared(tmp_path, SittingId(client, 1), sheet())
    rows = tables(tmp_path)["participants.tsv"].splitlines()[1:]
    assert [row.split("\t")[0] for row in rows] == ["sub-B9", "sub-K07", "sub-M2"]


def _write_one(root: Path, number: int) -> None:
    traits = SHEETS.get(number, {})
    data = eeg_uv() + number
    upload = make_upload(root / f"u{number}", edf_bytes(data=data), **traits)
    write_sitting(upload, SittingId("K07", number), root / "bids", CLINIC_SETTINGS, SETTINGS)


def test_six_sittings_of_a_new_client_at_the_same_time(tmp_path):
    context = multiprocessing.get_context("fork")
    writers = [context.Process(target=_write_one, args=(tmp_path, n)) for n in range(1, 7)]
    with dataset_lock(tmp_path / "bids"):  # so that all six wait for the lock together
        for writer in writers:
            writer.start()
    for writer in writers:
        writer.join(timeout=60)
    assert [w.exitcode for w in writers] == [0] * 6
    found = tables(tmp_path / "bids")
    assert found["participants.tsv"] == (
        "participant_id\tage\tsex\thandedness\nsub-K07\t41\tmale\tleft\n"
    )
    sessions = found["sub-K07/sub-K07_sessions.tsv"].splitlines()[1:]
    assert [row.split("\t")[0] for row in sessions] == [f"ses-{n:02d}" for n in range(1, 7)]
    assert len(list((tmp_path / "bids").glob("sub-K07/ses-*/eeg/*_eeg.vhdr"))) == 6


# Warnings of the official validator that stay, each with its reason.
EXPECTED_WARNINGS = {
    # The clinic decides on these when it gives data away; nothing is published here.
    ("NO_AUTHORS", "Authors"),
    ("TOO_FEW_AUTHORS", None),
    ("JSON_KEY_RECOMMENDED", "License"),
    # Events are not tagged with HED.
    ("JSON_KEY_RECOMMENDED", "HEDVersion"),
    # The source is the upload, which is private and outside the dataset.
    ("JSON_KEY_RECOMMENDED", "SourceDatasets"),
    # Template positions: no fiducials were measured, and CapTrak is defined by the standard.
    ("JSON_KEY_RECOMMENDED", "FiducialsCoordinates"),
    ("JSON_KEY_RECOMMENDED", "FiducialsCoordinateSystem"),
    ("JSON_KEY_RECOMMENDED", "FiducialsCoordinateSystemDescription"),
    ("JSON_KEY_RECOMMENDED", "FiducialsCoordinateUnits"),
    ("JSON_KEY_RECOMMENDED", "AnatomicalLandmarkCoordinateSystemDescription"),
    # Neither the recording nor the sheet says what amplifier and cap were used.
    ("SIDECAR_KEY_RECOMMENDED", "CapManufacturer"),
    ("SIDECAR_KEY_RECOMMENDED", "CapManufacturersModelName"),
    ("SIDECAR_KEY_RECOMMENDED", "Manufacturer"),
    ("SIDECAR_KEY_RECOMMENDED", "ManufacturersModelName"),
    ("SIDECAR_KEY_RECOMMENDED", "SoftwareVersions"),
    ("SIDECAR_KEY_RECOMMENDED", "HeadCircumference"),
    # They would lead to the clinic or the room.
    ("SIDECAR_KEY_RECOMMENDED", "DeviceSerialNumber"),
    ("SIDECAR_KEY_RECOMMENDED", "InstitutionName"),
    ("SIDECAR_KEY_RECOMMENDED", "InstitutionAddress"),
    ("SIDECAR_KEY_RECOMMENDED", "InstitutionalDepartmentName"),
    # Instructions and remarks are free text, which stays with the upload.
    ("SIDECAR_KEY_RECOMMENDED", "Instructions"),
    ("SIDECAR_KEY_RECOMMENDED", "SubjectArtefactDescription"),
    # No term of the two ontologies fits a meditation sitting with feedback.
    ("SIDECAR_KEY_RECOMMENDED", "CogAtlasID"),
    ("SIDECAR_KEY_RECOMMENDED", "CogPOID"),
    # The deprecated spelling; MiscChannelCount is there.
    ("SIDECAR_KEY_RECOMMENDED", "MISCChannelCount"),
    # What played the sound is not known.
    ("SIDECAR_KEY_RECOMMENDED", "StimulusPresentation"),
}


@pytest.fixture(scope="module")
def dataset(tmp_path_factory):
    """Five sittings of two clients, one in each format, with all kinds of channels."""
    root = tmp_path_factory.mktemp("clinic")
    labels = [*STANDARD_19, "ECG", "VEOG", "EMG", "A1", "Status", "Room 3"]
    uploads = [
        make_upload(root / f"u{n}", edf_bytes(labels, bdf=n == 2), f"r.{end}", age=93)
        for n, end in ((1, "edf"), (2, "bdf"))
    ]
    for n, writer in ((3, write_brainvision), (4, lambda f: write_fif(f / "r.fif"))):
        uploads.append(root / f"u{n}")
        uploads[-1].mkdir()
        write_sheet(uploads[-1], sex="other", handedness="ambidextrous")
        writer(uploads[-1])
    still = np.concatenate([eeg_uv(), np.zeros((19, 384))], axis=1)
    uploads.append(make_upload(root / "u5", edf_bytes(data=still, annotations=[(5, 2, "tone on")])))
    for number, upload in enumerate(uploads, 1):
        sitting = SittingId("K07" if number < 4 else "B2", number)
        write_sitting(upload, sitting, root / "bids", CLINIC_SETTINGS, SETTINGS)
    return root / "bids"


def test_official_validator_finds_no_error_and_only_the_expected_warnings(dataset):
    found = issues(dataset)
    assert [i for i in found if i["severity"] == "error"] == []
    assert not (dataset / ".bidsignore").exists()
    warnings = {(i["code"], i.get("subCode")) for i in found if i["severity"] == "warning"}
    assert warnings == EXPECTED_WARNINGS


def test_official_validator_would_find_an_error(dataset, tmp_path):
    """The check above can fail: a participant's row less is PARTICIPANT_ID_MISMATCH."""
    import shutil

    broken = tmp_path / "bids"
    shutil.copytree(dataset, broken)
    lines = (broken / "participants.tsv").read_text().splitlines(keepends=True)
    (broken / "participants.tsv").write_text("".join(lines[:-1]))
    errors = {i["code"] for i in issues(broken) if i["severity"] == "error"}
    assert errors == {"PARTICIPANT_ID_MISMATCH"}
