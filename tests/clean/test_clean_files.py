"""The edge: raw BIDS in, a BIDS derivative out, the same bytes twice."""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from runpy import run_path

import mne
import numpy as np
import pandas as pd
import pytest
from simulated import NAMES, Recording, blinks, quiet

from aftersit.clean.files import clean_sitting, read_limits
from aftersit.errors import AftersitError
from aftersit.quality import read_quality
from aftersit.settings import load_settings

SCRIPT = Path(__file__).parents[2] / "scripts" / "clean_recording.py"
SETTINGS_FILE = Path(__file__).parents[2] / "config" / "settings" / "s1.yaml"
STEM = "sub-K07_ses-03_task-sitting"
SIDECAR = {
    "TaskName": "sitting",
    "EEGReference": "n/a",
    "SamplingFrequency": 256.0,
    "PowerLineFrequency": 50,
    "SoftwareFilters": "n/a",
    "EEGGround": "n/a",
}


def write_raw(folder: Path, recording: Recording, low_pass: str = "n/a") -> Path:
    """A raw BIDS recording with an ECG channel; channels.tsv as intake writes it."""
    from pybv import write_brainvision

    folder.mkdir(parents=True)
    heart = 300 * np.random.default_rng(2).standard_normal(recording.x.shape[1])
    write_brainvision(
        data=np.vstack([recording.x, heart]) * 1e-6,
        sfreq=recording.rate_hz,
        ch_names=[*NAMES, "ECG"],
        fname_base=f"{STEM}_eeg",
        folder_out=folder,
        resolution=0.001,
    )
    rows = [f"{name}\tEEG\tµV\t0.1\t{low_pass}\t[50, 100]\n" for name in NAMES]
    table = "name\ttype\tunits\tlow_cutoff\thigh_cutoff\tnotch\n" + "".join(rows)
    (folder / f"{STEM}_channels.tsv").write_text(f"{table}ECG\tECG\tµV\tn/a\t70\tn/a\n")
    (folder / f"{STEM}_eeg.json").write_text(json.dumps(SIDECAR))
    return folder / f"{STEM}_eeg.vhdr"


def out_path(root: Path) -> Path:
    return root / "sub-K07" / "ses-03" / "eeg" / f"{STEM}_desc-clean_eeg.vhdr"


@pytest.fixture(scope="module")
def raw_file(tmp_path_factory):
    recording = quiet(40)
    recording.x += blinks(recording, 150, 3)
    recording.x[:, 5120:5376] = recording.x[:, 5120:5121]
    loud = recording.row("P4") + 200 * np.random.default_rng(1).standard_normal(40 * 256)
    folder = tmp_path_factory.mktemp("clinic") / "bids" / "sub-K07" / "ses-03" / "eeg"
    return write_raw(folder, recording.changed("P4", loud), low_pass="100")


@pytest.fixture(scope="module")
def derivative(raw_file, tmp_path_factory):
    root = tmp_path_factory.mktemp("derivatives") / "clean-s1"
    clean_sitting(raw_file, out_path(root), load_settings("s1"))
    return root


def test_the_signal_reads_back_at_average_reference(derivative):
    raw = mne.io.read_raw_brainvision(out_path(derivative), preload=True, verbose="ERROR")
    assert raw.ch_names == [name for name in NAMES if name != "P4"]
    x = raw.get_data() * 1e6
    assert x.shape == (18, 40 * 256)
    assert np.abs(x.mean(axis=0)).max() < 1e-4
    assert 2 < np.median(x.std(axis=1)) < 40
    assert raw.info["meas_date"] is None


def test_the_sidecar_holds_the_account(derivative):
    path = out_path(derivative).with_suffix(".json")
    sidecar = json.loads(path.read_text())
    quality = read_quality(path)
    assert sidecar["TaskName"] == "sitting"
    assert sidecar["EEGChannelCount"] == 18
    assert sidecar["PowerLineFrequency"] == 50
    bad = [e for e in quality.electrodes if not e.good]
    assert [(e.name, e.reasons) for e in bad] == [("P4", ("noisy",))]
    assert np.array(quality.keep).shape == (18, 18)
    assert quality.carried.high_hz == 100
    assert quality.carried.notches_hz == ((48, 52), (98, 102))
    assert quality.labels_in_design


def test_bad_spans_stand_in_the_events_table(derivative):
    table = pd.read_csv(
        derivative / "sub-K07/ses-03/eeg" / f"{STEM}_desc-clean_events.tsv", sep="\t"
    )
    assert list(table.columns) == ["onset", "duration", "trial_type", "electrodes"]
    assert table.onset.tolist() == [19.5]
    assert table.duration.tolist() == [2.0]
    assert table.trial_type.tolist() == ["bad_dropout"]


def test_the_same_bytes_twice_and_beside_others(raw_file, derivative, tmp_path):
    again = tmp_path / "clean-s1"
    described = (derivative / "dataset_description.json").read_bytes()
    again.mkdir()
    (again / "dataset_description.json").write_bytes(described)
    run_path(str(SCRIPT))["main"](
        [
            "--recording",
            str(raw_file),
            "--out",
            str(out_path(again)),
            "--settings",
            str(SETTINGS_FILE),
        ]
    )
    files = sorted(p.relative_to(derivative) for p in derivative.rglob("*") if p.is_file())
    assert files == sorted(p.relative_to(again) for p in again.rglob("*") if p.is_file())
    assert len(files) == 8
    for file in files:
        assert (derivative / file).read_bytes() == (again / file).read_bytes(), file


def test_the_official_validator_finds_no_error(derivative):
    validator = Path(sys.executable).with_name("bids-validator-deno")
    if not validator.exists():
        pytest.skip("bids-validator-deno is not installed")
    done = subprocess.run(
        [validator, derivative, "--json"], capture_output=True, text=True, check=False
    )
    issues = json.loads(done.stdout)["issues"]["issues"]
    assert [i for i in issues if i["severity"] == "error"] == []
    assert {i["code"] for i in issues} <= {
        "README_FILE_MISSING",  # a derivative of one stage; the clinic's README is in bids/
        "TOO_FEW_AUTHORS",  # no person is named
        "SIDECAR_KEY_RECOMMENDED",  # device and site stand in raw BIDS or are not known
        "JSON_KEY_RECOMMENDED",
    }


def test_limits_are_the_tightest_that_electrodes_state():
    channels = [
        {"name": "Fp1", "low_cutoff": "0.1", "high_cutoff": "70", "notch": "n/a"},
        {"name": "Fp2", "low_cutoff": "0.5", "high_cutoff": "45", "notch": "[50, 100]"},
        {"name": "ECG", "low_cutoff": "5", "high_cutoff": "30", "notch": "60"},
    ]
    limits = read_limits(channels)
    assert (limits.low_hz, limits.high_hz, limits.notches_hz) == (0.5, 45.0, (50.0, 100.0))
    nothing = read_limits([{"name": "Cz", "low_cutoff": "n/a"}])
    assert (nothing.low_hz, nothing.high_hz, nothing.notches_hz) == (None, None, ())


def test_a_recording_without_electrodes_is_refused_in_words(raw_file, tmp_path):
    folder = tmp_path / "eeg"
    shutil.copytree(raw_file.parent, folder)
    header = folder / raw_file.name
    text = header.read_text()
    for name in NAMES[3:]:
        text = text.replace(f"={name},", f"=X{name},")
    header.write_text(text)
    with pytest.raises(AftersitError, match="3 of the 19 standard electrodes; cleaning needs at"):
        clean_sitting(header, out_path(tmp_path / "clean-s1"), load_settings("s1"))
