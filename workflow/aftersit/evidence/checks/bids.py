"""BIDS: what the standard asks of a dataset, file by file, and the official validator's word."""

import json
import re
import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import numpy as np
import yaml

from aftersit.bids.tables import read_tsv
from aftersit.bids.write import write_sitting
from aftersit.clinic import SittingId, bids_stem, eeg_folder
from aftersit.electrodes import STANDARD_19
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.invented import CLINIC_SETTINGS, SHEET, edf_bytes, eeg_uv
from aftersit.evidence.result import Result, at_most, near, same

SITTING = SittingId("K07", 3)
LABELS = [*STANDARD_19, "ECG"]


def dataset(given: Given) -> Path:
    """A raw BIDS dataset of one sitting, for reading."""
    return given.once("dataset", lambda: written(given))


def written(given: Given, **changes) -> Path:
    """A raw BIDS dataset of one sitting, of its own."""
    root = given.new_folder()
    upload = root / "upload"
    upload.mkdir()
    marks = [(3.0, 2.5, "tone on")]
    (upload / "rec.edf").write_bytes(edf_bytes(LABELS, annotations=marks))
    (upload / "sitting.yaml").write_text(yaml.safe_dump({**SHEET, **changes}))
    write_sitting(upload, SITTING, root / "bids", CLINIC_SETTINGS, given.settings.intake)
    return root / "bids"


def part(root: Path, ending: str) -> Path:
    """A file of the sitting."""
    return eeg_folder(root, SITTING) / f"{bids_stem(SITTING)}_{ending}"


@check("bids", "required-keys", "The EEG sidecar holds every required key")
def required_keys(given: Given, fact: Fact) -> Result:
    sidecar = json.loads(part(dataset(given), "eeg.json").read_text())
    return same([k for k in fact["keys"] if k in sidecar], fact["keys"])


@check("bids", "rate-and-mains", "Rate, mains frequency and duration are those of the recording")
def rate_and_mains(given: Given, fact: Fact) -> Result:
    sidecar = json.loads(part(dataset(given), "eeg.json").read_text())
    found = [sidecar[k] for k in ("SamplingFrequency", "PowerLineFrequency", "RecordingDuration")]
    return near(found, [128, 50, 64], unit="Hz, Hz, s")


@check("bids", "channel-counts", "Channel counts of the sidecar are those of the channels table")
def channel_counts(given: Given, fact: Fact) -> Result:
    root = dataset(given)
    sidecar = json.loads(part(root, "eeg.json").read_text())
    kinds = [row["type"] for row in read_tsv(part(root, "channels.tsv").read_text())]
    found = [sidecar["EEGChannelCount"], sidecar["ECGChannelCount"]]
    return near(found, [kinds.count("EEG"), kinds.count("ECG")])


@check("bids", "channel-columns", "Columns of the channels table stand in the standard's order")
def channel_columns(given: Given, fact: Fact) -> Result:
    head = part(dataset(given), "channels.tsv").read_text().splitlines()[0].split("\t")
    return same(head[:3], fact["first"])


@check("bids", "channel-types", "Channel types are written in upper case", fact="channel-columns")
def channel_types(given: Given, fact: Fact) -> Result:
    rows = read_tsv(part(dataset(given), "channels.tsv").read_text())
    return same(sorted({row["type"] for row in rows}), ["ECG", "EEG"])


@check("bids", "event-columns", "Events begin with onset and duration, in order of time")
def event_columns(given: Given, fact: Fact) -> Result:
    text = part(dataset(given), "events.tsv").read_text()
    onsets = [float(row["onset"]) for row in read_tsv(text)]
    found = [*text.splitlines()[0].split("\t")[:2], onsets]
    return same(found, [*fact["first"], sorted(onsets)], number=True)


@check(
    "bids",
    "event-times",
    "Onsets and durations are seconds from the first sample",
    fact="event-columns",
)
def event_times(given: Given, fact: Fact) -> Result:
    rows = read_tsv(part(dataset(given), "events.tsv").read_text())
    found = [float(row[k]) for row in rows for k in ("onset", "duration")]
    return near(found, [2, 18, 3, 2.5, 20, 44], unit="s")


@check("bids", "age-cap", "Ages are capped at 89 years")
def age_cap(given: Given, fact: Fact) -> Result:
    found = []
    for age in fact["written"]:
        rows = read_tsv((written(given, age=int(age)) / "participants.tsv").read_text())
        found.append(float(rows[0]["age"]))
    return near(found, list(fact["written"].values()), unit="years")


@check("bids", "participant-labels", "Participant labels have the standard's form")
def participant_labels(given: Given, fact: Fact) -> Result:
    rows = read_tsv((dataset(given) / "participants.tsv").read_text())
    wrong = [
        r["participant_id"] for r in rows if not re.fullmatch(fact["form"], r["participant_id"])
    ]
    return same((wrong, next(iter(rows[0]))), ([], "participant_id"))


@check("bids", "tables", "Tables have tabs, line feeds, n/a for what is missing, equal rows")
def tables(given: Given, fact: Fact) -> Result:
    wrong = []
    for path in sorted(dataset(given).rglob("*.tsv")):
        text = path.read_bytes().decode()
        rows = [line.split("\t") for line in text.removesuffix("\n").split("\n")]
        ragged = len({len(row) for row in rows}) > 1
        empty = any(cell in ("", "None", "nan") for row in rows for cell in row)
        if "\r" in text or ragged or empty or not text.endswith("\n"):
            wrong.append(path.name)
    return same(wrong, [])


@check("bids", "scan-times", "The scans table holds local times in the standard's form")
def scan_times(given: Given, fact: Fact) -> Result:
    (path,) = dataset(given).rglob("*_scans.tsv")
    times = [row["acq_time"] for row in read_tsv(path.read_text())]
    return same(
        [t for t in times if not re.fullmatch(fact["form"], t)] or times, ["2026-03-14T17:05:09"]
    )


@check("bids", "samples", "Samples are the file's within one digital step, read by mne")
def samples(given: Given, fact: Fact) -> Result:
    import mne

    raw = mne.io.read_raw_brainvision(part(dataset(given), "eeg.vhdr"), verbose="ERROR")
    off = np.abs(raw.get_data(picks=list(STANDARD_19)) * 1e6 - eeg_uv(20)[:19]).max()
    return at_most(off / (2 * 3276.7 / 65535), 1, "digital steps off")


@check("bids", "head-sized", "Electrode positions are in metres, and the size of a head")
def head_sized(given: Given, fact: Fact) -> Result:
    (path,) = dataset(given).rglob("*_electrodes.tsv")
    (system,) = path.parent.glob("*_coordsystem.json")
    unit = json.loads(system.read_text())["EEGCoordinateUnits"]
    rows = [r for r in read_tsv(path.read_text()) if r["x"] != "n/a"]
    place = np.array([[float(r[axis]) for axis in "xyz"] for r in rows])
    away_cm = np.linalg.norm(place - place.mean(axis=0), axis=1).mean() * {"m": 100}[unit]
    low, high = fact["radius_cm"]
    return near(away_cm, (low + high) / 2, abs=(high - low) / 2, unit="cm")


@check("bids", "version", "The dataset says which version of the standard it follows")
def version(given: Given, fact: Fact) -> Result:
    said = json.loads((dataset(given) / "dataset_description.json").read_text())
    return same([said["BIDSVersion"], said["DatasetType"]], [fact["version"], "raw"])


@cache
def _validator() -> Path:
    return Path(sys.executable).with_name("bids-validator-deno")


def issues(dataset: Path) -> list[dict]:
    """All that the official validator has to say."""
    command = [_validator(), dataset, "--format", "json", "--max-rows", "-1"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return json.loads(done.stdout)["issues"]["issues"]


def errors(dataset: Path) -> set[str]:
    """Codes of its errors."""
    return {i["code"] for i in issues(dataset) if i["severity"] == "error"}


@check("bids", "validator", "The official validator finds no error", needs=("bids_validator_deno",))
def validator(given: Given, fact: Fact) -> Result:
    return same(errors(dataset(given)), set())


@check(
    "bids",
    "validator-codes",
    "Of three rules broken at once, exactly their three codes are told",
    needs=("bids_validator_deno",),
)
def validator_codes(given: Given, fact: Fact) -> Result:
    root = given.new_folder() / "bids"
    shutil.copytree(dataset(given), root)
    for rule in fact["codes"]:
        _break(root, rule)
    return same(sorted(errors(root)), sorted(fact["codes"].values()))


def _break(root: Path, rule: str) -> None:
    """One thing wrong."""
    sidecar, channels, people = (
        part(root, "eeg.json"),
        part(root, "channels.tsv"),
        root / "participants.tsv",
    )
    if rule == "participant without a row":
        people.write_text(people.read_text().replace("sub-K07", "sub-B9"))
    elif rule == "SamplingFrequency left out":
        kept = json.loads(sidecar.read_text())
        kept.pop("SamplingFrequency")
        sidecar.write_text(json.dumps(kept))
    else:
        rows = [line.split("\t") for line in channels.read_text().splitlines()]
        channels.write_text("".join("\t".join([r[1], r[0], *r[2:]]) + "\n" for r in rows))
