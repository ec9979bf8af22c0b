"""A finished clinic in no time: recordings written for real, results copied from one sitting."""

import dataclasses
import datetime as dt
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import samples
import yaml
from sample_given import protocol

import small_uploads
from aftersit.bids.write import write_sitting
from aftersit.clean.files import _write as write_cleaned
from aftersit.clean.run import Cleaned
from aftersit.clinic import Clinic, SittingId
from aftersit.head.bandtable import APERIODIC_COLUMNS
from aftersit.head.measures import save_region_measures
from aftersit.night import layout
from aftersit.night.ledger import Finished, Ledger
from aftersit.night.plan import planned
from aftersit.night.run import receiver
from aftersit.night.session import at_work
from aftersit.protocol import protocol_path
from aftersit.replay.files import write_replayed
from aftersit.replay.sitting import Replayed
from aftersit.settings import load_settings

CLINIC = {
    "name": "Zimtbaum Studio",
    "contact": {
        "who": "Orsolya Kekstein",
        "phone": "+43 1 5550199",
        "email": "desk@zimtbaum.example.org",
        "urgent": "Ring the emergency number",
    },
    "mains_hz": 50,
    "time_zone": "Europe/Vienna",
    "reward_annotation": "tone on",
}
PARTNER = {
    "title": "Meditation sittings with EEG feedback, a research copy",
    "licence": "CC-BY-NC-4.0",
    "licence_text": "Creative Commons Attribution-NonCommercial 4.0 International. "
    "https://creativecommons.org/licenses/by-nc/4.0/",
    "authors": ["Practice for quiet hours"],
    "k": 2,
}
LABEL = "s1"
DAY = dt.date(2026, 4, 2)
"""Of the exports."""
WOMAN = {"age": 41, "sex": "female", "handedness": "right"}


@dataclass(frozen=True)
class One:
    """One upload to make."""

    client: str
    date: str
    changes: dict = dataclasses.field(default_factory=dict)
    write: Callable[[Path], None] | None = None
    """Writes the recording into the upload's folder; EDF unless given."""
    upload: str | None = None


def make_clinic(root: Path, uploads: list[One], consents: dict[str, str]) -> Clinic:
    """A clinic with these uploads received; `consents` are roster rows by client."""
    clinic = small_uploads.make_clinic(root)
    clinic.settings_file.write_text(yaml.safe_dump(CLINIC))
    clinic.inbox.mkdir()
    used = protocol()
    path = protocol_path(clinic.protocols, used.name, used.version)
    path.parent.mkdir(exist_ok=True)
    path.write_text(yaml.safe_dump(used.model_dump(mode="json", exclude_none=True)))
    write_roster(clinic, consents)
    write_partner(clinic, "north")
    add_uploads(clinic, uploads)
    receive(clinic)
    return clinic


def add_uploads(clinic: Clinic, uploads: list[One], first: int = 0) -> None:
    for number, one in enumerate(uploads, first):
        folder = clinic.inbox / (one.upload or f"u{number}")
        folder.mkdir()
        if one.write:
            one.write(folder)
        else:
            data = small_uploads.eeg_uv() + number
            (folder / "rec.edf").write_bytes(small_uploads.edf_bytes(data=data))
        given = {"client": one.client, "date": one.date, "protocol": protocol().name}
        small_uploads.write_sheet(folder, **{**given, **one.changes})


def write_roster(clinic: Clinic, consents: dict[str, str]) -> None:
    """Client -> `yes 2026-01-02`, or several, with commas."""
    rows = ["client,research_consent,date"]
    for client, answers in consents.items():
        rows += [f"{client},{','.join(answer.split())}" for answer in answers.split(",")]
    (clinic.root / "roster.csv").write_text("\n".join(rows) + "\n")


def write_partner(clinic: Clinic, name: str, **changes) -> None:
    path = clinic.root / "partners" / f"{name}.yaml"
    path.parent.mkdir(exist_ok=True)
    path.write_text(yaml.safe_dump(PARTNER | changes))


def receive(clinic: Clinic) -> None:
    made = receiver(clinic)
    night = made.night.model_copy(update={"settle_s": 0})
    with at_work(clinic):
        dataclasses.replace(made, night=night).receive()


def finish(clinic: Clinic, results: Path) -> None:
    """Write raw BIDS for real and copy the results of one sitting for all that came."""
    ledger, intake = Ledger(clinic), load_settings(LABEL).intake
    for entry in ledger.entries():
        one = planned(entry)
        if not (clinic.root / one.place(f"{layout.RAW}_eeg.vhdr")).is_file():
            original = clinic.root / one.original
            write_sitting(original, one.sitting, clinic.bids, clinic.read_settings(), intake)
        copy_results(clinic, results, one.sitting)
        outputs = tuple(one.records)
        done = Finished(revision=entry.revision.number, outputs=outputs)
        ledger.write(entry.model_copy(update={"finished": done}))


def copy_results(clinic: Clinic, results: Path, sitting: SittingId) -> None:
    """The results of client AA, sitting 01, under other names."""
    for path in sorted(p for p in results.rglob("*") if p.is_file()):
        name = str(path.relative_to(results)).replace("sub-AA", f"sub-{sitting.client}")
        target = clinic.root / name.replace("ses-01", f"ses-{sitting.label}")
        target.parent.mkdir(parents=True, exist_ok=True)
        if path.suffix in (".eeg", ".npz"):
            shutil.copyfile(path, target)
            continue
        text = path.read_text().replace('"client": "AA"', f'"client": "{sitting.client}"')
        text = text.replace("sub-AA", f"sub-{sitting.client}")
        target.write_text(text.replace("ses-01", f"ses-{sitting.label}"))


def make_results(root: Path) -> Path:
    """Results of one invented sitting of client AA, from the samples that pages are tested with."""
    sample = samples.scored()
    (replay,) = sample.replays
    eeg = root / "derivatives" / f"clean-{LABEL}" / "sub-AA" / "ses-01" / "eeg"
    data = np.random.default_rng(4).normal(0, 9, (len(sample.quality.good), 5000))
    cleaned = Cleaned(data, sample.quality.good, sample.quality)
    sidecar = {"TaskName": "sitting", "PowerLineFrequency": 50, "Practice": "loving-kindness"}
    out = eeg / "sub-AA_ses-01_task-sitting_desc-clean_eeg.vhdr"
    write_cleaned(out, cleaned, sidecar, load_settings(LABEL))
    stem = root / "derivatives" / f"regions-{LABEL}" / "sub-AA/ses-01/sub-AA_ses-01_task-sitting"
    stem.parent.mkdir(parents=True)
    slopes = pd.DataFrame([[2, "electrode", "Cz", "sensor", 1.3, 2.5, 0.97, 2.0, 40.0]])
    slopes.columns = APERIODIC_COLUMNS
    tables = {
        "bandpower": sample.bandpower,
        "spectra": sample.spectra.head(900),
        "aperiodic": slopes,
    }
    for name, table in tables.items():
        table.to_csv(f"{stem}_{name}.tsv", sep="\t", na_rep="n/a", index=False)
    save_region_measures(sample.regions, Path(f"{stem}_regions.npz"))
    record = replay.record.model_copy(update={"client": "AA", "sitting": 1})
    used = replay.protocol
    folder = root / f"derivatives/replay-{LABEL}-{used.name}-v{used.version}/sub-AA/ses-01"
    tables = {"cleaned": replay.cleaned, "uncleaned": replay.uncleaned}
    tables = {name: table.head(600).assign(deciding="") for name, table in tables.items()}
    write_replayed(Replayed(record, tables), folder)
    return root
