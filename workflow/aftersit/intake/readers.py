"""Open each file format through mne, and keep what intake needs of it.

What comes out holds no patient field: names, birth dates and remarks of a file's
header are dropped here.
"""

import datetime as dt
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from aftersit.electrodes import read_label
from aftersit.intake.brainvision_filters import read_notches
from aftersit.intake.edf_header import EdfHeader, EdfSignal, read_edf_header
from aftersit.intake.pauses import pause
from aftersit.intake.prefilter import Filters
from aftersit.intake.problems import EXPORT_AGAIN, Note, Problem, UploadError
from aftersit.intake.upload_files import UploadFiles

VOLTS = {"v": 1.0, "mv": 1e-3, "uv": 1e-6, "µv": 1e-6, "μv": 1e-6, "\x83\xcav": 1e-6, "nv": 1e-9}
"""Volts per unit, by the unit's name in lower case; micro in three encodings."""

_KNOWN_TO_MNE = {"uV": 1e-6, "µV": 1e-6, "μV": 1e-6, "\x83\xcaV": 1e-6, "mV": 1e-3}


@dataclass(frozen=True)
class Annotation:
    """A marker of the recording; seconds from the first sample."""

    onset_s: float
    duration_s: float
    text: str


@dataclass(frozen=True)
class Source:
    """A recording as the file has it. `signal` gives rows of it, in volts where `is_volt`."""

    labels: tuple[str, ...]
    is_volt: tuple[bool, ...]
    filters: tuple[Filters, ...]
    rate_hz: float
    start: dt.datetime | None
    annotations: tuple[Annotation, ...]
    notes: tuple[Note, ...]
    signal: Callable[[list[int]], np.ndarray]


def open_recording(files: UploadFiles, time_zone: str) -> Source:
    """Open a recording of any format that is taken.

    Parameters
    ----------
    files : UploadFiles
        What `find_files` found.
    time_zone : str
        The clinic's; FIF files store the time in UTC, the others local time.

    Raises
    ------
    UploadError
        The file can't be read, or the recording was paused.
    """
    if files.format in ("EDF", "BDF"):
        return _open_edf(files.head)
    if files.format == "BrainVision":
        return _open_brainvision(files)
    return _open_fif(files.head, time_zone)


def _read(reader: str, path: Path, **options: Any) -> Any:
    """Read through mne; whatever goes wrong in it is a problem of the file."""
    import mne

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return getattr(mne.io, reader)(path, preload=True, verbose="ERROR", **options)
    except MemoryError:
        raise
    except Exception as error:
        problem = Problem(
            "unreadable", "recording", f"reading it failed ({type(error).__name__})", EXPORT_AGAIN
        )
        raise UploadError(problem) from None


def _open_edf(path: Path) -> Source:
    header = read_edf_header(path)
    kept, left_out = _at_one_rate(header)
    raw = _read(
        f"read_raw_{header.kind.lower()}", path, exclude=sorted({s.label for s in left_out})
    )
    if len(raw.ch_names) != len(kept):
        found = "labels of signals with different rates are the same"
        raise UploadError(Problem("unreadable", "recording", found, EXPORT_AGAIN))
    note = Note("other-rate", f"{len(left_out)} channel(s) with another rate were left out")
    return Source(
        tuple(s.label for s in kept),
        tuple(s.unit.lower() in VOLTS for s in kept),
        tuple(s.filters for s in kept),
        float(raw.info["sfreq"]),
        header.start,
        _annotations(raw),
        (note,) if left_out else (),
        lambda rows: raw.get_data(picks=rows) * _to_volts([kept[row] for row in rows]),
    )


def _to_volts(signals: list[EdfSignal]) -> np.ndarray:
    """Factors, shape (n_signals, 1), for units that mne takes as they are (nV, `uv`)."""
    factors = [VOLTS.get(s.unit.lower(), 1.0) / _KNOWN_TO_MNE.get(s.unit, 1.0) for s in signals]
    return np.array(factors)[:, np.newaxis]


def _at_one_rate(header: EdfHeader) -> tuple[list[EdfSignal], list[EdfSignal]]:
    """Signals at the electrodes' rate, and the others."""
    signals = [s for s in header.signals if not s.is_annotations]
    electrodes = [s for s in signals if read_label(s.label).kind == "EEG"]
    rates = sorted({header.rate_hz(s) for s in electrodes})
    if len(rates) > 1:
        found = "the electrodes have different rates: " + ", ".join(f"{r:g} Hz" for r in rates)
        raise UploadError(Problem("mixed-rates", "recording", found, EXPORT_AGAIN))
    kept = [s for s in signals if not rates or header.rate_hz(s) == rates[0]]
    return kept, [s for s in signals if s not in kept]


def _open_brainvision(files: UploadFiles) -> Source:
    raw = _read("read_raw_brainvision", files.head)
    notches = read_notches(files.head, raw.ch_names)
    stated = _stated_filters(raw)
    filters = [
        Filters(stated.highpass_hz, stated.lowpass_hz, notches.get(name, ()))
        for name in raw.ch_names
    ]
    start = raw.info["meas_date"]
    source = _from_raw(raw, filters, start.replace(tzinfo=None) if start else None)
    return replace(source, annotations=_as_recorded(source))


def _as_recorded(source: Source) -> tuple[Annotation, ...]:
    """Markers as the recorder shows them.

    mne writes `Type/description`; a marker of one sample has no length, and one
    without a description (the start of a segment) says nothing.
    """
    return tuple(
        Annotation(
            a.onset_s,
            a.duration_s if a.duration_s > 1.5 / source.rate_hz else 0.0,
            a.text.partition("/")[2].strip(),
        )
        for a in source.annotations
        if a.text.partition("/")[2].strip()
    )


def _open_fif(path: Path, time_zone: str) -> Source:
    from zoneinfo import ZoneInfo

    raw = _read("read_raw_fif", path)
    start = raw.info["meas_date"]
    local = start.astimezone(ZoneInfo(time_zone)).replace(tzinfo=None) if start else None
    return _from_raw(raw, [_stated_filters(raw)] * len(raw.ch_names), local)


def _from_raw(raw: Any, filters: list[Filters], start: dt.datetime | None) -> Source:
    from mne.io.constants import FIFF

    return Source(
        tuple(raw.ch_names),
        tuple(int(ch["unit"]) == FIFF.FIFF_UNIT_V for ch in raw.info["chs"]),
        tuple(filters),
        float(raw.info["sfreq"]),
        start,
        _annotations(raw),
        (),
        lambda rows: raw.get_data(picks=rows),
    )


def _stated_filters(raw: Any) -> Filters:
    """What mne found in the file; 0 Hz and half the rate are its words for 'not stated'."""
    high, low = float(raw.info["highpass"]), float(raw.info["lowpass"])
    nyquist = raw.info["sfreq"] / 2
    return Filters(high if high > 0 else None, low if 0 < low < nyquist * (1 - 1e-6) else None)


def _annotations(raw: Any) -> tuple[Annotation, ...]:
    """Markers from the first sample; mne counts from the start of the measurement.

    UploadError where one of them says that the recording was paused.
    """
    shift = raw.first_time if raw.annotations.orig_time is not None else 0.0
    rows = zip(
        raw.annotations.onset, raw.annotations.duration, raw.annotations.description, strict=True
    )
    found = [
        Annotation(round(float(onset - shift), 6), round(float(duration), 6), str(text).strip())
        for onset, duration, text in rows
    ]
    marks = ((a.onset_s, a.duration_s, a.text) for a in found)
    problem = pause(marks, raw.info["sfreq"], raw.n_times / raw.info["sfreq"])
    if problem:
        raise UploadError(problem)
    return tuple(sorted(found, key=lambda a: (a.onset_s, a.duration_s, a.text)))
