"""What the signal's path needs of a sheet, apart from words for people.

Kept in a file of its own, so that a changed note or message redoes the pages
and nothing before them.
"""

import hashlib
from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.files import as_json, write_if_changed
from aftersit.sheet import Sheet

_FOR_PEOPLE = {"notes", "message", "ratings", "unpleasant", "instruction", "not_for_research"}
_FOR_PEOPLE_IN_BLOCKS = {"instruction", "remark", "live_thresholds"}


def facts_folder(clinic: Clinic, sitting: SittingId) -> Path:
    """Holds one file: a sitting's facts, named by their checksum."""
    return clinic.state / "facts" / f"{sitting.client}-{sitting.label}"


def facts_file(clinic: Clinic, sitting: SittingId) -> Path:
    """A sitting's facts.

    The name changes with them, so that the workflow sees a change whatever the clock says.
    """
    return next(facts_folder(clinic, sitting).glob("*.json"))


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
    text = as_json(facts(Sheet.from_yaml(sheet)))
    folder = facts_folder(clinic, sitting)
    name = _name(text)
    for old in folder.glob("*.json"):
        if old.name != name:
            old.unlink()
    write_if_changed(folder / name, text)


def facts_name(sheet: Path) -> str:
    """Name of the file that a sheet's facts would stand in."""
    return _name(as_json(facts(Sheet.from_yaml(sheet))))


def kept_facts(clinic: Clinic, sitting: SittingId) -> str | None:
    """Name of the file that a sitting's facts stand in; None when there is none."""
    names = sorted(p.name for p in facts_folder(clinic, sitting).glob("*.json"))
    return names[0] if names else None


def _name(text: str) -> str:
    return f"{hashlib.sha256(text.encode()).hexdigest()[:16]}.json"
