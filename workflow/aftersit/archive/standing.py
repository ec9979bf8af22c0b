"""How the bags under `exports/` stand beside the list of those that were made."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from aftersit.archive.bag import MANIFEST, problems
from aftersit.archive.register import Exports, Made
from aftersit.clinic import Clinic
from aftersit.counted import counted

_SHOWN = 3
"""Broken files of a bag that are named."""


@dataclass(frozen=True)
class Standing:
    """What an audit tells of exports.

    Attributes
    ----------
    whole : int
        Bags that are, byte for byte, as they were made.
    broken : list of str
        Bags that are not.
    notes : list of str
        What a person may have done on purpose.
    """

    whole: int = 0
    broken: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def standing(clinic: Clinic) -> Standing:
    """Compare every bag that was made with what lies in its place."""
    made: dict[str, list[Made]] = {}
    for one in Exports(clinic).made():
        made.setdefault(one.name, []).append(one)
    folder = clinic.root / "exports"
    found = {name: folder / name for name in made if (folder / name).is_dir()}
    broken = {name: list(_broken(found[name], made[name])) for name in found}
    notes = [
        *(f"exports/{name} is not here any more" for name in made if name not in found),
        *(note for name in found for note in _earlier(found[name], made[name])),
        *_others(folder, set(made)),
    ]
    lines = [f"exports/{name}: {line}" for name in found for line in broken[name]]
    return Standing(sum(not lines for lines in broken.values()), lines, notes)


def _broken(bag: Path, made: list[Made]) -> Iterator[str]:
    if _manifest_sha256(bag) not in {one.manifest_sha256 for one in made}:
        yield "its list of checksums is not the one that it was made with"
        return
    found = problems(bag)
    yield from found[:_SHOWN]
    if len(found) > _SHOWN:
        yield f"and {len(found) - _SHOWN} more files"


def _earlier(bag: Path, made: list[Made]) -> Iterator[str]:
    """An update that was noted and died before its bag was put in place."""
    *before, last = made
    sums = {one.manifest_sha256: one.day for one in before}
    there = _manifest_sha256(bag)
    if there != last.manifest_sha256 and there in sums:
        yield (
            f"exports/{last.name} is that of {sums[there]}: the update of {last.day} "
            "did not get there; make it again"
        )


def _others(folder: Path, known: set[str]) -> Iterator[str]:
    """Counted, not named: a person's own folder may be called anything."""
    there = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
    if there - known:
        yield f"in exports/, not made by `export`: {counted(len(there - known), 'thing')}"


def _manifest_sha256(bag: Path) -> str | None:
    path = bag / MANIFEST
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else None
