"""What a client's progress page is made from: all finished sittings on one yardstick."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from aftersit.blocks import from_events
from aftersit.clinic import Clinic, ClinicSettings
from aftersit.errors import AftersitError
from aftersit.night.client_pages import own_texts
from aftersit.night.kept_settings import clinic_settings
from aftersit.night.layout import RAW
from aftersit.night.plan import PlannedSitting, in_order
from aftersit.pages.counted import NotCounted, usual_electrodes, why_not_counted
from aftersit.protocol import Protocol, load_protocol
from aftersit.record import Record
from aftersit.sheet import Practice
from aftersit.tsv import read_table
from aftersit.yardstick.measure import Measured, measure
from aftersit.yardstick.rules import yardstick


@dataclass(frozen=True)
class Sitting:
    """One sitting: as it was set, and on the yardstick."""

    number: int
    revision: int
    date: dt.date
    settings: str
    own: tuple[Record, ...]
    """A record for each protocol of the sitting."""
    record: Record
    """Of the replay with the yardstick's conditions."""
    measured: Measured | None
    why_not: NotCounted | None

    @property
    def label(self) -> str:
        """Its number as folders write it."""
        return f"{self.number:02d}"

    @property
    def practice(self) -> Practice:
        """What was practised."""
        return self.record.practice

    @property
    def counts(self) -> bool:
        """Whether it is compared with the others."""
        return self.why_not is None


@dataclass(frozen=True)
class ProgressInputs:
    """A client's sittings in the order of their dates."""

    client: str
    clinic: ClinicSettings
    protocol: Protocol
    """As the newest sitting used it."""
    used: Protocol
    """The yardstick."""
    sittings: tuple[Sitting, ...]
    own_texts: dict[str, str] = field(default_factory=dict)
    """Checksums of what the clinic wrote of itself; see `night.client_pages`."""

    @property
    def counted(self) -> list[Sitting]:
        """The sittings that are compared."""
        return [s for s in self.sittings if s.counts]


def read_progress(
    clinic: Clinic, client: str, planned: Sequence[PlannedSitting], of: tuple[str, int]
) -> ProgressInputs:
    """Read a client's sittings, each replayed with the yardstick's conditions.

    Parameters
    ----------
    planned : sequence of PlannedSitting
        Of this client only.
    of : (str, int)
        Name and version of the protocol that the yardstick is made of.

    Raises
    ------
    AftersitError
        There is no sitting, one of another client, or a file can't be read.
    """
    if not planned or {p.client for p in planned} != {client}:
        raise AftersitError(f"a progress page needs sittings of {client}, and of nobody else")
    protocol = load_protocol(clinic.kept_protocols, *of)
    ordered = in_order(planned)
    read = [_read(clinic, p, protocol) for p in ordered]
    usual = usual_electrodes([record for record, _ in read])
    return ProgressInputs(
        client=client,
        clinic=clinic.read_settings(),
        protocol=protocol,
        used=yardstick(protocol),
        sittings=tuple(
            _sitting(clinic, p, record, measured, usual)
            for p, (record, measured) in zip(ordered, read, strict=True)
        ),
        own_texts=own_texts(clinic),
    )


def _read(
    clinic: Clinic, planned: PlannedSitting, protocol: Protocol
) -> tuple[Record, Measured | None]:
    folder = clinic.root / planned.replay_folder(protocol.name, protocol.version)
    record = _record(folder / "record.json")
    if record.status != "scored":
        return record, None
    blocks = from_events(clinic.root / f"{planned.place(RAW)}_events.tsv")
    table = read_table(folder / "timeline-cleaned.tsv")
    settings = clinic_settings(clinic, planned.settings).replay
    return record, measure(record, table, blocks, yardstick(protocol), settings)


def _sitting(clinic, planned, record, measured, usual) -> Sitting:
    why_not = why_not_counted(record, usual)
    return Sitting(
        number=planned.number,
        revision=planned.revision,
        date=planned.date,
        settings=planned.settings,
        own=tuple(_record(clinic.root / path) for path in planned.records),
        record=record,
        measured=measured,
        why_not="not-measured" if measured is None and why_not is None else why_not,
    )


def _record(path: Path) -> Record:
    return Record.model_validate_json(path.read_bytes())
