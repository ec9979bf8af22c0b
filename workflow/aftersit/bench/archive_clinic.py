"""A clinic of many short finished sittings, for the bench: one is made, the others are copies."""

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import yaml
from edfio import Edf, EdfSignal

from aftersit.bench import archive_results as results
from aftersit.bids.write import write_sitting
from aftersit.clean.files import clean_sitting
from aftersit.clinic import Clinic, SittingId
from aftersit.electrodes import STANDARD_19
from aftersit.night import layout
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.plan import planned
from aftersit.protocol import protocol_path
from aftersit.settings import load_settings

SEED = 52100
LABEL, RATE_HZ, SECONDS = "s1", 128, 64
FIRST = dt.date(2026, 1, 5)


def make_clinic(root: Path, sittings: int) -> None:
    """Write a clinic with this many finished sittings, two of each client."""
    clinic = Clinic(root)
    for path, data in _papers(clinic, sittings).items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(data if isinstance(data, str) else yaml.safe_dump(data))
    first, *others = [SittingId(f"B{n // 2:03d}X", n % 2 + 1) for n in range(sittings)]
    _write_upload(clinic, first)
    _make_first(clinic, first)
    for sitting in others:
        _write_upload(clinic, sitting)
        _copy(clinic, first, sitting)
    for number, sitting in enumerate((first, *others)):
        _enter(clinic, sitting, FIRST + dt.timedelta(days=number))
    people = sorted({s.client for s in (first, *others)})
    rows = "".join(f"sub-{client}\t41\tfemale\tright\n" for client in people)
    header = "participant_id\tage\tsex\thandedness\n"
    (clinic.bids / "participants.tsv").write_text(header + rows)


_PROTOCOL = {
    "name": "soft-alpha",
    "version": 1,
    "title": "Alpha",
    "purpose": "For the bench.",
    "practices": ["quiet-rest"],
    "literature": "None.",
    "conditions": [
        {
            "name": "alpha",
            "where": {"electrodes": ["O1", "O2"]},
            "band_hz": [8, 13],
            "direction": "above",
            "threshold": {"absolute": 3.0},
        }
    ],
}


def _papers(clinic: Clinic, sittings: int) -> dict[Path, dict | str]:
    contact = {"who": "Front desk", "urgent": "Your local emergency number"}
    settings = {"name": "Bench (invented)", "contact": contact, "mains_hz": 50}
    partner = {
        "title": "Sittings of the bench",
        "licence": "CC0-1.0",
        "licence_text": "No rights reserved; invented data.",
        "authors": ["The bench"],
        "k": 2,
    }
    rows = [f"B{n:03d}X,yes,2026-01-02" for n in range(-(-sittings // 2))]
    return {
        clinic.settings_file: settings | {"time_zone": "Europe/Vienna"},
        clinic.root / "partners" / "north.yaml": partner,
        clinic.root / "roster.csv": "\n".join(["client,research_consent,date", *rows]) + "\n",
        protocol_path(clinic.kept_protocols, "soft-alpha", 1): _PROTOCOL,
    }


def _write_upload(clinic: Clinic, sitting: SittingId) -> None:
    folder = clinic.original(sitting, 1)
    folder.mkdir(parents=True)
    rng = np.random.default_rng(SEED)
    times_s = np.arange(SECONDS * RATE_HZ) / RATE_HZ
    alpha = 9 * np.sin(2 * np.pi * 10.2 * times_s) * (1 + np.sin(0.7 * times_s))
    noise = rng.normal(0, 6, (3, times_s.size)).cumsum(axis=1)
    noise -= np.linspace(noise[:, :1], noise[:, -1:], times_s.size, axis=1)[:, 0]
    mixed = rng.uniform(0.2, 1, (19, 4)) @ np.vstack([alpha, noise / 4])
    signals = [
        EdfSignal(row, RATE_HZ, label=name, physical_dimension="uV")
        for name, row in zip(STANDARD_19, mixed + rng.normal(0, 2, mixed.shape), strict=True)
    ]
    Edf(signals).write(folder / "sitting.edf")
    sheet = {
        "client": sitting.client,
        "date": FIRST.isoformat(),
        "practice": "quiet-rest",
        "protocol": "soft-alpha",
        "eyes": "closed",
        "notes": f"Calm from the start, sitting number {sitting.number} of {sitting.client}",
        "blocks": [{"kind": "practice", "start": 0, "end": SECONDS}],
    }
    (folder / "sitting.yaml").write_text(yaml.safe_dump(sheet))


def _make_first(clinic: Clinic, sitting: SittingId) -> None:
    """Raw and cleaned for real; tables with as many rows as real ones, with random numbers."""
    settings = load_settings(LABEL)
    one = planned(_entry(sitting, FIRST))
    folder = clinic.root / one.original
    write_sitting(folder, sitting, clinic.bids, clinic.read_settings(), settings.intake)
    clean = clinic.root / one.place(f"{layout.CLEAN}_eeg.vhdr")
    clean_sitting(clinic.root / one.place(f"{layout.RAW}_eeg.vhdr"), clean, settings)
    results.write_results(clinic, one, clean)


def _copy(clinic: Clinic, first: SittingId, sitting: SittingId) -> None:
    """The first sitting's files under another sitting's names."""
    one = f"sub-{first.client}/ses-{first.label}"
    for folder in (clinic.bids, *clinic.derivatives.glob("*")):
        for path in sorted(p for p in (folder / one).rglob("*") if p.is_file()):
            target = Path(_renamed(str(path), first, sitting))
            target.parent.mkdir(parents=True, exist_ok=True)
            if path.suffix in (".eeg", ".npz"):
                shutil.copyfile(path, target)
            else:
                target.write_text(_renamed(path.read_text(), first, sitting))


def _renamed(text: str, first: SittingId, sitting: SittingId) -> str:
    return text.replace(first.client, sitting.client).replace(
        f"ses-{first.label}", f"ses-{sitting.label}"
    )


def _entry(sitting: SittingId, date: dt.date) -> Entry:
    return Entry(
        client=sitting.client,
        number=sitting.number,
        date=date,
        recording_sha256="ab" * 32,
        revisions=(Revision(number=1, upload=f"u-{sitting.client}", sheet_sha256="cd" * 32),),
        protocols={"soft-alpha": 1},
        settings=LABEL,
    )


def _enter(clinic: Clinic, sitting: SittingId, date: dt.date) -> None:
    entry = _entry(sitting, date)
    done = Finished(revision=1, outputs=tuple(planned(entry).records))
    Ledger(clinic).write(entry.model_copy(update={"finished": done}))
