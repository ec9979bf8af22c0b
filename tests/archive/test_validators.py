"""The bag by others' tools: BIDS validator, hedtools, mne-bids, pandas."""

import json
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import hed
import mne_bids
import numpy as np
import pandas as pd
import pytest

import small_uploads
from aftersit.archive.ids import read_pseudonyms
from aftersit.electrodes import STANDARD_19

UNKNOWN = "what the clinic's amplifier or cap is called is not known, or tells the clinic"
WARNINGS = {
    **dict.fromkeys(
        [
            *("CapManufacturer", "CapManufacturersModelName", "DeviceSerialNumber"),
            *("InstitutionAddress", "InstitutionName", "InstitutionalDepartmentName"),
            *("Manufacturer", "ManufacturersModelName", "SoftwareVersions", "HeadCircumference"),
        ],
        UNKNOWN,
    ),
    **dict.fromkeys(["CogAtlasID", "CogPOID"], "no atlas has a term for these sittings"),
    "MISCChannelCount": "deprecated spelling; MiscChannelCount is there",
    "StimulusPresentation": "the room's own system played the sound; it is not known",
    "AnatomicalLandmarkCoordinateSystemDescription": "CapTrak is one that BIDS defines",
    **dict.fromkeys(
        [
            *("FiducialsCoordinateSystem", "FiducialsCoordinateSystemDescription"),
            *("FiducialsCoordinateUnits", "FiducialsCoordinates"),
        ],
        "the landmarks are there under their own keys",
    ),
    "License": "it stands in LICENSE; beside CITATION.cff BIDS does not want it twice",
    "SourceDatasets": "raw data have none that may be named",
    "Description": "sidecars of tables need none; each column has its own",
    "TOO_FEW_AUTHORS": "a partner's settings name as many as the clinic wants",
}
"""Every warning that stays, with its reason."""


def validate(folder):
    validator = Path(sys.executable).with_name("bids-validator-deno")
    if not validator.exists():
        pytest.skip("bids-validator-deno is not installed")
    told = subprocess.run(
        [validator, folder, "--format", "json", "--max-rows", "-1"],
        capture_output=True,
        text=True,
        check=False,
    )
    return json.loads(told.stdout)["issues"]["issues"]


@pytest.mark.parametrize("part", ["data/bids", "data/bids/derivatives/cleaned"])
def test_the_official_validator_finds_no_error_and_no_warning_without_a_reason(bag, part):
    issues = validate(bag / part)
    assert [i for i in issues if i["severity"] == "error"] == []
    found = Counter(i.get("subCode") or i["code"] for i in issues)
    assert set(found) <= set(WARNINGS), found


def test_nothing_is_hidden_from_the_validator(bag):
    assert not list(bag.rglob(".bidsignore"))


def test_the_validator_would_see_a_fault(bag, tmp_path):
    """One broken rule, one code: an empty cell of events (BIDS 1.11.1, tabular files)."""
    shutil.copytree(bag / "data" / "bids", tmp_path / "bids")
    path = next((tmp_path / "bids").glob("sub-*/ses-*/eeg/*_events.tsv"))
    path.write_text(path.read_text().replace("onset\tduration", "duration\tonset"))
    codes = {i["code"] for i in validate(tmp_path / "bids") if i["severity"] == "error"}
    assert "TSV_COLUMN_ORDER_INCORRECT" in codes


@pytest.mark.parametrize(
    "name",
    [
        "bids/task-sitting_events.json",
        "bids/derivatives/cleaned/task-sitting_desc-clean_events.json",
    ],
)
def test_hed_tags_are_valid(bag, name):
    description = bag / "data" / name
    version = json.loads((description.parent / "dataset_description.json").read_text())
    schema = hed.load_schema_version(version["HEDVersion"])
    sidecar = hed.Sidecar(str(description))
    assert sidecar.validate(schema) == []
    assert any("HED" in column for column in json.loads(description.read_text()).values())


def test_assembled_events_are_valid_hed(bag):
    root = bag / "data" / "bids"
    schema = hed.load_schema_version("8.3.0")
    sidecar = hed.Sidecar(str(root / "task-sitting_events.json"))
    for path in root.glob("sub-*/ses-*/eeg/*_events.tsv"):
        table = hed.TabularInput(str(path), sidecar)
        assert table.validate(schema) == []


STEPS_UV = {"K07": 2 * 3276.7 / 65535, "M12": 2 * 3276.7 / (2**24 - 1)}
"""One digital step of the uploads: EDF of 16, BDF of 24 bits over +-3276.7 uV."""


@pytest.mark.parametrize(("client", "factor"), [("K07", None), ("M12", 0.73)])
def test_mne_bids_reads_samples_back_within_a_digital_step(made, bag, client, factor):
    own = read_pseudonyms(made, "north")[client].research_id
    path = mne_bids.BIDSPath(
        subject=own, session="01", task="sitting", datatype="eeg", root=bag / "data" / "bids"
    )
    raw = mne_bids.read_raw_bids(path, verbose="ERROR")
    uploaded = small_uploads.eeg_uv() if factor is None else small_uploads.eeg_uv() * factor
    error_uv = np.abs(raw.get_data(picks=list(STANDARD_19)) * 1e6 - uploaded)
    assert error_uv.max() < STEPS_UV[client] + 1e-4  # single precision at 100 uV: 4e-6
    assert raw.info["subject_info"]["his_id"] == f"sub-{own}"
    assert raw.info["meas_date"] is None


def test_mne_bids_reads_every_sitting(bag):
    root = bag / "data" / "bids"
    found = sorted(root.glob("sub-*/ses-*/eeg/*_eeg.vhdr"))
    assert len(found) == 5
    for path in map(mne_bids.get_bids_path_from_fname, found):
        raw = mne_bids.read_raw_bids(path, verbose="ERROR")
        assert raw.info["sfreq"] == small_uploads.RATE
        assert set(raw.annotations.description) <= {"baseline", "practice"}


def tables(bag):
    """Each table with the dictionary that speaks for it."""
    data = bag / "data"
    for path in sorted((data / "measures").rglob("*.tsv")):
        kind = path.stem.split("_")[-1]
        timeline = path.with_name("timeline.json")
        yield path, timeline if timeline.is_file() else data / "measures" / f"{kind}.json"
    for path in sorted((data / "bids").rglob("*.tsv")):
        kind = path.stem.split("_")[-1]
        inherited = {
            "events": "task-sitting_desc-clean_events"
            if "desc-clean" in path.name
            else ("task-sitting_events"),
        }.get(kind, kind)
        root = (
            data / "bids" / "derivatives" / "cleaned"
            if "desc-clean" in path.name
            else (data / "bids")
        )
        if (root / f"{inherited}.json").is_file():
            yield path, root / f"{inherited}.json"


def test_pandas_reads_every_table_as_its_dictionary_says(bag):
    seen = set()
    for path, dictionary in tables(bag):
        told = json.loads(dictionary.read_text())
        table = pd.read_csv(path, sep="\t", na_values="n/a", keep_default_na=False)
        seen.add(dictionary.name)
        assert set(table.columns) <= set(told), path.name
        for name, column in table.items():
            check_column(path.name, column.dropna(), told[name])
    assert seen >= {"bandpower.json", "regions.json", "spectra.json", "aperiodic.json"}
    assert seen >= {"timeline.json", "participants.json", "sessions.json", "scans.json"}


def check_column(where, column, told):
    if told["Format"] in ("number", "integer"):
        assert pd.api.types.is_numeric_dtype(column) or column.empty, (where, column.name)
        if told["Format"] == "integer":
            assert (column == column.round()).all(), (where, column.name)
    if "Levels" in told:
        assert set(column.astype(str)) <= set(told["Levels"]), (where, column.name)


def test_bids_tables_without_a_dictionary_are_those_that_bids_defines(bag):
    named = {str(path) for path, _ in tables(bag)}
    others = {p.stem.split("_")[-1] for p in bag.rglob("*.tsv") if str(p) not in named}
    assert others == {"channels", "electrodes", "descriptions"}


def test_matrices_are_read_without_anything_of_ours(bag):
    path = next(bag.rglob("*_matrices.npz"))
    with np.load(path, allow_pickle=False) as arrays:
        n = len(arrays["electrodes"])
        assert arrays["sloreta"].shape == (len(arrays["places"]), n, n)
        assert arrays["selective"].shape == arrays["sloreta"].shape
