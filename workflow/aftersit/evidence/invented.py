"""Small invented recordings as bytes, written by another library, for checks and tests."""

import datetime as dt

import edfio
import numpy as np

from aftersit.electrodes import STANDARD_19

RATE = 128
SECONDS = 64
START = dt.datetime(2026, 3, 14, 17, 5, 9)


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


def patched(data: bytes, offset: int, field: bytes) -> bytes:
    """The same bytes with a field written over."""
    return data[:offset] + field + data[offset + len(field) :]
