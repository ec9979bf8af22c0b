"""Rescoring an archive under a new threshold rule, with the command itself."""

import datetime as dt
import sys
import tempfile
from pathlib import Path

import numpy as np
import yaml

from aftersit.bench.heads import LABEL, template_file, template_head
from aftersit.bench.night_clinic import CLINIC
from aftersit.bench.replay_cost import RATE_HZ, blocks_of, four_conditions, noise_uv
from aftersit.bench.replay_sittings import regions_of, untouched
from aftersit.bench.spent import Spent, spent_by
from aftersit.bench.table import Table
from aftersit.blocks import to_events
from aftersit.clinic import Clinic
from aftersit.electrodes import STANDARD_19
from aftersit.evidence.invented import write_signal
from aftersit.files import write_json
from aftersit.head.crossfile import save_cross
from aftersit.head.measures import save_region_measures
from aftersit.head.spectra import BlockSpectrum, cross_spectrum
from aftersit.intake.upload_files import SHEET_NAME
from aftersit.night.layout import CLEAN, HEAD, PLAUSIBLE, RAW, REGIONS
from aftersit.night.ledger import Entry, Finished, Ledger, Revision
from aftersit.night.plan import PlannedSitting, planned
from aftersit.protocol import Protocol, protocol_path

MINUTES, QUICK_MINUTES = 30.0, 3.0
SITTINGS, QUICK_SITTINGS = 24, 3
MANY, CORES = 1000, 2


def rescoring_table(quick: bool) -> Table:
    """One sitting first, for what starting costs; then all."""
    minutes, count = (QUICK_MINUTES, QUICK_SITTINGS) if quick else (MINUTES, SITTINGS)
    with tempfile.TemporaryDirectory() as folder:
        clinic = _archive(Path(folder) / "clinic", minutes, count)
        one = _spent(clinic, 2, "--clients", "B000")
        all_ = _spent(clinic, 3)
    each_s = (all_.cpu_s - one.cpu_s) / (count - 1)
    return Table(
        "rescoring",
        f"A new threshold rule over sittings of {minutes:g} minutes, 19 electrodes at 256 Hz",
        [
            {
                "sittings": count,
                "cpu_s_each": round(each_s, 2),
                "cpu_s_to_start": round(one.cpu_s - each_s, 1),
                "wall_s": round(all_.wall_s, 1),
                "peak_mb": round(all_.peak_mb),
                f"minutes_for_{MANY}_on_{CORES}_cores": round(MANY * each_s / CORES / 60, 1),
            }
        ],
        (
            "`replay --try` with 4 conditions: both replays, muscle, insight, record, timelines "
            f"and checksums written; no pages. {MANY} sittings are reckoned from {count}; peak "
            "memory is that of all processes together.",
        ),
    )


def _archive(root: Path, minutes: float, count: int) -> Clinic:
    clinic = Clinic(root)
    root.mkdir()
    clinic.settings_file.write_text(yaml.safe_dump(CLINIC))
    for version, db in ((1, 0.2), (2, 0.5), (3, 0.8)):
        _write_protocol(clinic, four_conditions(db), version)
    template_head()
    for number in range(count):
        _make_sitting(clinic, number, minutes)
    return clinic


def _write_protocol(clinic: Clinic, protocol: Protocol, version: int) -> None:
    path = protocol_path(clinic.protocols, "bench", version)
    path.parent.mkdir(parents=True, exist_ok=True)
    said = protocol.model_dump(mode="json") | {"version": version}
    path.write_text(yaml.safe_dump(said))


def _make_sitting(clinic: Clinic, number: int, minutes: float) -> None:
    entry = Entry(
        client=f"B{number:03d}",
        number=1,
        date=dt.date(2026, 3, 4),
        recording_sha256="0",
        revisions=(Revision(number=1, upload="u", sheet_sha256="0"),),
        protocols={"bench": 1},
        settings=LABEL,
    )
    one = planned(entry)
    protocol = protocol_path(clinic.kept_protocols, "bench", 1)
    _write_sheet(clinic.original(entry.sitting, 1), entry, minutes)
    facts = clinic.state / "facts" / f"{entry.client}-01" / "ab12.json"
    for path in (protocol, facts, *(clinic.root / p for p in (*one.records, *one.pages))):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("{}")
    _write_stages(clinic, one, noise_uv(minutes, number), minutes)
    done = Finished(revision=1, outputs=(*one.records, *one.pages))
    Ledger(clinic).write(entry.model_copy(update={"finished": done}))


def _write_sheet(original: Path, entry: Entry, minutes: float) -> None:
    sheet = {
        "client": entry.client,
        "date": f"{entry.date}",
        "practice": "other",
        "protocol": "bench",
        "eyes": "closed",
        "blocks": [
            {"kind": b.kind.value, "start": b.start_s, "end": b.stop_s} for b in blocks_of(minutes)
        ],
    }
    original.mkdir(parents=True)
    (original / SHEET_NAME).write_text(yaml.safe_dump(sheet))


def _write_stages(
    clinic: Clinic, one: PlannedSitting, signal_uv: np.ndarray, minutes: float
) -> None:
    """Files as the stages before the replay leave them."""
    raw, clean = (clinic.root / f"{one.place(p)}_eeg.vhdr" for p in (RAW, CLEAN))
    for path in (raw, clean):
        write_signal(path, signal_uv * 1e-6, STANDARD_19, RATE_HZ)
    cleaned, blocks = untouched(signal_uv, RATE_HZ), blocks_of(minutes)
    write_json(clean.with_suffix(".json"), {"Quality": cleaned.quality.model_dump(mode="json")})
    write_json(raw.with_suffix(".json"), {"Practice": "other", "PowerLineFrequency": 50})
    events = raw.with_name(raw.name.removesuffix("_eeg.vhdr") + "_events.tsv")
    to_events(list(blocks)).to_csv(events, sep="\t", index=False)
    stem = clinic.root / one.place(REGIONS)
    stem.parent.mkdir(parents=True, exist_ok=True)
    save_region_measures(regions_of(STANDARD_19), stem.with_name(f"{stem.name}_regions.npz"))
    spectra = [
        BlockSpectrum(
            b.index,
            cross_spectrum(cleaned.data_uv * 1e-6, RATE_HZ, [(b.start_s, b.stop_s)], 2, 0.5),
        )
        for b in blocks
    ]
    limits = (cleaned.quality.carried.low_hz, cleaned.quality.carried.high_hz)
    save_cross(spectra, STANDARD_19, limits, stem.with_name(f"{stem.name}_cross.npz"))
    stem.with_name(f"{stem.name}_bandpower.tsv").write_text("block\n")
    for pattern in (HEAD, PLAUSIBLE):
        path = clinic.root / one.place(pattern)
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            path.symlink_to(template_file())


def _spent(clinic: Clinic, version: int, *options: str) -> Spent:
    """Run `replay --try` and watch it."""
    command = [sys.executable, "-m", "aftersit.cli", "replay", "--protocol", "bench", "--try"]
    command += ["--version", str(version), "--clinic", str(clinic.root), *options]
    return spent_by(command)
