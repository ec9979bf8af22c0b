"""What a night itself made of every format, handed over and read by others' tools."""

import json
from pathlib import Path

import bagit
import mne
import mne_bids
import numpy as np
import pybv
import pytest
import uploads
from done_clinic import DAY, write_partner, write_roster
from nights import RATE, make_models, make_sitting, run_night, signal_uv, write_edf
from others_tools import manifest_problems
from read_by_others import ReadByOthers

import small_uploads
from aftersit.archive.export import Wanted, export
from aftersit.archive.ids import read_pseudonyms
from aftersit.archive.standing import standing
from aftersit.clinic import Clinic, SittingId
from aftersit.electrodes import STANDARD_19

pytestmark = pytest.mark.slow

CLIENTS = ("K07", "M12", "T05")
FLOAT_UV = 2.0**-23 * 128
"""What single precision can't hold of up to 128 uV (IEEE 754: 23 bits after the point)."""
BLOCKS = [
    {"kind": "baseline", "start": 0, "end": 20},
    {"kind": "practice", "start": 20, "end": 60},
]


def write_bdf(folder: Path, data: np.ndarray) -> None:
    (folder / "rec.bdf").write_bytes(small_uploads.edf_bytes(data=data, bdf=True))


def write_brainvision(folder: Path, data: np.ndarray) -> None:
    small_uploads.write_brainvision(folder, data=data)


def write_brainvision_of_integers(folder: Path, data: np.ndarray) -> None:
    pybv.write_brainvision(
        data=data * 1e-6,
        sfreq=RATE,
        ch_names=list(STANDARD_19),
        fname_base="rec",
        folder_out=folder,
        fmt="binary_int16",
        resolution=0.5,
        unit="µV",
        meas_date=small_uploads.START,
    )


def write_fif(folder: Path, data: np.ndarray) -> None:
    small_uploads.write_fif(folder / "rec.fif", data=data)


FORMATS = {
    "EDF, 16 bits": (write_edf, 2 * 3276.7 / 65535),
    "BDF, 24 bits": (write_bdf, 2 * 3276.7 / (2**24 - 1)),
    "BrainVision, single precision": (write_brainvision, FLOAT_UV),
    "BrainVision, 16 bits": (write_brainvision_of_integers, 0.5),
    "FIF, double precision": (write_fif, FLOAT_UV),
}
"""How a sitting is uploaded, and one digital step of it in uV."""


def place_of(number: int) -> tuple[str, str]:
    """Client and label of the sitting: two each, in the order of the inbox."""
    return CLIENTS[number // 2], f"{number % 2 + 1:02d}"


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    """A sitting of each format, two of a client where there are; one night, one export."""
    clinic = Clinic(uploads.make_clinic(tmp_path_factory.mktemp("real") / "clinic"))
    for number, (write, _) in enumerate(FORMATS.values()):
        client = place_of(number)[0]
        traits = {"client": client, "date": f"2026-03-{10 + number}", "age": 43, "sex": "female"}
        notes = "Kornelia called in between"
        folder = clinic.inbox / f"u{number}"
        make_sitting(folder, 3 + number, write, blocks=BLOCKS, notes=notes, **traits)
    make_models(clinic)
    code, said = run_night(clinic.root)
    assert code == 0, said
    write_roster(clinic, dict.fromkeys(CLIENTS, "yes 2026-01-02"))
    write_partner(clinic, "north", k=3)
    export(clinic, Wanted("real", "north"), DAY, print)
    return clinic


@pytest.fixture(scope="module")
def bag(clinic):
    return clinic.root / "exports" / "real"


@pytest.fixture(scope="module")
def n_sittings():
    return len(FORMATS)


class TestReadByOthers(ReadByOthers):
    """Validators and readers of others."""


def test_the_package_for_bags_calls_it_valid_and_so_does_an_audit(clinic, bag):
    assert bagit.Bag(str(bag)).validate(processes=1)
    assert manifest_problems(bag) == []
    assert standing(clinic).whole == 1


@pytest.mark.parametrize("number", range(len(FORMATS)), ids=FORMATS)
def test_mne_bids_reads_the_samples_back_within_a_digital_step(clinic, bag, number):
    client, label = place_of(number)
    own = read_pseudonyms(clinic, "north")[client].research_id
    path = mne_bids.BIDSPath(
        subject=own, session=label, task="sitting", datatype="eeg", root=bag / "data" / "bids"
    )
    raw = mne_bids.read_raw_bids(path, verbose="ERROR")
    (upload,) = (
        p for p in clinic.original(SittingId(client, int(label)), 1).iterdir() if is_head(p)
    )
    came = mne.io.read_raw(upload, verbose="ERROR")
    step_uv = list(FORMATS.values())[number][1]
    ours_uv, theirs_uv = (1e6 * one.get_data(picks=list(STANDARD_19)) for one in (raw, came))
    assert np.abs(ours_uv - theirs_uv).max() < step_uv
    assert np.abs(ours_uv - signal_uv(3 + number)).max() < 1.01 * step_uv + FLOAT_UV
    assert raw.info["sfreq"] == RATE


def is_head(path: Path) -> bool:
    return path.suffix in (".edf", ".bdf", ".vhdr", ".fif")


def test_every_sitting_of_the_night_is_there(bag):
    found = sorted(bag.rglob("data/bids/sub-*/ses-*/eeg/*_eeg.vhdr"))
    assert len(found) == len(FORMATS)
    records = [json.loads(p.read_text()) for p in bag.rglob("record.json")]
    assert len(records) == len(FORMATS)
