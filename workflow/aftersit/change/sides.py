"""What `compare` takes for A and B, and the records that each stands for."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from aftersit.algorithms import current, split_label
from aftersit.change.made_from import read_made_from
from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.nearest import there_is_no
from aftersit.night.kept_settings import settings_file
from aftersit.night.layout import REPLAY
from aftersit.night.ledger import Entry
from aftersit.patterns import NAME_PATTERN
from aftersit.protocol import versions
from aftersit.record import Record

_NAME = NAME_PATTERN.strip("^$")
_SIDE = re.compile(rf"(?:(?P<label>[a-z0-9]+(?:\.\d+)?):)?(?P<name>{_NAME})/v(?P<version>\d+)")
_LABEL = re.compile(r"[a-z0-9]+(?:\.\d+)?")

_SHEET = ("sheet facts", "blocks")
"""Roles that hold what a record took from its sheet."""


@dataclass(frozen=True)
class Side:
    """A or B: a protocol version, a label of settings and algorithms, or both.

    Without a label each sitting's own in force is meant; without a protocol each of its
    own, in the versions in force.
    """

    text: str
    label: str | None = None
    protocol: str | None = None
    version: int | None = None

    @classmethod
    def parse(cls, text: str) -> "Side":
        """Read `warm-heart/v2`, `s1`, `s1.2` or `s2:warm-heart/v2`.

        Raises
        ------
        AftersitError
            Anything else.
        """
        if found := _SIDE.fullmatch(text):
            return cls(text, found["label"], found["name"], int(found["version"]))
        if _LABEL.fullmatch(text):
            return cls(text, label=text)
        raise AftersitError(
            f"'{text}' is nothing to compare; write PROTOCOL/vN (as warm-heart/v2), a settings "
            "version (as s1, or s1.2 with algorithms 2), or both as s2:warm-heart/v2"
        )

    def folders(self, entry: Entry) -> dict[str, str]:
        """Protocol of a sitting -> where its results on this side lie, from the clinic's folder."""
        label = self.label or entry.settings
        wanted = {self.protocol: self.version} if self.protocol else entry.protocols
        place = {"client": entry.client, "sitting": entry.sitting.label, "settings": label}
        return {
            name: REPLAY.format(**place, protocol=name, version=version)
            for name, version in sorted(wanted.items())
        }

    def check(self, clinic: Clinic) -> None:
        """AftersitError when the clinic has no such settings, protocol or version of it."""
        if self.label:
            settings_file(clinic, self.label)
            if self.algorithms > current():
                raise AftersitError(
                    f"{self.text}: this program has algorithms up to {current()} only"
                )
        if self.protocol is None:
            return
        both = (clinic.protocols, clinic.kept_protocols)
        names = {p.name for folder in both for p in folder.glob("*") if p.is_dir()}
        known = {v for folder in both for v in versions(folder, self.protocol)}
        if not known:
            raise AftersitError(there_is_no("protocol", self.protocol, names))
        if self.version not in known:
            listed = ", ".join(f"v{v}" for v in sorted(known))
            raise AftersitError(
                f"protocol {self.protocol} has no version {self.version}; there are: {listed}"
            )

    @property
    def algorithms(self) -> int | None:
        """Version of the algorithms, where a label says it."""
        return split_label(self.label)[1] if self.label else None


@dataclass(frozen=True)
class Pair:
    """One sitting's records on both sides."""

    sitting: SittingId
    entry: Entry
    a: Record
    b: Record
    folders: tuple[Path, Path]


@dataclass(frozen=True)
class Pairs:
    """All sittings that have both, and how many have one only.

    `other_sheet` counts those whose two records are not known to rest on the same sheet.
    """

    pairs: tuple[Pair, ...]
    only_a: int
    only_b: int
    other_sheet: int


def read_pairs(clinic: Clinic, entries: Sequence[Entry], a: Side, b: Side) -> Pairs:
    """Read the records of both sides.

    Two different protocols are paired sitting by sitting; else each protocol with itself.

    Raises
    ------
    AftersitError
        No sitting has both, or a record is not what was written.
    """
    pairs, only, other_sheet = [], [0, 0], 0
    for entry in entries:
        for one, two in _together(a.folders(entry), b.folders(entry)):
            folders = clinic.root / one, clinic.root / two
            there = [(folder / "record.json").is_file() for folder in folders]
            if all(there) and not _of_one_sheet(*folders):
                other_sheet += 1
            elif all(there):
                pairs.append(Pair(entry.sitting, entry, *map(_record, folders), folders))
            elif any(there):
                only[there.index(False) ^ 1] += 1
    if not pairs:
        raise _nothing_to_compare(a, b, other_sheet)
    _check_untouched(clinic, pairs)
    return Pairs(tuple(pairs), *only, other_sheet)


def _check_untouched(clinic: Clinic, pairs: Sequence[Pair]) -> None:
    """Refuse figures that nobody computed; a comparison is what a clinic decides by."""
    edited = [
        f"{pair.sitting} under {record.protocol.name} v{record.protocol.version}"
        for pair in pairs
        for record, folder in zip((pair.a, pair.b), pair.folders, strict=True)
        if not read_made_from(folder).results_stand(clinic.root, ("record.json",))
    ]
    if edited:
        shown = ", ".join(edited[:3]) + (f" and {len(edited) - 3} more" if edited[3:] else "")
        raise AftersitError(
            f"records are not as they were written: {shown}; `replay --try` for the same versions "
            "makes them again"
        )


def _of_one_sheet(one: Path, two: Path) -> bool:
    """Whether two records say that they rest on the same sheet.

    A night makes only what is in force again after a corrected sheet; what was tried stays.
    """
    told = [read_made_from(folder) for folder in (one, two)]
    sums = [[m.files[r].sha256 for r in _SHEET if r in m.files] for m in told if m]
    return len(sums) == 2 and len(sums[0]) == len(_SHEET) and sums[0] == sums[1]


def _nothing_to_compare(a: Side, b: Side, other_sheet: int) -> AftersitError:
    if other_sheet:
        return AftersitError(
            f"no sitting can be compared: for {other_sheet}, one side was made from an earlier "
            "sheet, or does not say from which; run `replay --try` again for both sides"
        )
    return AftersitError(
        f"no sitting has results under both {a.text} and {b.text}; make them with "
        "`replay --try` first"
    )


def _together(one: dict[str, str], two: dict[str, str]) -> list[tuple[str, str]]:
    if len(one) == len(two) == 1:
        return [(*one.values(), *two.values())]
    return [(one[name], two[name]) for name in one if name in two]


def _record(folder: Path) -> Record:
    return Record.model_validate_json((folder / "record.json").read_bytes())
