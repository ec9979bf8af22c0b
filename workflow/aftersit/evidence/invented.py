"""Small invented recordings as bytes, written by another library, for checks and tests."""

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import edfio
import numpy as np

from aftersit.clinic import ClinicSettings
from aftersit.electrodes import STANDARD_19

RATE = 128
SECONDS = 64
START = dt.datetime(2026, 3, 14, 17, 5, 9)
CLINIC_SETTINGS = ClinicSettings(
    name="Invented clinic",
    contact={"who": "Front desk", "urgent": "Your local emergency number"},
    mains_hz=50,
    time_zone="Europe/Vienna",
    annotations={"practising": "practice", "pausing": "break"},
    reward_annotation="tone on",
)
SHEET = {
    "client": "K07",
    "date": "2026-03-14",
    "practice": "loving-kindness",
    "protocol": "soft-alpha",
    "eyes": "closed",
    "blocks": [
        {"kind": "baseline", "start": "0:02", "end": "0:20", "eyes": "open"},
        {"kind": "practice", "start": "0:20", "end": "1:04"},
    ],
}


def eeg_uv(channels: int = 19, seconds: float = SECONDS, rate: float = RATE) -> np.ndarray:
    """Noise of 12 µV with an offset of its own in each channel; shape (channels, samples)."""
    noise = np.random.default_rng(11).normal(0, 12, (channels, round(seconds * rate)))
    return np.round(noise + np.arange(channels)[:, None] * 3.7, 2)


def edf_bytes(
    labels=STANDARD_19,
    data=None,
    *,
    rate=RATE,
    unit="uV",
    prefilter="HP:0.3Hz LP:40Hz N:50Hz",
    annotations=(),
    patient=None,
    start=START,
    bdf=False,
    limit=3276.7,
) -> bytes:
    """An EDF+ (or BDF) file; `annotations` are (onset, duration or None, text)."""
    data = eeg_uv(len(labels)) if data is None else data
    signal = edfio.BdfSignal if bdf else edfio.EdfSignal
    file = edfio.Bdf if bdf else edfio.Edf
    signals = [
        signal(
            row,
            rate,
            label=label,
            physical_dimension=unit,
            physical_range=(-limit, limit),
            prefiltering=prefilter,
        )
        for label, row in zip(labels, data, strict=True)
    ]
    recording = edfio.Recording(startdate=start.date()) if start else edfio.Recording()
    made = file(
        signals,
        patient=patient,
        recording=recording,
        starttime=start.time() if start else None,
        annotations=[edfio.EdfAnnotation(*a) for a in annotations],
    )
    return made.to_bytes()


def write_signal(path: Path, samples_v: np.ndarray, names: Sequence[str], rate_hz: float) -> None:
    """BrainVision as stages leave it (float32, microvolts), under a header's path.

    Parameters
    ----------
    path : Path
        Of the `.vhdr`; its folder is made.
    samples_v : ndarray, shape (n_channels, n_samples)
        Volts.
    names : sequence of str
    rate_hz : float
    """
    import pybv

    path.parent.mkdir(parents=True, exist_ok=True)
    pybv.write_brainvision(
        data=samples_v,
        sfreq=rate_hz,
        ch_names=list(names),
        fname_base=path.stem,
        folder_out=path.parent,
        fmt="binary_float32",
        unit="µV",
    )


def patched(data: bytes, offset: int, field: bytes) -> bytes:
    """The same bytes with a field written over."""
    return data[:offset] + field + data[offset + len(field) :]
