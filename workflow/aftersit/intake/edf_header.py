"""Headers of EDF, EDF+ and BDF files: what they say of signals and time, nothing of people."""

import datetime as dt
import re
from dataclasses import dataclass
from pathlib import Path

from aftersit.intake.prefilter import Filters, parse_prefilter
from aftersit.intake.problems import EXPORT_AGAIN, EXPORT_PARTS, Problem, UploadError
from aftersit.intake.text_damage import text_damage

_FIXED = 256
_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")


@dataclass(frozen=True)
class EdfSignal:
    """One signal's header fields."""

    label: str
    unit: str
    filters: Filters
    step: float
    samples_per_record: int

    @property
    def is_annotations(self) -> bool:
        return self.label in ("EDF Annotations", "BDF Annotations")


@dataclass(frozen=True)
class EdfHeader:
    """What intake needs of a header; `start` is local time, None when not stated."""

    kind: str
    start: dt.datetime | None
    records: int
    record_s: float
    signals: tuple[EdfSignal, ...]

    @property
    def duration_s(self) -> float:
        return self.records * self.record_s

    @property
    def sample_bytes(self) -> int:
        return 2 if self.kind == "EDF" else 3

    @property
    def header_bytes(self) -> int:
        return _FIXED * (1 + len(self.signals))

    @property
    def record_bytes(self) -> int:
        return self.sample_bytes * sum(s.samples_per_record for s in self.signals)

    def rate_hz(self, signal: EdfSignal) -> float:
        return signal.samples_per_record / self.record_s


def read_edf_header(path: Path) -> EdfHeader:
    """Read a header and check that the file is whole.

    Field offsets: EDF specification (https://www.edfplus.info/specs/edf.html);
    BDF differs in the first 8 bytes and in 3 bytes to a sample.

    Raises
    ------
    UploadError
        Not EDF or BDF, cut short or not closed, or with gaps (EDF+D).
    """
    with path.open("rb") as file:
        fixed = file.read(_FIXED)
        kind = {b"0       ": "EDF", b"\xffBIOSEMI": "BDF"}.get(fixed[:8])
        if kind is None or len(fixed) < _FIXED:
            raise _broken("it does not start like an EDF or BDF file")
        count = int(_whole(fixed[252:256], "number of signals"))
        if not 1 <= count <= 1024:
            raise _broken(f"the number of signals is {count}")
        rest = file.read(_FIXED * count)
    if len(rest) < _FIXED * count:
        raise _cut_short("the file ends inside its header")
    header = _parse(kind, fixed, rest, count)
    _check_whole(header, path)
    return header


def _parse(kind: str, fixed: bytes, rest: bytes, count: int) -> EdfHeader:
    if fixed[192:197] in (b"EDF+D", b"BDF+D"):
        raise UploadError(
            Problem(
                "discontinuous",
                "recording",
                "the file is marked as having gaps (EDF+D)",
                f"if it was paused, {EXPORT_PARTS}; "
                "if not, export it as one continuous recording (EDF or EDF+C)",
            )
        )
    if _whole(fixed[184:192], "length of the header") != _FIXED * (1 + count):
        raise _broken("the length of the header is not that of its signals")
    record_s = _decimal(fixed[244:252], "record duration")
    if record_s <= 0:
        raise _broken(f"the record duration is {record_s:g} s")
    return EdfHeader(
        kind,
        _start(fixed[168:176], fixed[176:184], fixed[88:168]),
        _whole(fixed[236:244], "number of records"),
        record_s,
        tuple(_signals(rest, count)),
    )


def _signals(rest: bytes, count: int) -> list[EdfSignal]:
    def column(start: int, width: int) -> list[bytes]:
        begin = start * count
        return [rest[begin + i * width : begin + (i + 1) * width] for i in range(count)]

    labels, units, prefilters = column(0, 16), column(96, 8), column(136, 80)
    limits = [
        [_decimal(field, "limits of a signal") for field in column(start, 8)]
        for start in (104, 112, 120, 128)
    ]
    samples = [_whole(field, "samples per record") for field in column(216, 8)]
    if min(samples) < 1:
        raise _broken(f"a signal has {min(samples)} samples in a record")
    signals = []
    for i, (low, high, digital_low, digital_high) in enumerate(zip(*limits, strict=True)):
        if digital_high <= digital_low:
            raise _broken(f"the digital limits of signal {i + 1} are out of order")
        step = abs(high - low) / (digital_high - digital_low)
        filters = parse_prefilter(_text(prefilters[i]))
        signals.append(EdfSignal(_text(labels[i]), _text(units[i]), filters, step, samples[i]))
    return signals


def _check_whole(header: EdfHeader, path: Path) -> None:
    """The size must be what the header says; a reader would pad or drop silently."""
    if header.records == -1:
        raise _cut_short("the file was never closed: its number of records is -1")
    size, expected = path.stat().st_size, header.header_bytes + header.records * header.record_bytes
    if size == expected:
        return
    damage = text_damage(path, expected)
    if damage:
        raise UploadError(damage)
    raise _cut_short(f"the file has {size} bytes; by its header it should have {expected}")


def _start(date: bytes, time: bytes, recording: bytes) -> dt.datetime | None:
    """Date and time; years by the specification's 1985-2084 rule, EDF+'s own field for others."""
    day, clock = _numbers(date), _numbers(time)
    if day is None:
        day = _start_date(_text(recording))
    else:
        day = (day[0], day[1], day[2] + (1900 if day[2] >= 85 else 2000))
    if day is None or day == (1, 1, 1985):  # the customary date of a file made anonymous
        return None
    try:
        return dt.datetime(day[2], day[1], day[0], *(clock or (0, 0, 0)))
    except ValueError:
        return None


def _numbers(field: bytes) -> tuple[int, int, int] | None:
    match = re.fullmatch(r"(\d{1,2})\D(\d{1,2})\D(\d{1,2})", _text(field))
    return tuple(int(x) for x in match.groups()) if match else None


def _start_date(recording: str) -> tuple[int, int, int] | None:
    match = re.match(r"Startdate (\d{2})-([A-Z]{3})-(\d{4})\b", recording)
    if not match or match[2] not in _MONTHS:
        return None
    return int(match[1]), _MONTHS.index(match[2]) + 1, int(match[3])


def _text(field: bytes) -> str:
    return field.decode("latin-1").rstrip(" \0").strip()


def _whole(field: bytes, what: str) -> int:
    text = _text(field)
    if not re.fullmatch(r"[-+]?\d{1,8}", text):
        raise _broken(f"the {what} is not a whole number")
    return int(text)


def _decimal(field: bytes, what: str) -> float:
    try:
        value = float(_text(field))
    except ValueError:
        raise _broken(f"the {what} can't be read as a number with a decimal point") from None
    if value - value != 0:
        raise _broken(f"the {what} is not a finite number")
    return value


def _broken(found: str) -> UploadError:
    return UploadError(Problem("broken-header", "recording", found, EXPORT_AGAIN))


def _cut_short(found: str) -> UploadError:
    return UploadError(
        Problem("truncated", "recording", found, "copy or export the file again, whole")
    )
