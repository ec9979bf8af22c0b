"""The ledger: one small file for each sitting, saying what came and what is finished."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.closed import Closed
from aftersit.files import write_atomically


class Revision(Closed):
    """One version of a sitting's sheet, as it came."""

    number: int
    upload: str
    sheet_sha256: str


class Finished(Closed):
    """The revision whose results stand, and the files that prove it."""

    revision: int
    outputs: tuple[str, ...]


class Entry(Closed):
    """One sitting. Protocol versions and settings are pinned when it is received."""

    client: str
    number: int
    date: dt.date
    recording_sha256: str
    revisions: tuple[Revision, ...]
    protocols: dict[str, int]
    settings: str
    finished: Finished | None = None

    @property
    def sitting(self) -> SittingId:
        return SittingId(self.client, self.number)

    @property
    def revision(self) -> Revision:
        """The newest revision of the sheet."""
        return self.revisions[-1]


@dataclass(frozen=True)
class Ledger:
    """Entries under `<clinic>/.aftersit/ledger/`."""

    clinic: Clinic

    @property
    def folder(self) -> Path:
        return self.clinic.state / "ledger"

    def path(self, sitting: SittingId) -> Path:
        return self.folder / f"{sitting.client}-{sitting.label}.json"

    def entries(self) -> Iterator[Entry]:
        """All entries, by client and number."""
        read = (Entry.model_validate_json(p.read_bytes()) for p in self.folder.glob("*.json"))
        return iter(sorted(read, key=lambda e: e.sitting))

    def read(self, sitting: SittingId) -> Entry | None:
        """The entry of a sitting; None when it never came."""
        path = self.path(sitting)
        return Entry.model_validate_json(path.read_bytes()) if path.is_file() else None

    def write(self, entry: Entry) -> None:
        """Add or replace an entry, whole or not at all."""
        write_atomically(self.path(entry.sitting), entry.model_dump_json(indent=2) + "\n")

    def is_finished(self, entry: Entry) -> bool:
        """Whether the newest revision is done and its files are still there."""
        done = entry.finished
        return (
            done is not None
            and done.revision == entry.revision.number
            and all((self.clinic.root / output).is_file() for output in done.outputs)
        )
