"""A small archive without a night: sittings of noise, their files as the stages leave them."""

import datetime as dt
import hashlib
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import yaml
from cases import BLOCKS, NAMES, RATE_HZ, condition, quality, regions
from uploads import CLINIC

from aftersit.blocks import to_events
from aftersit.change.rescore import Job, score_one
from aftersit.clinic import Clinic, SittingId
from aftersit.evidence.invented import write_signal
from aftersit.head.crossfile import save_cross
from aftersit.head.measures import save_region_measures
from aftersit.head.spectra import BlockSpectrum, cross_spectrum
from aftersit.night.kept_protocols import keep_protocols
from aftersit.night.kept_settings import keep_settings
from aftersit.night.layout import CLEAN, HEAD, PLAUSIBLE, RAW, REGIONS
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.plan import planned, write_plan
from aftersit.night.register import Register

SECONDS = 80
ALPHA = condition("alpha", {"electrodes": ["Cz", "O2"]}, db_over_baseline=0.4)
TEMPLES = condition(
    "temples", {"electrodes": ["T7", "T8"]}, (20, 30), "below", db_over_baseline=0.7
)
PROTOCOL = {
    "name": "calm-sea",
    "version": 1,
    "title": "Calm sea",
    "purpose": "For tests.",
    "practices": ["open-monitoring"],
    "literature": "None.",
    "conditions": [ALPHA, TEMPLES],
    "timing": {"smoothing_s": 0.5, "update_s": 0.125, "onset_s": 0.25, "release_s": 0.25},
}
PRACTICES = {"K07": "open-monitoring", "M12": "quiet-rest", "T05": "open-monitoring"}
SITTINGS = (("K07", 1), ("K07", 2), ("K07", 3), ("M12", 1), ("M12", 2), ("T05", 1))


def write_protocol(clinic: Clinic, number: int, conditions, **more) -> Path:
    """A version of the protocol under `protocols/`."""
    path = clinic.protocols / "calm-sea" / f"v{number}.yaml"
    path.parent.mkdir(parents=True, exist_ok=True)
    said = PROTOCOL | {"version": number, "conditions": list(conditions)} | more
    path.write_text(yaml.safe_dump(said, sort_keys=False))
    return path


def make_archive(root: Path, sittings=SITTINGS) -> Clinic:
    """Sittings that are finished under version 1, on the 4th, 8th, ... of a month."""
    clinic = Clinic(root)
    root.mkdir(parents=True)
    (root / "clinic.yaml").write_text(yaml.safe_dump(CLINIC))
    write_protocol(clinic, 1, (ALPHA, TEMPLES))
    keep_protocols(clinic, {"calm-sea": 1}, Register(clinic))
    keep_settings(clinic, "s1", Register(clinic))
    for number, (client, sitting) in enumerate(sittings, 1):
        _make_sitting(clinic, client, sitting, number)
    return clinic


def _make_sitting(clinic: Clinic, client: str, number: int, seed: int) -> None:
    recording = f"noise of seed {seed}".encode()
    entry = Entry(
        client=client,
        number=number,
        date=dt.date(2026, 3, 4 * seed),
        recording_sha256=hashlib.sha256(recording).hexdigest(),
        revisions=[Revision(number=1, upload=f"u{seed}", sheet_sha256="x")],
        protocols={"calm-sea": 1},
        settings="s1",
    )
    _write_upload(clinic, entry, recording, BLOCKS)
    _write_stages(clinic, planned(entry), seed, PRACTICES[client])
    _write_events(clinic, planned(entry), BLOCKS)
    _finish(clinic, entry)


def correct_sheet(clinic: Clinic, client: str, number: int) -> None:
    """A second sheet, by which a block begins 6 s later, and the night after it."""
    sitting = SittingId(client, number)
    entry = Ledger(clinic).read(sitting)
    newer = Revision(number=2, upload="corrected", sheet_sha256="y")
    entry = entry.model_copy(update={"revisions": (*entry.revisions, newer)})
    blocks = [replace(b, start_s=26.0) if b.start_s == 20 else b for b in BLOCKS]
    recording = (clinic.original(sitting, 1) / "sitting.edf").read_bytes()
    _write_upload(clinic, entry, recording, blocks)
    _write_events(clinic, planned(entry), blocks)
    _finish(clinic, entry)


def _write_upload(clinic: Clinic, entry: Entry, recording: bytes, blocks) -> None:
    original = clinic.original(entry.sitting, entry.revision.number)
    original.mkdir(parents=True)
    (original / "sitting.edf").write_bytes(recording)
    sheet = {
        "client": entry.client,
        "date": f"{entry.date}",
        "practice": PRACTICES[entry.client],
        "protocol": "calm-sea",
        "eyes": "closed",
        "blocks": [{"kind": b.kind.value, "start": b.start_s, "end": b.stop_s} for b in blocks],
    }
    (original / "sitting.yaml").write_text(yaml.safe_dump(sheet))


def _finish(clinic: Clinic, entry: Entry) -> None:
    one = planned(entry)
    write_plan(clinic, planned_only(one))
    score(clinic, one)
    for page in one.pages:
        (clinic.root / page).parent.mkdir(parents=True, exist_ok=True)
        (clinic.root / page).write_text("page")
    done = Finished(revision=one.revision, outputs=(*one.records, *one.pages))
    Ledger(clinic).write(entry.model_copy(update={"finished": done}))


def planned_only(one):
    from aftersit.night.plan import Plan

    return Plan(sittings=(one,))


def score(clinic: Clinic, one) -> None:
    """Score in the clinic's folder, as the workers do."""
    import os

    before = Path.cwd()
    os.chdir(clinic.root)
    try:
        for name in one.protocols:
            score_one(Job(one, name))
    finally:
        os.chdir(before)


def signal(seed: int) -> np.ndarray:
    """Noise with alpha that comes and goes, in volts; how strong depends on the seed."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ
    swell = 1 + np.sin(2 * np.pi * t / (9 + seed)) * (t > 20)
    alpha = (3 + seed) * np.sin(2 * np.pi * 10.2 * t) * swell
    return (rng.normal(0, 10, (len(NAMES), t.size)) + alpha * rng.uniform(0.3, 1, (5, 1))) * 1e-6


def _write_events(clinic: Clinic, one, blocks) -> None:
    events = clinic.root / f"{one.place(RAW)}_events.tsv"
    to_events(blocks).to_csv(events, sep="\t", index=False)


def _write_stages(clinic: Clinic, one, seed: int, practice: str) -> None:
    raw, clean = (clinic.root / f"{one.place(p)}_eeg.vhdr" for p in (RAW, CLEAN))
    samples = signal(seed)
    for path in (raw, clean):
        write_signal(path, samples, NAMES, RATE_HZ)
    found = quality(duration_s=float(SECONDS))
    clean.with_suffix(".json").write_text(json.dumps({"Quality": found.model_dump(mode="json")}))
    raw.with_suffix(".json").write_text(json.dumps({"Practice": practice}))
    stem = clinic.root / one.place(REGIONS)
    stem.parent.mkdir(parents=True, exist_ok=True)
    save_region_measures(regions(), stem.with_name(f"{stem.name}_regions.npz"))
    centred = samples - samples.mean(axis=0)
    spectra = [
        BlockSpectrum(b.index, cross_spectrum(centred, RATE_HZ, [(b.start_s, b.stop_s)], 2, 0.5))
        for b in BLOCKS
    ]
    save_cross(spectra, NAMES, (0.5, 40), stem.with_name(f"{stem.name}_cross.npz"))
    stem.with_name(f"{stem.name}_bandpower.tsv").write_text("block\n")
    for pattern in (HEAD, PLAUSIBLE):
        path = clinic.root / one.place(pattern)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"no head was needed")
