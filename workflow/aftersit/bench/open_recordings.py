"""The open recordings, where they are there: 19 electrodes in uV, and the header's filters.

Zyma et al. 2019, Data 4:14 (mental arithmetic, cleaned by its authors) and Schalk et
al. 2004, IEEE Trans Biomed Eng 51:1034 (eyes open, not cleaned), through PhysioNet.
"""

import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from aftersit.clean.carried import ChannelLimits
from aftersit.electrodes import STANDARD_19

OLD_NAMES = {"T3": "T7", "T4": "T8", "T5": "P7", "T6": "P8"}
RESIDUAL_MUSCLE = ("Subject01", "Subject02")
"""People whose cleaned files still hold muscle."""

LOOKED_AT_BAD = {
    "Subject00_2": ((1.0, 2.6),),  # T8 jumps
    "Subject01_1": (
        (128.9, 130.6),  # Pz and O1 swing by 100 uV
        (143.9, 147.0),  # T7 in spikes, Pz and O1 swing
        (166.4, 168.7),  # Pz, O1 and P7 swing
    ),
    "Subject01_2": (
        (7.2, 11.2),  # the back of the head swings, then C4 jumps
        (27.4, 29.3),  # Pz, P4 and O2 swing by 200 uV
        (29.3, 30.9),  # T7 in spikes, eyes
        (44.4, 47.6),  # all of the back swings by 300 uV
    ),
    "Subject02_1": (
        (112.4, 113.9),  # T7 jumps
        (126.0, 129.2),  # the head moves, with spikes
        (131.4, 134.6),  # O2 swings and jumps
        (171.5, 174.6),  # the head moves, with spikes
    ),
    "Subject03_1": (
        (4.3, 6.0),  # Pz and O1 jump
        (48.0, 55.6),  # Cz alone in waves of 60 uV, then all in spikes and jumps
        (65.9, 69.1),  # the back in spikes
        (131.3, 132.9),  # C4 jumps
        (169.4, 170.9),  # Fp1 jumps
    ),
}
"""Seconds that the authors' own cleaning left bad, looked at one by one (guards included)."""


@dataclass(frozen=True)
class OpenRecording:
    """One file.

    Attributes
    ----------
    name : str
    x : ndarray, shape (19, n_samples)
        uV, in the standard order, without the still end.
    rate_hz : float
    ecg : ndarray, shape (n_samples,) | None
        uV.
    limits : ChannelLimits
        Filters that the header names.
    cleaned : bool
        Whether its authors took components out.
    """

    name: str
    x: np.ndarray
    rate_hz: float
    ecg: np.ndarray | None
    limits: ChannelLimits
    cleaned: bool

    @property
    def mains_hz(self) -> float:
        """Of the country that it was made in."""
        return 50.0 if self.cleaned else 60.0

    def really_bad(self) -> np.ndarray:
        """Samples that were bad when looked at, shape (n_samples,)."""
        at_s = np.arange(self.x.shape[1]) / self.rate_hz
        spans = LOOKED_AT_BAD.get(self.name, ())
        return np.any([(a <= at_s) & (at_s < b) for a, b in spans], axis=0) | (at_s < 0)


def folder() -> Path:
    """Where the open recordings are looked for."""
    given = os.environ.get("AFTERSIT_OPEN_DATA")
    return Path(given) if given else Path(__file__).parents[4] / "shared" / "data"


@cache
def open_recordings() -> tuple[OpenRecording, ...]:
    """All of them, by name; none where the folder is not there."""
    files = sorted(folder().glob("mental-arithmetic/*.edf"))
    files += sorted(folder().glob("motor-imagery-baseline/*.edf"))
    return tuple(_read(path) for path in files)


def _read(path: Path) -> OpenRecording:
    import mne

    raw = mne.io.read_raw_edf(path, preload=True, verbose="ERROR")
    names = {_standard(label): label for label in raw.ch_names}
    x = raw.get_data(picks=[names[name] for name in STANDARD_19]) * 1e6
    hearts = [label for label in raw.ch_names if "ECG" in label]
    ecg = raw.get_data(picks=hearts)[0] * 1e6 if hearts else None
    rate_hz = float(raw.info["sfreq"])
    stop = x.shape[1] - _still_end(x, rate_hz)
    cleaned = path.parent.name == "mental-arithmetic"
    limits = ChannelLimits(0.5, 45.0, (50.0,)) if cleaned else ChannelLimits()
    heart = None if ecg is None else ecg[:stop]
    return OpenRecording(path.stem, x[:, :stop], rate_hz, heart, limits, cleaned)


def _standard(label: str) -> str:
    bare = label.removeprefix("EEG ").strip(".")
    by_upper = {name.upper(): name for name in STANDARD_19}
    return by_upper.get(OLD_NAMES.get(bare, bare).upper(), label)


def _still_end(x: np.ndarray, rate_hz: float) -> int:
    """Samples at the end in which next to nothing changes, in whole tenths of a second."""
    size = round(rate_hz / 10)
    changes = np.any(np.diff(x, axis=1, prepend=x[:, :1]) != 0, axis=0)
    busy = changes[: changes.size // size * size].reshape(-1, size).mean(axis=1) > 0.5
    return x.shape[1] - (int(np.flatnonzero(busy)[-1]) + 1) * size if busy.any() else x.shape[1]
