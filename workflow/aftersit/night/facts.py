"""What the signal's path needs of a sheet, apart from words for people.

Kept in a file of its own, so that a changed note or message redoes the pages
and nothing before them.
"""

from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.files import as_json, write_if_changed
from aftersit.sheet import Sheet

_FOR_PEOPLE = {"notes", "message", "ratings", "unpleasant", "instruction", "not_for_research"}
_FOR_PEOPLE_IN_BLOCKS = {"instruction", "remark", "live_thresholds"}


def facts_path(clinic: Clinic, sitting: SittingId) -> Path:
    """Where a sitting's facts lie."""
    return clinic.state / "facts" / f"{sitting.client}-{sitting.label}.json"


def facts(sheet: Sheet) -> dict:
    """The sheet as plain data, without what only people read."""
    kept = sheet.model_dump(mode="json", exclude=_FOR_PEOPLE)
    if sheet.blocks != "from-annotations":
        kept["blocks"] = [
            b.model_dump(mode="json", exclude=_FOR_PEOPLE_IN_BLOCKS) for b in sheet.blocks
        ]
    return kept


def write_facts(clinic: Clinic, sitting: SittingId, sheet: Path) -> None:
    """Write a sitting's facts when they are not what stands there already."""
    fresh = as_json(facts(Sheet.from_yaml(sheet)))
    write_if_changed(facts_path(clinic, sitting), fresh)
