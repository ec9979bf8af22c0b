"""The ledger: one small file for each sitting, saying what came and what is finished."""

import datetime as dt
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.files import write_atomically
from aftersit.nearest import there_is_no


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
    """Label of the results in force; see `aftersit.algorithms`."""
    received_settings: str | None = None
    """Label under which it was received, where that is another."""
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
    """Entries under `<clinic>/.aftersit/ledger/`, read once; only the night's owner writes.

    AftersitError where one is damaged.
    """

    clinic: Clinic

    @property
    def folder(self) -> Path:
        return self.clinic.state / "ledger"

    def path(self, sitting: SittingId) -> Path:
        return self.folder / f"{sitting.client}-{sitting.label}.json"

    @cached_property
    def _entries(self) -> dict[SittingId, Entry]:
        read = (_entry(path) for path in self.folder.glob("*.json"))
        return {entry.sitting: entry for entry in read}

    def entries(self) -> list[Entry]:
        """All entries, by client and number."""
        return [self._entries[sitting] for sitting in sorted(self._entries)]

    def read(self, sitting: SittingId) -> Entry | None:
        """The entry of a sitting; None when it never came."""
        return self._entries.get(sitting)

    def unknown(self, sitting: SittingId) -> AftersitError:
        """The error that says up to which number a client's sittings go."""
        numbers = [s.number for s in self._entries if s.client == sitting.client]
        if numbers:
            last = SittingId(sitting.client, max(numbers))
            return AftersitError(f"this clinic has no sitting {sitting}; the last one is {last}")
        clients = {s.client for s in self._entries}
        no_client = there_is_no("client", sitting.client, clients)
        return AftersitError(f"this clinic has no sitting {sitting}: {no_client}")

    def write(self, entry: Entry) -> None:
        """Add or replace an entry, whole or not at all."""
        write_atomically(self.path(entry.sitting), entry.model_dump_json(indent=2) + "\n")
        self._entries[entry.sitting] = entry

    def is_finished(self, entry: Entry) -> bool:
        """Whether the newest revision is done and its files are still there."""
        done = entry.finished
        return (
            done is not None
            and done.revision == entry.revision.number
            and all((self.clinic.root / output).is_file() for output in done.outputs)
        )


def _entry(path: Path) -> Entry:
    return Entry.from_own_json(path, f"the ledger entry .aftersit/ledger/{path.name}")
