"""Clinics with simulated uploads, for whole nights in the bench."""

import datetime as dt
import hashlib
import shutil
from pathlib import Path

import numpy as np
import yaml

from aftersit.algorithms import current, label_of
from aftersit.bench.case import Case, Tension
from aftersit.bench.heads import FOLDER, LABEL, template_file, template_head
from aftersit.bench.replay_cost import blocks_of
from aftersit.bench.sittings import simulate
from aftersit.clinic import Clinic
from aftersit.electrodes import STANDARD_19
from aftersit.head.plausible import draw_heads, save_plausible
from aftersit.night.layout import HEAD, PLAUSIBLE
from aftersit.settings import load_settings
from demo_clinic.make import PROTOCOLS
from demo_clinic.sources import Sources

SEED = 70100
RATE_HZ = 256.0
PROTOCOL = "steady-focus"
FIRST = dt.date(2026, 1, 5)
_RANGE_UV = (-3276.8, 3276.7)
CLINIC = {
    "name": "Bench (invented)",
    "contact": {"who": "Nobody", "urgent": "Nobody"},
    "mains_hz": 50,
    "time_zone": "Europe/Vienna",
}


def make_clinic(root: Path) -> Clinic:
    """A clinic with protocols and models, and nothing else."""
    clinic = Clinic(root)
    clinic.inbox.mkdir(parents=True)
    clinic.settings_file.write_text(yaml.safe_dump(CLINIC))
    shutil.copytree(PROTOCOLS, clinic.protocols)
    label = label_of(LABEL, current())
    template_head()
    for pattern, made in ((HEAD, template_file()), (PLAUSIBLE, plausible_file())):
        path = root / pattern.format(settings=label)
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(made, path)
    return clinic


def plausible_file() -> Path:
    """Heads that a client's could be, drawn once and kept under `bench/`."""
    settings = load_settings(LABEL)
    facts = f"{template_file().name} {settings.head!r} {settings.seed}"
    path = FOLDER / f"plausible-{hashlib.sha256(facts.encode()).hexdigest()[:12]}.npz"
    if not path.exists():
        save_plausible(draw_heads(template_head(), settings.head, settings.seed), path)
    return path


def signal_uv(number: int, minutes: float, rate_hz: float = RATE_HZ) -> np.ndarray:
    """A sitting with eyes, heart, mains, drift and muscle; shape (19, n_samples)."""
    tensions = (Tension(5.0, spans=((0.4 * minutes * 60, 0.5 * minutes * 60),)),)
    case = Case.drawn(SEED + number, minutes=minutes, rate_hz=rate_hz, tensions=tensions)
    return simulate(case, Sources.of_head(template_head())).signal_uv


def add_upload(clinic: Clinic, number: int, minutes: float, signal: np.ndarray) -> Path:
    """Put an upload into the inbox, ten sittings to a client; returns its recording."""
    client, own = divmod(number, 10)
    folder = clinic.inbox / f"upload-{number}"
    folder.mkdir()
    sheet = {
        "client": f"N{client:03d}",
        "date": (FIRST + dt.timedelta(days=7 * own)).isoformat(),
        "practice": "focused-attention",
        "protocol": PROTOCOL,
        "eyes": "closed",
        "blocks": [
            {"kind": b.kind.value, "start": round(b.start_s, 1), "end": round(b.stop_s, 1)}
            for b in blocks_of(minutes)
        ],
    }
    (folder / "sitting.yaml").write_text(yaml.safe_dump(sheet))
    path = folder / "recording.edf"
    write_edf(path, signal, signal.shape[1] / (minutes * 60))
    return path


def write_edf(path: Path, signal: np.ndarray, rate_hz: float) -> None:
    """Write the 19 electrodes, in steps of 0.1 uV."""
    from edfio import Edf, EdfSignal

    signals = [
        EdfSignal(
            np.clip(row, *_RANGE_UV),
            rate_hz,
            label=name,
            physical_dimension="uV",
            physical_range=_RANGE_UV,
            digital_range=(-32768, 32767),
        )
        for name, row in zip(STANDARD_19, signal, strict=True)
    ]
    Edf(signals).write(path)
