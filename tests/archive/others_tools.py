"""What others' tools say of a bag: the official BIDS validator, hedtools, pandas; and RFC 8493."""

import hashlib
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
from hed.tools import BidsDataset

from aftersit.evidence.checks.bids import issues

UNKNOWN = "what the clinic's amplifier or cap is called is not known, or tells the clinic"
WARNINGS = {
    **dict.fromkeys(
        [
            *("CapManufacturer", "CapManufacturersModelName", "DeviceSerialNumber"),
            *("InstitutionAddress", "InstitutionName", "InstitutionalDepartmentName"),
            *("Manufacturer", "ManufacturersModelName", "SoftwareVersions", "HeadCircumference"),
        ],
        UNKNOWN,
    ),
    **dict.fromkeys(["CogAtlasID", "CogPOID"], "no atlas has a term for these sittings"),
    "MISCChannelCount": "deprecated spelling; MiscChannelCount is there",
    "StimulusPresentation": "the room's own system played the sound; it is not known",
    "AnatomicalLandmarkCoordinateSystemDescription": "CapTrak is one that BIDS defines",
    **dict.fromkeys(
        [
            *("FiducialsCoordinateSystem", "FiducialsCoordinateSystemDescription"),
            *("FiducialsCoordinateUnits", "FiducialsCoordinates"),
        ],
        "the landmarks are there under their own keys",
    ),
    "License": "it stands in LICENSE; beside CITATION.cff BIDS does not want it twice",
    "SourceDatasets": "raw data have none that may be named",
    "Description": "sidecars of tables need none; each column has its own",
    "TOO_FEW_AUTHORS": "a partner's settings name as many as the clinic wants",
}
"""Every warning that stays, with its reason."""


def validator_finds(dataset: Path) -> list[dict]:
    """Errors, and warnings that have no reason above."""
    return [
        i
        for i in issues(dataset)
        if i["severity"] == "error" or (i.get("subCode") or i["code"]) not in WARNINGS
    ]


def hed_finds(dataset: Path, n_tables: int) -> list[dict]:
    """Errors and warnings of hedtools over a data set: its sidecars, and every table of events.

    The package reads the HED version from the data set's own description.
    """
    found = BidsDataset(str(dataset))
    events = found.get_file_group("events")
    assert len(events.datafile_dict) == n_tables
    assert all(one.sidecar for one in events.datafile_dict.values())
    return found.validate(check_for_warnings=True)


def manifest_problems(bag: Path) -> list[str]:
    """What RFC 8493 asks for, read anew (sections 2.1 to 2.4 and 3)."""
    found = []
    if (bag / "bagit.txt").read_bytes() != (
        b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    ):
        found.append("bagit.txt")
    payload = {str(p.relative_to(bag)) for p in (bag / "data").rglob("*") if p.is_file()}
    found += _listed(bag, "manifest-sha512.txt", payload)
    tags = {p.name for p in bag.iterdir() if p.is_file()} - {"tagmanifest-sha512.txt"}
    found += _listed(bag, "tagmanifest-sha512.txt", tags)
    size = sum((bag / name).stat().st_size for name in payload)
    info = (bag / "bag-info.txt").read_text()
    if re.findall(r"(?m)^Payload-Oxum: (.*)$", info) != [f"{size}.{len(payload)}"]:
        found.append("Payload-Oxum")
    return found


def _listed(bag: Path, manifest: str, expected: set[str]) -> list[str]:
    lines = (bag / manifest).read_text().splitlines()
    sums = dict(reversed(line.split(maxsplit=1)) for line in lines)
    if len(sums) != len(lines) or set(sums) != expected:
        return [f"{manifest}: names"]
    return [n for n, s in sums.items() if hashlib.sha512((bag / n).read_bytes()).hexdigest() != s]


def tables(bag: Path) -> Iterator[tuple[Path, Path]]:
    """Each table with the dictionary that speaks for it."""
    data = bag / "data"
    for path in sorted((data / "measures").rglob("*.tsv")):
        kind = path.stem.split("_")[-1]
        timeline = path.with_name("timeline.json")
        yield path, timeline if timeline.is_file() else data / "measures" / f"{kind}.json"
    for path in sorted((data / "bids").rglob("*.tsv")):
        kind = path.stem.split("_")[-1]
        inherited = {
            "events": "task-sitting_desc-clean_events"
            if "desc-clean" in path.name
            else ("task-sitting_events"),
        }.get(kind, kind)
        root = (
            data / "bids" / "derivatives" / "cleaned"
            if "desc-clean" in path.name
            else (data / "bids")
        )
        if (root / f"{inherited}.json").is_file():
            yield path, root / f"{inherited}.json"


def read_tables(bag: Path) -> set[str]:
    """Read each table with pandas against its dictionary; returns the dictionaries."""
    seen = set()
    for path, dictionary in tables(bag):
        told = json.loads(dictionary.read_text())
        table = pd.read_csv(path, sep="\t", na_values="n/a", keep_default_na=False)
        seen.add(dictionary.name)
        assert set(table.columns) <= set(told), path.name
        for name, column in table.items():
            _check_column(path.name, column.dropna(), told[name])
    return seen


def _check_column(where: str, column: pd.Series, told: dict) -> None:
    if told["Format"] in ("number", "integer"):
        assert pd.api.types.is_numeric_dtype(column) or column.empty, (where, column.name)
        if told["Format"] == "integer":
            assert (column == column.round()).all(), (where, column.name)
    if "Levels" in told:
        assert set(column.astype(str)) <= set(told["Levels"]), (where, column.name)
