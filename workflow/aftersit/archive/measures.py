"""Region measures, spectra, timelines and records of one sitting as a partner gets them."""

import json
import re
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from aftersit.archive import scrub
from aftersit.archive.dictionaries import dictionary, timeline_dictionary
from aftersit.archive.place import MEASURES, Going
from aftersit.bids.tables import cell, tsv
from aftersit.files import as_json
from aftersit.head.arrays import load_arrays, save_arrays
from aftersit.head.measures import UNITS, RegionMeasures, load_region_measures
from aftersit.night import layout
from aftersit.protocol import Protocol, protocol_path
from aftersit.record import Record
from aftersit.replay.files import plain

TABLES = ("bandpower", "aperiodic", "spectra")
KINDS = tuple(UNITS)
_TEXTS = {
    "place_kind": scrub.words("region", "electrode"),
    "place": re.compile(rf"[a-z0-9-]{{1,60}}|{scrub.CHANNEL.pattern}"),
    "electrode": scrub.CHANNEL,
    "measure": scrub.words(*KINDS, "sensor"),
    "band": re.compile(r"[a-z][a-z0-9-]{0,19}|n/a"),
    "unit": scrub.words(*UNITS.values(), "uV^2"),
    "state": scrub.NAME,
    "deciding": re.compile(r"[a-z0-9|-]{1,400}|n/a"),
}
_PROTOCOL_TEXTS = {"title", "purpose", "literature"}


def write_measures(going: Going) -> None:
    """Tables of the sitting, and a folder for each protocol that was replayed."""
    folder = going.folder(MEASURES)
    for name in TABLES:
        source = going.chosen.path(going.clinic, layout.REGIONS, f"_{name}.tsv")
        columns = _patterns(dictionary(name))
        text = scrub.table(source.read_text(), columns, going.scrub)
        (folder / f"{going.stem}_{name}.tsv").write_text(text)
    _write_regions(going, folder)
    for name, version in sorted(going.chosen.entry.protocols.items()):
        _write_replay(going, name, version)


def _patterns(columns: Mapping[str, dict]) -> dict[str, re.Pattern]:
    return {name: _TEXTS.get(name, scrub.NUMBER) for name in columns}


def _write_regions(going: Going, folder: Path) -> None:
    source = going.chosen.path(going.clinic, layout.REGIONS, "_regions.npz")
    measures = load_region_measures(source)
    (folder / f"{going.stem}_regions.tsv").write_text(regions_tsv(measures))
    save_arrays(folder / f"{going.stem}_matrices.npz", _matrices(going, source, measures))


def regions_tsv(measures: RegionMeasures) -> str:
    """How pure, complete and separable each measure of a sitting is."""
    columns = list(dictionary("regions"))
    rows = []
    for kind in KINDS:
        for key in measures.keys:
            heard = measures.heard(key, kind)
            own = {"place": key, "measure": kind, "purity": heard.purity}
            rows.append([{**vars(heard), **own}[column] for column in columns])
    return tsv(columns, ([_short(value) for value in row] for row in rows))


def _short(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else cell(value)


def _matrices(going: Going, source: Path, measures: RegionMeasures) -> dict[str, np.ndarray]:
    """Matrices that turn cross-spectra of the cleaned electrodes into region power."""
    kept = {
        "electrodes": np.array(measures.good, dtype=str),
        "places": np.array(measures.keys, dtype=str),
        **{kind: measures.of(kind).matrices.astype(np.float32) for kind in KINDS},
    }
    return kept if going.scrub.does("array-members") else load_arrays(source) | kept


def _write_replay(going: Going, name: str, version: int) -> None:
    source = going.clinic.root / going.chosen.planned.place(
        layout.REPLAY, protocol=name, version=version
    )
    folder = going.folder(MEASURES, f"{name}-v{version}")
    record = Record.model_validate_json((source / "record.json").read_bytes())
    (folder / "record.json").write_text(as_json(_record(going, record, source)))
    conditions = [c.name for c in record.conditions]
    found = timeline_dictionary(conditions)
    (folder / "timeline.json").write_text(as_json(found))
    for kind in ("cleaned", "uncleaned"):
        text = (source / f"timeline-{kind}.tsv").read_text()
        kept = scrub.table(text, _patterns(found), going.scrub)
        (folder / f"timeline-{kind}.tsv").write_text(kept)
    going.copy_others(source, folder, {"record.json", *(p.name for p in source.glob("*.tsv"))})
    _write_protocol(going, name, version)


def _record(going: Going, record: Record, source: Path) -> dict:
    """The record with the research id; its model is closed, so it holds nothing else."""
    if going.scrub.does("record-client"):
        record = record.model_copy(update={"client": going.pseudonym.research_id})
    made = plain(record)
    if not going.scrub.does("record-keys"):
        made = json.loads((source / "record.json").read_text()) | made
    return made


def _write_protocol(going: Going, name: str, version: int) -> None:
    """The protocol as it was run, without the clinic's own sentences."""
    target = going.payload / MEASURES / "protocols" / f"{name}-v{version}.json"
    if target.is_file():
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    path = protocol_path(going.clinic.kept_protocols, name, version)
    protocol = Protocol.from_yaml(path, f"protocols/{name}/v{version}.yaml")
    left_out = _PROTOCOL_TEXTS if going.scrub.does("protocol-texts") else set()
    target.write_text(as_json(protocol.model_dump(mode="json", exclude=left_out)))
