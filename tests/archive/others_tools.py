"""What others' tools say of a bag: the official BIDS validator, pandas."""

import json
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

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
