"""The plan: which sittings a run of the workflow is about, and with what."""

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.closed import Closed
from aftersit.files import write_atomically
from aftersit.intake.upload_files import SHEET_NAME
from aftersit.night import layout
from aftersit.night.facts import write_facts
from aftersit.night.ledger import Entry, Ledger
from aftersit.protocol import protocol_path


class PlannedSitting(Closed):
    """One sitting to bring up to date; paths are relative to the clinic's folder."""

    client: str
    number: int
    revision: int
    date: dt.date
    protocols: dict[str, int]
    settings: str
    received_settings: str
    """Label of the settings under which the upload was read."""

    @property
    def sitting(self) -> SittingId:
        return SittingId(self.client, self.number)

    @property
    def original(self) -> str:
        """Folder of the uploaded bytes of this revision."""
        return str(Clinic(Path()).original(self.sitting, self.revision))

    @property
    def first_original(self) -> str:
        """Folder of the first revision; all revisions hold the same recording."""
        return str(Clinic(Path()).original(self.sitting, 1))

    @property
    def sheet(self) -> str:
        """The sheet of this revision."""
        return f"{self.original}/{SHEET_NAME}"

    def place(self, pattern: str, **more: object) -> str:
        """A pattern of `layout` with this sitting's own values filled in."""
        return pattern.format(
            client=self.client,
            sitting=self.sitting.label,
            settings=self.settings,
            revision=self.revision,
            **more,
        )

    def replay_folder(self, protocol: str, version: int) -> str:
        """Folder of the replay with this protocol version."""
        return self.place(layout.REPLAY, protocol=protocol, version=version)

    @property
    def replay_folders(self) -> list[str]:
        """One for each protocol, in the protocols' order."""
        pinned = sorted(self.protocols.items())
        return [self.replay_folder(name, version) for name, version in pinned]

    @property
    def records(self) -> list[str]:
        """The `record.json` of each protocol, in the protocols' order."""
        return [f"{folder}/record.json" for folder in self.replay_folders]

    @property
    def pages(self) -> list[str]:
        folder = self.place(layout.REPORT)
        return [f"{folder}/{name}" for name in ("clinician.html", "clinician.pdf", "handout.pdf")]

    @property
    def logs(self) -> str:
        """Folder of the sitting's logs."""
        return self.place(layout.LOGS)

    @property
    def stamp(self) -> str:
        """Checksums of the pages, written by the last step for just this revision."""
        return self.place(layout.STAMP)

    @property
    def inputs(self) -> list[str]:
        """What must be there before any step can run; relative to the clinic."""
        protocols = Clinic(Path()).kept_protocols
        return [self.first_original, self.original, self.sheet] + [
            str(protocol_path(protocols, name, version))
            for name, version in sorted(self.protocols.items())
        ]

    @property
    def stages(self) -> dict[str, list[str]]:
        """Rule -> the files that show that it ran, in the order of the data flow."""
        return {
            "write_bids": [self.place(f"{layout.RAW}_eeg.vhdr")],
            "build_head": [self.place(layout.HEAD)],
            "draw_heads": [self.place(layout.PLAUSIBLE)],
            "clean_recording": [self.place(f"{layout.CLEAN}_eeg.vhdr")],
            "measure_regions": [self.place(f"{layout.REGIONS}_bandpower.tsv")],
            "replay_protocol": self.records,
            "write_pages": self.pages,
            "finish_sitting": [self.stamp],
        }


def in_order(sittings: Iterable[PlannedSitting]) -> list[PlannedSitting]:
    """One client's sittings by date, those of one day as they came; others may come late."""
    return sorted(sittings, key=lambda one: (one.date, one.number))


class Plan(Closed):
    """`.aftersit/plan.json`."""

    sittings: tuple[PlannedSitting, ...]
    history: tuple[PlannedSitting, ...] = ()
    """Finished sittings, of which nothing but what a progress page lacks is made."""
    clients: tuple[str, ...] = ()
    """Whose progress pages are made, of all their sittings in the plan."""

    @property
    def known(self) -> tuple[PlannedSitting, ...]:
        """All sittings that the workflow may have to do with."""
        return *self.sittings, *self.history

    @property
    def labels(self) -> list[str]:
        """Labels of the settings that its sittings are made with."""
        return sorted({one.settings for one in self.sittings})

    def of_client(self, client: str) -> list[PlannedSitting]:
        """A client's sittings, in their order."""
        return in_order(s for s in self.known if s.client == client)

    def yardstick(self, client: str) -> tuple[str, int]:
        """Name and version of the protocol that a client's sittings are compared by.

        Of the newest sitting's protocols the one that most sittings had; of ties the
        first by name.
        """
        sittings = self.of_client(client)
        used = Counter(pinned for s in sittings for pinned in s.protocols.items())
        return min(sittings[-1].protocols.items(), key=lambda pinned: (-used[pinned], pinned))


def planned(entry: Entry) -> PlannedSitting:
    """What the workflow needs to know of a ledger entry."""
    return PlannedSitting(
        client=entry.client,
        number=entry.number,
        revision=entry.revision.number,
        date=entry.date,
        protocols=entry.protocols,
        settings=entry.settings,
        received_settings=entry.received_settings or entry.settings,
    )


def plan_of(entries: Iterable[Entry]) -> Plan:
    """The plan for these entries, in their order."""
    return Plan(sittings=tuple(planned(entry) for entry in entries))


def unfinished(ledger: Ledger) -> Plan:
    """The plan for all that is not proven finished."""
    return plan_of(e for e in ledger.entries() if not ledger.is_finished(e))


def plan_path(clinic: Clinic) -> Path:
    """Where the plan of the running night lies."""
    return clinic.state / "plan.json"


def write_plan(clinic: Clinic, plan: Plan) -> None:
    """Save the plan for the workflow to read, and each planned sheet's facts."""
    for one in plan.sittings:
        write_facts(clinic, one.sitting, clinic.root / one.sheet)
    write_atomically(plan_path(clinic), plan.model_dump_json(indent=2) + "\n")


@contextmanager
def saved_plan(clinic: Clinic, plan: Plan) -> Iterator[None]:
    """The plan, saved for as long as the workflow needs it."""
    write_plan(clinic, plan)
    try:
        yield
    finally:
        plan_path(clinic).unlink(missing_ok=True)


def read_plan(clinic: Clinic) -> Plan:
    """The saved plan; every sitting of the ledger when none was saved."""
    path = plan_path(clinic)
    if path.is_file():
        return Plan.model_validate_json(path.read_bytes())
    plan = plan_of(Ledger(clinic).entries())
    clients = tuple(dict.fromkeys(s.client for s in plan.sittings))
    return plan.model_copy(update={"clients": clients})
