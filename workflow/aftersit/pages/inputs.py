"""All that the pages of one sitting are made from."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import pandas as pd

from aftersit.blocks import Block, from_events
from aftersit.clinic import ClinicSettings
from aftersit.errors import AftersitError
from aftersit.head.measures import RegionMeasures, load_region_measures
from aftersit.head.pictures import kept_picture
from aftersit.pages.review import Reviewed, answered_for
from aftersit.protocol import Protocol, RegionPlace, load_protocol
from aftersit.quality import Quality, read_quality
from aftersit.record import ConditionResult, Record
from aftersit.settings import Settings
from aftersit.sheet import Sheet, SheetBlock
from aftersit.tsv import read_table


@dataclass(frozen=True)
class Replayed:
    """One protocol's record, the protocol itself and the two timelines.

    A timeline has the columns `time_s` (from the first sample), `block`, `state`
    (reward, no-reward, unknown, bad, outside) and for each condition
    `<name>_value` and `<name>_threshold` (its own unit) and `<name>_met`.
    """

    record: Record
    protocol: Protocol
    cleaned: pd.DataFrame | None = None
    uncleaned: pd.DataFrame | None = None

    @property
    def conditions(self) -> dict[str, ConditionResult]:
        """The conditions by name, in the protocol's order."""
        return {c.name: c for c in self.record.conditions}


@dataclass(frozen=True)
class Source:
    """A file that the page was made from."""

    name: str
    sha256: str


@dataclass(frozen=True)
class SittingInputs:
    """One sitting as its pages see it; nothing here comes from a clock.

    `replays` holds at least one record. `bandpower` has the columns of
    `head.bandtable.BANDPOWER_COLUMNS`; `spectra` block, electrode, frequency_hz,
    psd_uv2_per_hz. `pictures` holds the brain map (PNG) of each region condition, by the
    key of its measure.
    """

    replays: tuple[Replayed, ...]
    quality: Quality
    sheet: Sheet
    blocks: tuple[Block, ...]
    clinic: ClinicSettings
    settings: Settings
    date: dt.date
    bandpower: pd.DataFrame | None = None
    spectra: pd.DataFrame | None = None
    regions: RegionMeasures | None = None
    pictures: dict[str, bytes] = field(default_factory=dict)
    software: dict[str, str] = field(default_factory=dict)
    sources: tuple[Source, ...] = ()
    review: Reviewed | None = None

    @property
    def record(self) -> Record:
        """The first record; what it says of client, sitting and quality holds for all."""
        return self.replays[0].record

    @cached_property
    def sheet_blocks(self) -> dict[int, SheetBlock]:
        """The sheet's own rows by block number; empty when annotations gave the blocks."""
        if self.sheet.blocks == "from-annotations":
            return {}
        return dict(enumerate(self.sheet.blocks, 1))

    @cached_property
    def spectra_by_electrode(self) -> dict[str, pd.DataFrame]:
        """Rows of `spectra` by electrode, told apart once for all who ask."""
        return {} if self.spectra is None else dict(iter(self.spectra.groupby("electrode")))

    def remark(self, block: int) -> str | None:
        """The practitioner's remark on a block."""
        return self.sheet_blocks[block].remark if block in self.sheet_blocks else None

    def instruction(self, block: int) -> str | None:
        """The instruction given for a block, its own or the sitting's."""
        own = self.sheet_blocks[block].instruction if block in self.sheet_blocks else None
        return own or self.sheet.instruction


@dataclass(frozen=True)
class SittingFiles:
    """Where the inputs of a sitting's pages lie."""

    records: Sequence[Path]
    """Each `record.json`, its two timelines beside it."""
    sheet: Path
    events: Path
    quality: Path
    bandpower: Path
    spectra: Path
    regions: Path
    head: Path
    """`head.npz`; pictures of regions are kept beside it."""
    protocols: Path

    @property
    def reviewed(self) -> list[Path]:
        """What a reviewer answers for; see `review.release`."""
        return answered_for(self.records, self.sheet)

    @property
    def read(self) -> list[tuple[str, Path]]:
        """What the result rests on, with the name that the page prints."""
        named = [
            ("sitting sheet", self.sheet),
            ("block events", self.events),
            ("account of cleaning", self.quality),
            ("band power", self.bandpower),
            ("spectra", self.spectra),
            ("region measures", self.regions),
        ]
        return named + [(f"record, {p.parents[2].name}", p) for p in self.records]


def read_sitting(
    files: SittingFiles,
    clinic: ClinicSettings,
    settings: Settings,
    date: dt.date,
    software: dict[str, str],
    review: Reviewed | None = None,
) -> SittingInputs:
    """Read all inputs of a sitting's pages.

    Raises
    ------
    AftersitError
        No record was given, or a protocol or sheet can't be read.
    """
    if not files.records:
        raise AftersitError("a sitting's pages need at least one record.json; none was given")
    replays = tuple(_replayed(path, files.protocols) for path in files.records)
    regions = load_region_measures(files.regions)
    return SittingInputs(
        replays=replays,
        quality=read_quality(files.quality),
        sheet=Sheet.from_yaml(files.sheet),
        blocks=tuple(from_events(files.events)),
        clinic=clinic,
        settings=settings,
        date=date,
        bandpower=_table(files.bandpower),
        spectra=_table(files.spectra),
        regions=regions,
        pictures=_pictures(replays, regions, files.head),
        software=software,
        sources=_sources(files),
        review=review,
    )


def _pictures(
    replays: tuple[Replayed, ...], regions: RegionMeasures, head: Path
) -> dict[str, bytes]:
    places = {
        c.where.measure_key: c.where
        for replay in replays
        for c in replay.protocol.conditions
        if isinstance(c.where, RegionPlace) and c.where.key in regions.keys
    }
    return {
        name: kept_picture(head, regions, place.key, place.measure)
        for name, place in places.items()
    }


def _replayed(record_path: Path, protocols: Path) -> Replayed:
    record = Record.model_validate_json(record_path.read_bytes())
    return Replayed(
        record=record,
        protocol=load_protocol(protocols, record.protocol.name, record.protocol.version),
        cleaned=_table(record_path.with_name("timeline-cleaned.tsv")),
        uncleaned=_table(record_path.with_name("timeline-uncleaned.tsv")),
    )


def _table(path: Path) -> pd.DataFrame | None:
    """A table, or None when there is none or it has no rows."""
    if not path.is_file():
        return None
    table = read_table(path)
    return None if table.empty else table


def _sources(files: SittingFiles) -> tuple[Source, ...]:
    from aftersit.files import sha256

    return tuple(Source(name, sha256([path])) for name, path in files.read if path.is_file())
