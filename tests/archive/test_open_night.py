"""A night over open recordings, handed over and read by others' tools.

Recordings: Zyma et al. 2019, Data 4:14 (mental arithmetic) and Schalk et al. 2004,
IEEE TBME 51:1034 (eyes open), both through PhysioNet.
"""

import bagit
import mne
import mne_bids
import numpy as np
import pandas as pd
import pytest
import yaml
from done_clinic import DAY, write_partner, write_roster
from nights import make_models
from others_tools import manifest_problems
from read_by_others import ReadByOthers

from aftersit.archive.export import Wanted, export
from aftersit.archive.ids import read_pseudonyms
from aftersit.clinic import Clinic
from aftersit.electrodes import STANDARD_19
from aftersit.evidence.open_clinic import Found, found_in, make_open_clinic
from aftersit.night.run import run_night

pytestmark = [pytest.mark.slow, pytest.mark.open_data]

BLOCKS = [
    {"kind": "baseline", "start": 0, "end": 18, "eyes": "closed"},
    {"kind": "practice", "start": 18, "end": 39},
    {"kind": "break", "start": 39, "end": 44},
    {"kind": "rest", "start": 44, "end": 58},
]
HEADERS = ("NeuroCom", "Professional", "Doctor", "BCI2000", "Subject0", "S001R01")
"""What the recordings' own headers and names say (PhysioNet eegmat, eegmmidb)."""


@pytest.fixture(scope="module")
def recordings(open_data) -> list[Found]:
    return found_in(open_data)


@pytest.fixture(scope="module")
def clinic(open_data, recordings, tmp_path_factory):
    """Blocks of every kind, ages and sexes where the sets state them; dates are shifted."""
    clinic = Clinic(tmp_path_factory.mktemp("open") / "clinic")
    make_open_clinic(open_data, clinic.root)
    people = pd.read_csv(open_data / "mental-arithmetic" / "subject-info.csv", index_col="Subject")
    for one in recordings:
        path = clinic.inbox / one.path.stem.lower().replace("_", "-") / "sitting.yaml"
        sheet = yaml.safe_load(path.read_text()) | {"blocks": BLOCKS}
        if one.path.stem[:9] in people.index:
            sheet |= {"age": int(people.Age[one.path.stem[:9]]), "sex": "female"}
        path.write_text(yaml.safe_dump(sheet))
    make_models(clinic)
    assert run_night(clinic, lambda line: None).exit_code == 0
    write_roster(clinic, {one.sitting.client: "yes 2026-01-02" for one in recordings})
    write_partner(clinic, "north", dates="shifted", agreement="Use of open data")
    export(clinic, Wanted("open", "north", small_groups_allowed_by="DR2"), DAY, print)
    return clinic


@pytest.fixture(scope="module")
def bag(clinic):
    return clinic.root / "exports" / "open"


@pytest.fixture(scope="module")
def n_sittings(recordings):
    return len(recordings)


class TestReadByOthers(ReadByOthers):
    """Validators and readers of others."""


def test_the_package_and_a_second_reading_call_the_bag_valid(bag):
    assert bagit.Bag(str(bag)).validate(processes=1)
    assert manifest_problems(bag) == []


def test_mne_bids_reads_every_sitting_back_within_a_digital_step(clinic, bag, recordings):
    ids = read_pseudonyms(clinic, "north")
    for one in recordings:
        path = mne_bids.BIDSPath(
            subject=ids[one.sitting.client].research_id,
            session=one.sitting.label,
            task="sitting",
            datatype="eeg",
            root=bag / "data" / "bids",
        )
        raw = mne_bids.read_raw_bids(path, verbose="ERROR")
        came = mne.io.read_raw_edf(one.path, verbose="ERROR")
        labels = {standard(name): name for name in came.ch_names}
        ours_uv = 1e6 * raw.get_data(picks=list(STANDARD_19))
        theirs_uv = 1e6 * came.get_data(picks=[labels[name] for name in STANDARD_19])
        assert ours_uv.shape == theirs_uv.shape, one.path.name
        assert (np.abs(ours_uv - theirs_uv) < steps_uv(one.path)).all(), one.path.name
        assert raw.info["sfreq"] == came.info["sfreq"]
        assert {*raw.annotations.description} == {b["kind"] for b in BLOCKS}


def standard(label):
    """`EEG T3` and `T7..` of the two sets are both T7 (10-20 names, old and new)."""
    bare = label.removeprefix("EEG ").strip(".").capitalize()
    return {"T3": "T7", "T4": "T8", "T5": "P7", "T6": "P8"}.get(bare, bare)


def steps_uv(path):
    """Physical over digital range of the electrodes (EDF specification, edfplus.info/specs/edf)."""
    head = path.read_bytes()
    count = int(head[252:256])

    def texts(first, width):
        start = 256 + first * count
        return [head[start + i * width :][:width].decode().strip() for i in range(count)]

    names = map(standard, texts(0, 16))
    low, high, least, most = (map(float, texts(at, 8)) for at in (104, 112, 120, 128))
    steps = [(b - a) / (d - c) for a, b, c, d in zip(low, high, least, most, strict=True)]
    found = dict(zip(names, steps, strict=True))
    return np.array([[found[name]] for name in STANDARD_19])


def test_nothing_of_the_recordings_headers_is_in_the_bag(bag):
    for path in (p for p in bag.rglob("*") if p.is_file()):
        data = path.read_bytes().lower()
        for text in HEADERS:
            assert text.lower().encode() not in data, (path.name, text)
