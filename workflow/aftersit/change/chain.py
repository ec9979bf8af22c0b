"""The chain from an uploaded recording to one record, with checksums at each stage."""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from aftersit.change.made_from import NAME, RESULTS, MadeFrom, UsedFile, read_made_from
from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.files import sha256
from aftersit.intake.problems import UploadError
from aftersit.intake.upload_files import find_files
from aftersit.night.layout import REPLAY, SITTING
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.plan import planned

STAGES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "write_bids": (("recording", "sheet facts"), ("raw header", "raw signal", "raw sidecar")),
    "clean_recording": (
        ("raw header", "raw signal", "raw sidecar", "settings"),
        ("cleaned header", "cleaned signal", "cleaned sidecar"),
    ),
    "measure_regions": (
        ("cleaned header", "cleaned signal", "cleaned sidecar", "blocks", "head", "settings"),
        ("region measures", "cross-spectra"),
    ),
    "replay_protocol": (
        (
            *("raw header", "raw signal", "raw sidecar", "blocks", "cleaned header"),
            *("cleaned signal", "cleaned sidecar", "region measures", "cross-spectra"),
            *("head", "protocol", "settings"),
        ),
        tuple(Path(name).stem for name in RESULTS),
    ),
}
"""Stage -> roles of what it reads and of what it writes; blocks are written by the first too."""

_PLACE = re.compile(
    r"derivatives/replay-(?P<label>[a-z0-9]+(?:\.\d+)?)-(?P<name>[a-z][a-z0-9-]*)-v(?P<version>\d+)"
    r"/sub-(?P<client>[A-Za-z0-9]+)/ses-(?P<number>\d+)"
)


@dataclass(frozen=True)
class Chain:
    """One record and all that it was made from; paths count from the clinic's folder."""

    clinic: Clinic
    entry: Entry
    protocol: str
    version: int
    made_from: MadeFrom
    files: dict[str, UsedFile]
    """Role -> file, those of the recording and the results included."""
    not_checked: tuple[str, ...] = ()
    """Roles of which nothing says what they held; their checksums are those of now."""

    @property
    def sitting(self) -> SittingId:
        return self.entry.sitting

    @property
    def folder(self) -> str:
        """Where the record lies."""
        return folder_of(self.entry, self.made_from.label, self.protocol, self.version)

    @property
    def record(self) -> str:
        return f"{self.folder}/record.json"

    @property
    def in_force(self) -> bool:
        """Whether the pages show it."""
        return (self.entry.protocols.get(self.protocol), self.entry.settings) == (
            self.version,
            self.made_from.label,
        )

    @property
    def entry_as_made(self) -> Entry:
        """The ledger's entry as if this record were the only one in force."""
        return self.entry.model_copy(
            update={
                "protocols": {self.protocol: self.version},
                "settings": self.made_from.label,
                "received_settings": self.entry.received_settings or self.entry.settings,
                "finished": None,
            }
        )

    def changed(self) -> list[str]:
        """Roles whose file is gone or holds other bytes now."""
        return [role for role, used in self.files.items() if not self._stands(used)]

    def _stands(self, used: UsedFile) -> bool:
        path = self.clinic.root / used.path
        try:
            paths = find_files(path).recording if path.is_dir() else [path]
            return sha256(paths) == used.sha256
        except (UploadError, OSError):
            return False

    def provenance(self) -> dict:
        """What stands in the sitting's `provenance.json`, when it is about this record."""
        path = self.clinic.report(self.sitting) / "provenance.json"
        told = json.loads(path.read_text()) if path.is_file() else {}
        return told if self.record in told.get("records", {}) else {}


def folder_of(entry: Entry, label: str, protocol: str, version: int) -> str:
    """Where results lie."""
    return REPLAY.format(
        client=entry.client,
        sitting=entry.sitting.label,
        settings=label,
        protocol=protocol,
        version=version,
    )


def chains(clinic: Clinic, what: Path) -> list[Chain]:
    """The chains of a record file, or of all records in force of `CLIENT/NUMBER`.

    Raises
    ------
    AftersitError
        No such record, or nothing beside it that says what it was made from.
    """
    ledger = Ledger(clinic)
    if re.fullmatch(r"[A-Za-z0-9]{2,16}/\d{1,4}", what.as_posix()) and not what.exists():
        sitting = SittingId.parse(what.as_posix())
        entry = ledger.read(sitting)
        if entry is None:
            raise ledger.unknown(sitting)
        return [_chain(clinic, entry, Path(record).parent) for record in planned(entry).records]
    found = _PLACE.search(what.resolve().as_posix())
    if not found:
        raise AftersitError(
            f"'{what}' is no record; give CLIENT/NUMBER, or a path such as "
            f"derivatives/replay-s1-warm-heart-v1/{SITTING.format(client='K07', sitting='03')}"
            "/record.json"
        )
    entry = ledger.read(SittingId(found["client"], int(found["number"])))
    if entry is None:
        raise AftersitError(f"the ledger knows nothing of {found['client']}/{found['number']}")
    return [_chain(clinic, entry, Path(found[0]))]


def _chain(clinic: Clinic, entry: Entry, folder: Path) -> Chain:
    told, place = read_made_from(clinic.root / folder), _PLACE.search(folder.as_posix())
    if told is None or not (clinic.root / folder / "record.json").is_file():
        raise AftersitError(
            f"{folder}: there is no record with a {NAME} beside it; make it again with "
            f"`replay --protocol {place['name']} --version {place['version']}`"
        )
    there = _results(clinic, folder)
    files = {"recording": _recording(clinic, entry)} | told.files | there | told.results
    return Chain(
        clinic,
        entry,
        place["name"],
        int(place["version"]),
        told,
        files,
        tuple(role for role in there if role not in told.results),
    )


def _results(clinic: Clinic, folder: Path) -> dict[str, UsedFile]:
    """What lies there now."""
    paths = [folder / name for name in RESULTS if (clinic.root / folder / name).is_file()]
    return {
        path.stem: UsedFile(path=path.as_posix(), sha256=sha256([clinic.root / path]))
        for path in paths
    }


def _recording(clinic: Clinic, entry: Entry) -> UsedFile:
    """Named by its folder: an uploaded file may carry any name, even a person's.

    The checksum is the ledger's, over the recording's files.
    """
    folder = clinic.original(entry.sitting, entry.revision.number).relative_to(clinic.root)
    return UsedFile(path=folder.as_posix(), sha256=entry.recording_sha256)


def used(chain: Chain, roles: Iterable[str]) -> dict[str, UsedFile]:
    """The files of these roles that the chain has."""
    return {role: chain.files[role] for role in roles if role in chain.files}
