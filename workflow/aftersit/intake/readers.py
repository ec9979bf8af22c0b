"""Open each file format through mne, and keep what intake needs of it.

What comes out holds no patient field: names, birth dates and remarks of a file's
header are dropped here.
"""

import datetime as dt
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from aftersit.electrodes import read_label
from aftersit.intake.brainvision_filters import read_notches
from aftersit.intake.brainvision_header import check_header
from aftersit.intake.edf_clock import clock_problem
from aftersit.intake.edf_header import EdfHeader, EdfSignal, read_edf_header
from aftersit.intake.fif_whole import is_whole
from aftersit.intake.pauses import pause
from aftersit.intake.prefilter import Filters
from aftersit.intake.problems import EXPORT_AGAIN, EXPORT_WHOLE, Note, Problem, UploadError
from aftersit.intake.upload_files import UploadFiles

T = TypeVar("T")

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
    """A recording as the file has it.

    `signal` reads rows of it, in volts where `is_volt`; UploadError when they can't be read.
    """

    labels: tuple[str, ...]
    is_volt: tuple[bool, ...]
    filters: tuple[Filters, ...]
    rate_hz: float
    n_samples: int
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
        return _open_edf(files)
    if files.format == "BrainVision":
        return _open_brainvision(files)
    return _open_fif(files, time_zone)


def load_readers() -> None:
    """Import what reading takes, for processes that are forked from this one."""
    for name in ("brainvision.brainvision", "edf.edf", "fiff.raw"):
        import_module(f"mne.io.{name}")


def _read(reader: str, files: UploadFiles, **options: Any) -> Any:
    """Open through mne; the samples are read later."""
    import mne

    raw = _guarded(lambda: getattr(mne.io, reader)(files.head, verbose="ERROR", **options))
    own = {part.absolute() for part in files.recording}
    if not {Path(name).absolute() for name in raw.filenames} <= own:
        found = "it goes on in another file"
        raise UploadError(Problem("split", "recording", found, EXPORT_WHOLE))
    return raw


def _guarded(work: Callable[[], T]) -> T:
    """Whatever goes wrong in mne is a problem of the file."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return work()
    except MemoryError:
        raise
    except Exception as error:
        problem = Problem(
            "unreadable", "recording", f"reading it failed ({type(error).__name__})", EXPORT_AGAIN
        )
        raise UploadError(problem) from None


def _rows(raw: Any, rows: list[int]) -> np.ndarray:
    return _guarded(lambda: raw.get_data(picks=rows))


def _open_edf(files: UploadFiles) -> Source:
    path, header = files.head, read_edf_header(files.head)
    if header.kind != files.format:
        found = f"it is {header.kind} inside, but its name says {files.format}"
        todo = f"give it a name that ends in .{header.kind.lower()}"
        raise UploadError(Problem("wrong-ending", "recording", found, todo))
    kept, left_out = _at_one_rate(header)
    _check_gains(kept)
    broken_clock = clock_problem(path, header)
    if broken_clock:
        raise UploadError(broken_clock)
    raw = _read(
        f"read_raw_{header.kind.lower()}", files, exclude=sorted({s.label for s in left_out})
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
        raw.n_times,
        header.start,
        _annotations(raw),
        (note,) if left_out else (),
        lambda rows: _in_volts(_rows(raw, rows), [kept[row] for row in rows]),
    )


def _check_gains(signals: list[EdfSignal]) -> None:
    """An electrode whose physical limits are one value has no scale."""
    lost = [s.label for s in signals if s.step == 0 and read_label(s.label).kind == "EEG"]
    if lost:
        found = f"the physical limits are one and the same value for: {', '.join(lost[:4])}"
        raise UploadError(Problem("broken-header", "recording", found, EXPORT_AGAIN))


def _in_volts(read: np.ndarray, signals: list[EdfSignal]) -> np.ndarray:
    """What mne read, for units that it takes as they are (nV, `uv`) in volts; no copy."""
    factors = [VOLTS.get(s.unit.lower(), 1.0) / _KNOWN_TO_MNE.get(s.unit, 1.0) for s in signals]
    read *= np.array(factors)[:, np.newaxis]
    return read


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
    check_header(files)
    raw = _read("read_raw_brainvision", files)
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


def _open_fif(files: UploadFiles, time_zone: str) -> Source:
    from zoneinfo import ZoneInfo

    if not is_whole(files.head):
        raise UploadError(
            Problem(
                "truncated",
                "recording",
                "the file ends before its last part",
                "copy or export the file again, whole",
            )
        )
    raw = _read("read_raw_fif", files)
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
        raw.n_times,
        start,
        _annotations(raw),
        (),
        lambda rows: _rows(raw, rows),
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
