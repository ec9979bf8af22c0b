"""The bag by others' tools: BIDS validator, hedtools, mne-bids, pandas."""

import shutil

import mne_bids
import numpy as np
import pytest
from others_tools import hed_finds, read_tables, tables, validator_finds

import small_uploads
from aftersit.archive.ids import read_pseudonyms
from aftersit.clean.files import LEVELS
from aftersit.electrodes import STANDARD_19
from aftersit.evidence.checks.bids import errors


@pytest.mark.parametrize("part", ["data/bids", "data/bids/derivatives/cleaned"])
def test_the_official_validator_finds_no_error_and_no_warning_without_a_reason(bag, part):
    assert validator_finds(bag / part) == []


def test_nothing_is_hidden_from_the_validator(bag):
    assert not list(bag.rglob(".bidsignore"))


def test_the_validator_would_see_a_fault(bag, tmp_path):
    """One broken rule, one code: an empty cell of events (BIDS 1.11.1, tabular files)."""
    shutil.copytree(bag / "data" / "bids", tmp_path / "bids")
    path = next((tmp_path / "bids").glob("sub-*/ses-*/eeg/*_events.tsv"))
    path.write_text(path.read_text().replace("onset\tduration", "duration\tonset"))
    assert "TSV_COLUMN_ORDER_INCORRECT" in errors(tmp_path / "bids")


@pytest.mark.parametrize("part", ["bids", "bids/derivatives/cleaned"])
def test_hedtools_finds_no_error_in_events_and_sidecars(bag, part):
    assert hed_finds(bag / "data" / part, n_tables=5) == []


def test_every_two_reasons_may_begin_at_once(bag, tmp_path):
    """Events of one onset are one annotation, in which no tag may stand twice (HED 3.3.0, 3.2)."""
    shutil.copytree(bag / "data" / "bids/derivatives/cleaned", tmp_path / "bids")
    for path in (tmp_path / "bids").rglob("*_events.tsv"):
        rows = [f"1.25\t0.5\t{reason}\tT8" for reason in LEVELS]
        path.write_text("\n".join(["onset\tduration\ttrial_type\telectrodes", *rows]) + "\n")
    assert hed_finds(tmp_path / "bids", n_tables=5) == []


@pytest.mark.parametrize("part", ["bids", "bids/derivatives/cleaned"])
def test_hedtools_would_see_a_tag_that_is_none(bag, tmp_path, part):
    shutil.copytree(bag / "data" / part, tmp_path / "bids")
    (path,) = (tmp_path / "bids").glob("task-sitting*_events.json")
    path.write_text(path.read_text().replace('"HED": {', '"HED": {"other": "Nosuchtag",', 1))
    codes = {found["code"] for found in hed_finds(tmp_path / "bids", n_tables=5)}
    assert "TAG_INVALID" in codes  # HED 3.3.0, appendix B


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


def test_pandas_reads_every_table_as_its_dictionary_says(bag):
    seen = read_tables(bag)
    assert seen >= {"bandpower.json", "regions.json", "spectra.json", "aperiodic.json"}
    assert seen >= {"timeline.json", "participants.json", "sessions.json", "scans.json"}


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
