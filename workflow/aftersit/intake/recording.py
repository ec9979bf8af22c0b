"""A recording as every later stage wants it: 19 standard electrodes first, typed and checked."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.electrodes import STANDARD_19, Label, LabelProblem, Montage, read_labels
from aftersit.intake import signal_checks as checks
from aftersit.intake.prefilter import Filters
from aftersit.intake.problems import EXPORT_AGAIN, Note, Problem, UploadError
from aftersit.intake.readers import Annotation, Source, open_recording
from aftersit.intake.settings import IntakeSettings
from aftersit.intake.upload_files import UploadFiles


@dataclass(frozen=True)
class Channel:
    """One channel that is kept.

    `is_volt`: its signal is in volts, else as stored. `label` is what the file calls it;
    it may hold anything and is never written.
    """

    name: str
    kind: str
    is_volt: bool
    filters: Filters
    flat: bool = False
    label: str = ""


@dataclass(frozen=True)
class Recording:
    """A recording that can serve.

    `signal` has shape (n_channels, n_samples), the standard electrodes first
    and in standard order; `start` is local time, None when the file has none.
    """

    channels: tuple[Channel, ...]
    signal: np.ndarray
    rate_hz: float
    start: dt.datetime | None
    reference: str | None
    annotations: tuple[Annotation, ...]
    notes: tuple[Note, ...]

    @property
    def duration_s(self) -> float:
        return self.signal.shape[1] / self.rate_hz


def read_recording(files: UploadFiles, settings: IntakeSettings, time_zone: str) -> Recording:
    """Read a recording, name and type its channels, and check that it can serve.

    Raises
    ------
    UploadError
        All reasons why it can't.
    """
    source = open_recording(files, time_zone)
    montage = read_labels(source.labels, settings.min_electrodes)
    _raise(
        _label_problems(montage, settings)
        + _unit_problems(source, montage)
        + (
            _rate_problems(source, settings)
            or _length_problems(source.n_samples / source.rate_hz, settings)
        )
    )
    rows = _rows(montage)
    signal = source.signal([row for row, _ in rows])
    broken = checks.not_finite_problem(signal)
    _raise([broken] if broken else [])
    electrodes = signal[: len(montage.electrodes)]
    flat, notes = _check_signal(electrodes, montage.electrodes, source.rate_hz, settings)
    channels = tuple(
        Channel(
            name, _kind(label), source.is_volt[row], source.filters[row], name in flat, label.label
        )
        for (row, label), name in zip(rows, _unique_names(rows), strict=True)
    )
    return Recording(
        channels,
        signal,
        source.rate_hz,
        source.start,
        montage.reference,
        source.annotations,
        (*source.notes, *_label_notes(montage), *notes),
    )


def _raise(problems: Sequence[Problem]) -> None:
    if problems:
        raise UploadError(*problems)


def _rows(montage: Montage) -> list[tuple[int, Label]]:
    """Which rows of the file are kept: the 19 in standard order, then what is no electrode."""
    by_name = {c.name: (i, c) for i, c in enumerate(montage.channels) if c.kind == "EEG"}
    others = [(i, c) for i, c in enumerate(montage.channels) if c.kind != "EEG"]
    return [by_name[name] for name in montage.electrodes] + others


def _kind(label: Label) -> str:
    return "MISC" if label.kind == "EAR" else label.kind


def _unique_names(rows: list[tuple[int, Label]]) -> list[str]:
    """Names for the kept channels; labels that are not known may hold anything, so they go."""
    names, counts = [], {}
    for _, label in rows:
        known = label.kind in ("EEG", "EAR") or label.name in ("A1-A2", "A2-A1", "M1-M2", "M2-M1")
        if known:
            names.append(label.name)
            continue
        counts[label.kind] = counts.get(label.kind, 0) + 1
        names.append(f"{label.kind}{counts[label.kind]}")
    return names


def _label_problems(montage: Montage, settings: IntakeSettings) -> list[Problem]:
    problems = [_label_problem(problem) for problem in montage.problems]
    missing = [name for name in STANDARD_19 if name not in montage.electrodes]
    pairs = any(p.code == "bipolar" for p in montage.problems)
    if len(montage.electrodes) < settings.min_electrodes and not pairs:
        problems.append(_too_few(len(montage.electrodes), missing, "missing", settings))
    return problems


def _label_problem(problem: LabelProblem) -> Problem:
    found, todo = {
        "old-and-new-name": (
            "two channels have an old and a new name of the same place",
            "leave one of the two in the export",
        ),
        "electrode-twice": (
            "two channels have the same electrode name",
            "leave one of the two in the export",
        ),
        "bipolar": (
            "channels are differences between two scalp electrodes",
            "export the recording with one reference for all electrodes, not as a bipolar montage",
        ),
        "ear-by-side": (
            "the electrodes have a different ear reference on each side",
            "export the recording with one reference for all electrodes "
            "(linked ears, average or the recording reference)",
        ),
        "mixed-reference": (
            "some electrodes have another reference than the rest",
            "export the recording with one reference for all electrodes",
        ),
    }[problem.code]
    return Problem(problem.code, "channels", f"{found}: {_listed(problem.labels)}", todo)


def _listed(labels: Sequence[str]) -> str:
    """The first few labels; they are electrode names, so they may be repeated."""
    more = f" and {len(labels) - 4} more" if len(labels) > 4 else ""
    return ", ".join(labels[:4]) + more


def _too_few(count: int, lost: list[str], why: str, settings: IntakeSettings) -> Problem:
    return Problem(
        "too-few-electrodes",
        "channels",
        f"{count} of the 19 standard electrodes can be used ({why}: {', '.join(lost)}); "
        f"at least {settings.min_electrodes} are needed",
        "check that the export holds all electrodes under their 10-20 names",
    )


def _rate_problems(source: Source, settings: IntakeSettings) -> list[Problem]:
    low, high = settings.min_rate_hz, settings.max_rate_hz
    if low <= source.rate_hz <= high:
        return []
    found = f"{source.rate_hz:g} samples a second; allowed: {low:g} to {high:g}"
    return [Problem("rate", "recording", found, EXPORT_AGAIN)]


def _unit_problems(source: Source, montage: Montage) -> list[Problem]:
    """Electrodes whose unit is no voltage; a reader would take their numbers for volts."""
    rows = zip(montage.channels, source.is_volt, strict=True)
    labels = [c.label for c, is_volt in rows if c.kind == "EEG" and not is_volt]
    if not labels:
        return []
    found = f"no unit of voltage (µV, mV, V, nV) in the header for: {_listed(labels)}"
    return [Problem("unit-unknown", "channels", found, EXPORT_AGAIN)]


def _label_notes(montage: Montage) -> list[Note]:
    notes = []
    missing = [name for name in STANDARD_19 if name not in montage.electrodes]
    if missing:
        notes.append(Note("missing-electrodes", f"not in the file: {', '.join(missing)}"))
    further = sum(c.kind == "EEG" and c.name not in STANDARD_19 for c in montage.channels)
    if further:
        text = f"{further} electrodes beside the 19 standard ones were left out"
        notes.append(Note("further-electrodes", text))
    unknown = sum(c.kind == "MISC" for c in montage.channels)
    if unknown:
        notes.append(Note("other-channels", f"{unknown} channel(s) that are no single electrode"))
    return notes


def _check_signal(
    signal: np.ndarray, names: list[str], rate_hz: float, settings: IntakeSettings
) -> tuple[list[str], list[Note]]:
    """Flat electrodes and notes; signal has shape (n_electrodes, n_samples), in volts."""
    tail_s = checks.constant_tail_s(signal, rate_hz)
    _raise(_length_problems(signal.shape[1] / rate_hz - tail_s, settings))
    sd_v = checks.window_sd_v(signal, rate_hz)
    amplitude = checks.amplitude_problem(sd_v, settings) or checks.impossible_problem(signal)
    _raise([amplitude] if amplitude else [])
    flat = checks.flat_electrodes(names, sd_v, settings)
    alive = [name not in flat for name in names]
    if sum(alive) < settings.min_electrodes:
        raise UploadError(_too_few(sum(alive), flat, "flat", settings))
    notes = [checks.tail_note(signal, tail_s)] if tail_s >= settings.tail_s else []
    if flat:
        notes.append(Note("flat-electrodes", f"no signal in: {', '.join(flat)}"))
    end = signal.shape[1] - round(tail_s * rate_hz)
    body = [row[:end] for row, lives in zip(signal, alive, strict=True) if lives]
    still_s = checks.constant_seconds(body, rate_hz, settings.constant_s)
    return flat, notes + _still_notes([n for n in names if n not in flat], still_s)


def _length_problems(usable_s: float, settings: IntakeSettings) -> list[Problem]:
    low, high = settings.min_seconds, settings.max_seconds
    if low <= usable_s <= high:
        return []
    code = "too-short" if usable_s < low else "too-long"
    found = f"{usable_s:.1f} s of signal; allowed: {low:g} to {high:g} s"
    return [Problem(code, "recording", found, "check that this is the recording of the sitting")]


def _still_notes(names: list[str], still_s: np.ndarray) -> list[Note]:
    found = [f"{name} {s:.1f} s" for name, s in zip(names, still_s, strict=True) if s > 0]
    if len(found) == len(names) and still_s.max() - still_s.min() < 0.1:
        found = [f"all electrodes {still_s.max():.1f} s"]
    return [Note("constant-runs", f"one constant value in: {', '.join(found)}")] if found else []
