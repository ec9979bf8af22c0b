"""Everything in words that an uploaded recording says beside its samples."""

import datetime as dt
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from aftersit.intake.problems import UploadError
from aftersit.intake.readers import open_recording
from aftersit.intake.upload_files import UploadFiles, decoded

_FIXED = 256
_PERSON_TEXTS = ((8, 88), (88, 168))
"""Patient and recording field of an EDF header."""
_RESERVED = (192, 236)
_SIGNAL_TEXTS = ((0, 16), (16, 96), (96, 104), (136, 216), (224, 256))
"""Label, transducer, unit, filters and reserved field of an EDF signal, as byte ranges of the
fields' order (EDF specification, https://www.edfplus.info/specs/edf.html)."""
_PEOPLE_KEYS = {"subject_info", "experimenter"}


@dataclass(frozen=True)
class Item:
    """Something that a header says; `is_person`: of a person, so that each word may be a name."""

    value: str | dt.date
    is_person: bool = False


def header_items(files: UploadFiles) -> Iterator[Item]:
    """Texts and dates of a recording's header."""
    if files.format in ("EDF", "BDF"):
        yield from _edf(files.head)
    elif files.format == "BrainVision":
        for path in (p for p in files.recording if p.suffix.lower() in (".vhdr", ".vmrk")):
            yield from map(Item, decoded(path.read_bytes()).splitlines())
    else:
        yield from _fif(files.head)


def annotation_texts(files: UploadFiles, time_zone: str) -> list[str]:
    """Texts of a recording's annotations; none where it can't be read."""
    try:
        return sorted({a.text for a in open_recording(files, time_zone).annotations})
    except UploadError:
        return []


def start_of(files: UploadFiles, time_zone: str) -> dt.datetime | None:
    """When the recording says that it began."""
    try:
        return open_recording(files, time_zone).start
    except UploadError:
        return None


def _edf(path: Path) -> Iterator[Item]:
    with path.open("rb") as file:
        fixed = file.read(_FIXED)
        digits = fixed[252:256].strip()
        count = int(digits) if digits.isdigit() else 0
        rest = file.read(_FIXED * count)
    for first, last in _PERSON_TEXTS:
        yield Item(_text(fixed[first:last]), is_person=True)
    yield Item(_text(fixed[slice(*_RESERVED)]))
    for first, last in _SIGNAL_TEXTS:
        width, start = last - first, first * count
        yield from (Item(_text(rest[start + i * width :][:width])) for i in range(count))


def _text(field: bytes) -> str:
    return field.decode("latin-1").replace("_", " ").strip()


def _fif(path: Path) -> Iterator[Item]:
    import mne

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            info = mne.io.read_info(path, verbose="ERROR")
        except Exception:
            return
    for key, value in info.items():
        yield from (Item(leaf, key in _PEOPLE_KEYS) for leaf in _leaves(value))


def _leaves(value: object) -> Iterator[str | dt.date]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from _leaves(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _leaves(inner)
    elif isinstance(value, dt.datetime):
        yield value.date()
    elif isinstance(value, str | dt.date):
        yield value
