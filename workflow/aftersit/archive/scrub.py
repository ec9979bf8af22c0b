"""Scrubbing: what of each file may travel. All that is not on a list here stays behind.

Files are made anew from what is allowed, so that a new field can't slip through. Each
place that is scrubbed has a name; tests switch each off to see that the scan of the
finished bag finds what then travels.
"""

import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from aftersit.electrodes import ten_ten

PLACES = (
    "file-names",
    "header-names",
    "header-comments",
    "header-keys",
    "header-channels",
    "markers",
    "signal-tail",
    "sidecar-keys",
    "sidecar-values",
    "table-columns",
    "table-cells",
    "other-files",
    "scans-dates",
    "record-client",
    "record-keys",
    "array-members",
    "protocol-texts",
)
"""Names of the places."""

_KEPT_HEADER_KEYS = {
    *("Codepage", "DataFile", "MarkerFile", "DataFormat", "DataOrientation"),
    *("NumberOfChannels", "SamplingInterval", "BinaryFormat"),
}
_CHANNEL = re.compile(r"(Ch\d+)=([^,]*),[^,]*,([^,]*),([^,]*).*")
_UNITS = {"µV", "n/a", "", "V", "C", "AU"}


@dataclass(frozen=True)
class Scrub:
    """Which places are scrubbed: all, but for tests."""

    off: frozenset[str] = frozenset()

    def does(self, place: str) -> bool:
        """Whether a place is scrubbed."""
        if place not in PLACES:
            raise KeyError(place)
        return place not in self.off


def header(text: str, stem: str, scrub: Scrub) -> str:
    """A BrainVision header: the keys that a reader needs, channels, and nothing in words.

    Parameters
    ----------
    text : str
        The header as it stands.
    stem : str
        Name of the files in the bag, without ending.
    scrub : Scrub
    """
    lines, section = ["Brain Vision Data Exchange Header File Version 1.0"], ""
    for line in text.splitlines()[1:]:
        section = line if line.startswith("[") else section
        kept = _header_line(line, section, stem, scrub)
        lines += [] if kept is None else [kept]
    return "\n".join(lines) + "\n"


def _header_line(line: str, section: str, stem: str, scrub: Scrub) -> str | None:
    if section == "[Comment]" or line.startswith(";") or not line.strip():
        return None if scrub.does("header-comments") else line
    key = line.partition("=")[0]
    if key in ("DataFile", "MarkerFile") and scrub.does("header-names"):
        return f"{key}={stem}{'.eeg' if key == 'DataFile' else '.vmrk'}"
    if section == "[Channel Infos]" and (found := _CHANNEL.fullmatch(line)):
        return _channel_line(found, line, scrub)
    known = line.startswith("[") or key in _KEPT_HEADER_KEYS
    return line if known or not scrub.does("header-keys") else None


def _channel_line(found: re.Match, line: str, scrub: Scrub) -> str:
    number, name, resolution, unit = found.groups()
    if not scrub.does("header-channels"):
        return line
    name = name if CHANNEL.fullmatch(name) else f"MISC{number[2:]}"
    return f"{number}={name},,{resolution},{unit if unit in _UNITS else ''}"


def markers(text: str, stem: str, scrub: Scrub) -> str:
    """A BrainVision marker file: the first segment alone, without a date."""
    if not scrub.does("markers"):
        return re.sub(r"(?m)^DataFile=.*$", f"DataFile={stem}.eeg", text)
    return (
        "Brain Vision Data Exchange Marker File, Version 1.0\n\n[Common Infos]\nCodepage=UTF-8\n"
        f"DataFile={stem}.eeg\n\n[Marker Infos]\nMk1=New Segment,,1,1,0\n"
    )


def sidecar(
    text: str,
    kept: Mapping[str, Callable[[object], bool]],
    scrub: Scrub,
) -> dict:
    """Keys of a JSON file that may travel, where their value is what it may be.

    Parameters
    ----------
    kept : mapping
        Key -> whether a value is allowed; others are dropped.
    """
    found = json.loads(text)
    if scrub.does("sidecar-keys"):
        found = {key: value for key, value in found.items() if key in kept}
    if scrub.does("sidecar-values"):
        found = {k: v for k, v in found.items() if k not in kept or kept[k](v)}
    return found


def table(text: str, columns: Mapping[str, re.Pattern], scrub: Scrub) -> str:
    """Columns of a table that may travel; a cell that is not what it may be becomes `n/a`.

    Parameters
    ----------
    columns : mapping
        Name of a column -> what its cells match; columns that are not there are passed over.
    """
    lines = [line.split("\t") for line in text.splitlines()]
    kept = []
    for name, *cells in zip(*lines, strict=True):
        if name in columns or not scrub.does("table-columns"):
            kept.append([name, *_cells(cells, columns.get(name), scrub)])
    return "".join("\t".join(row) + "\n" for row in zip(*kept, strict=True))


def _cells(cells: list[str], allowed: re.Pattern | None, scrub: Scrub) -> list[str]:
    if allowed is None or not scrub.does("table-cells"):
        return cells
    found = set(cells)
    if allowed is NUMBER and _are_numbers(found - {"n/a"}):
        return cells
    bad = {cell for cell in found if not allowed.fullmatch(cell)}
    return ["n/a" if cell in bad else cell for cell in cells] if bad else cells


def _are_numbers(cells: set[str]) -> bool:
    """The same as the pattern `NUMBER` for all at once, and ten times as fast."""
    if not set("".join(cells)) <= _NUMBER_LETTERS:
        return False
    try:
        return all(map(math.isfinite, map(float, cells)))
    except ValueError:
        return False


def signal_bytes(channels: int, sample_bytes: int, size: int, scrub: Scrub) -> int:
    """How many bytes of a signal file travel: whole samples of all channels."""
    whole = channels * sample_bytes
    return size // whole * whole if scrub.does("signal-tail") else size


def words(*allowed: str) -> re.Pattern:
    """A pattern for one of these words, or `n/a`."""
    return re.compile("|".join(map(re.escape, (*allowed, "n/a"))))


def is_number(value: object) -> bool:
    """A number, and no truth value."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def one_of(allowed: Sequence[str]) -> Callable[[object], bool]:
    """Whether a value is one of these texts."""
    return lambda value: value in allowed


_NUMBER_LETTERS = set("0123456789.eE+-")
NUMBER = re.compile(r"-?\d+(\.\d+)?([eE][-+]?\d+)?|n/a")
CHANNEL = re.compile(
    "|".join(sorted(ten_ten())) + r"|[AM][12](-[AM][12])?|(ECG|EOG|EMG|TRIG|MISC)\d{1,3}"
)
"""Names that channels get here; a recorder's own labels may hold anything."""
NAME = re.compile(r"[a-z][a-z0-9-]{0,39}|n/a")
