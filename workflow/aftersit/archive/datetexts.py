"""Dates and times in text, in the many ways in which people and recorders write them."""

import datetime as dt
import re
from collections.abc import Iterable, Iterator

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAMES = {name: number for number, name in enumerate(_MONTHS, 1)} | {
    "mai": 5,
    "okt": 10,
    "dez": 12,
    "maerz": 3,
    "marz": 3,
}
_MONTH = r"([a-z]{3,9})"
_YMD = re.compile(r"(?<!\d)(?<!\d\.)(\d{4})([-./ ])(\d{1,2})\2(\d{1,2})(?!\d)")
_DMY = re.compile(r"(?<!\d)(?<!\d\.)(\d{1,2})([-./ ])(\d{1,2})\2(\d{4}|\d{2})(?!\d)(?!\.\d)")
_NAMED_DMY = re.compile(
    rf"(?<!\d)(\d{{1,2}})(?:st|nd|rd|th)?[-./ ]+(?:of )?{_MONTH}[-., ]+(\d{{4}}|\d\d)(?!\d)"
)
_NAMED_MDY = re.compile(rf"{_MONTH}[-. ]+(\d{{1,2}})(?:st|nd|rd|th)?[, ]+(\d{{4}})(?!\d)")
_COMPACT = re.compile(r"(?<![\d.])(\d{4})(\d{2})(\d{2})(?=\D|\d{6}|$)")
_COMPACT_DMY = re.compile(r"(?<![\d.])(\d{2})(\d{2})((?:19|20)\d{2})(?!\d)")
_TIME = re.compile(r"(?<![\d:.])(\d{1,2}):(\d{2}):(\d{2})(?![\d:])( ?pm\b)?")


def dates_of(folded: str) -> Iterator[dt.date]:
    """Every date that a text may mean; day and month are tried both ways round."""
    text = folded.lower()
    for year, _, month, day in _YMD.findall(text):
        yield from _dates([(year, month, day)])
    for one, _, two, year in _DMY.findall(text):
        yield from _dates([(year, two, one), (year, one, two)])
    for day, name, year in _NAMED_DMY.findall(text):
        yield from _dates([(year, _month(name), day)])
    for name, day, year in _NAMED_MDY.findall(text):
        yield from _dates([(year, _month(name), day)])
    yield from _dates(_COMPACT.findall(text))
    for one, two, year in _COMPACT_DMY.findall(text):
        yield from _dates([(year, two, one), (year, one, two)])


def _month(name: str) -> str:
    return str(_NAMES.get(name, _NAMES.get(name[:3], 0)))


def _dates(parts: Iterable[tuple[str, str, str]]) -> Iterator[dt.date]:
    for year, month, day in parts:
        # Two digits mean this century or the last.
        centuries = ("19", "20") if len(year) == 2 else ("",)
        for century in centuries:
            try:
                yield dt.date(int(century + year), int(month), int(day))
            except ValueError:
                continue


def times_of(folded: str) -> set[dt.time]:
    """Times of day with seconds, of 24 or of 12 hours."""
    found = set()
    for hour, minute, second, later in _TIME.findall(folded):
        hours = int(hour) + (12 if later and int(hour) < 12 else 0)
        if hours < 24 and int(minute) < 60 and int(second) < 60:
            found.add(dt.time(hours, int(minute), int(second)))
    return found


def written(date: dt.date) -> list[str]:
    """A date as it may stand in bytes that are no text."""
    month = _MONTHS[date.month - 1]
    named = f"{date.day:02d}-{month}-{date.year}"
    return [
        date.isoformat(),
        date.strftime("%Y%m%d"),
        date.strftime("%d.%m.%Y"),
        date.strftime("%d.%m.%y"),
        date.strftime("%d/%m/%Y"),
        date.strftime("%m/%d/%Y"),
        named,
        named.upper(),
        named.title(),
    ]
