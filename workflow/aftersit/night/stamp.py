"""The stamp of a revision: what `sha256sum` says of its records and pages when all are made."""

import re
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.files import sha256
from aftersit.night.plan import Plan, PlannedSitting

_LINE = re.compile(r"([0-9a-f]{64})  (.+)")


def stamped(clinic: Clinic, planned: PlannedSitting) -> dict[str, str]:
    """Path from the clinic -> checksum; empty when there is no stamp or it is cut short."""
    path = clinic.root / planned.stamp
    text = path.read_text(errors="replace") if path.is_file() else ""
    lines = [_LINE.fullmatch(line) for line in text.splitlines()]
    return {m[2]: m[1] for m in lines} if all(lines) else {}


def broken(clinic: Clinic, planned: PlannedSitting) -> list[str]:
    """Files that are missing, or not the bytes that the stamp says; all when there is no stamp."""
    sums = stamped(clinic, planned)
    return [f for f in (*planned.records, *planned.pages) if sums.get(f) != _sum(clinic.root / f)]


def drop_broken_stamps(clinic: Clinic, plan: Plan) -> None:
    """Remove stamps whose records or pages are gone.

    Snakemake makes nothing between its inputs and a last file that is there already.
    """
    for one in plan.sittings:
        if broken(clinic, one):
            (clinic.root / one.stamp).unlink(missing_ok=True)


def _sum(path: Path) -> str:
    return sha256([path]) if path.is_file() else "missing"
