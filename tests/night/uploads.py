"""Tiny clinics and uploads for tests of the night."""

from pathlib import Path

import numpy as np
import yaml
from edfio import Edf, EdfSignal

from aftersit.electrodes import STANDARD_19

CLINIC = {
    "name": "Invented test clinic",
    "contact": {"who": "Front desk", "urgent": "Your local emergency number"},
    "mains_hz": 50,
    "time_zone": "Europe/Vienna",
}
PROTOCOL = {
    "name": "soft-alpha",
    "version": 1,
    "title": "Alpha",
    "purpose": "For tests.",
    "practices": ["quiet-rest"],
    "literature": "None.",
    "conditions": [
        {
            "name": "alpha",
            "where": {"region": "lateraloccipital"},
            "band_hz": [8, 13],
            "direction": "above",
            "threshold": {"absolute": 1.0},
        }
    ],
}
SHEET = {
    "client": "K07",
    "date": "2026-03-14",
    "practice": "quiet-rest",
    "protocol": "soft-alpha",
    "eyes": "closed",
    "blocks": [{"kind": "practice", "start": "00:00", "end": "01:10"}],
}


def make_clinic(root: Path) -> Path:
    """An empty clinic with one protocol."""
    (root / "inbox").mkdir(parents=True)
    (root / "clinic.yaml").write_text(yaml.safe_dump(CLINIC))
    (root / "protocols" / "soft-alpha").mkdir(parents=True)
    (root / "protocols" / "soft-alpha" / "v1.yaml").write_text(yaml.safe_dump(PROTOCOL))
    return root


def make_upload(folder: Path, seed: int, seconds: int = 70, **changes) -> Path:
    """An upload of smoothed noise of 15 uV or so; `changes` go into the sheet."""
    folder.mkdir(parents=True)
    rng = np.random.default_rng(seed)
    rate = 128
    noise = rng.standard_normal((len(STANDARD_19), seconds * rate + 8)).cumsum(axis=1)
    noise = 6 * (noise[:, 8:] - noise[:, :-8])
    signals = [
        EdfSignal(row, rate, label=f"EEG {name}", physical_dimension="uV")
        for name, row in zip(STANDARD_19, noise, strict=True)
    ]
    Edf(signals).write(folder / "sitting.edf")
    (folder / "sitting.yaml").write_text(yaml.safe_dump(SHEET | changes))
    return folder
