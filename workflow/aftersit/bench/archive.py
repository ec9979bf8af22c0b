"""What an archive costs: 100 short sittings exported, beside a plain copy with checksums."""

import datetime as dt
import hashlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from aftersit.archive.export import Wanted, export
from aftersit.bench.archive_clinic import make_clinic
from aftersit.bench.cost import Cost, cost_of
from aftersit.bench.table import Table
from aftersit.clinic import Clinic

SITTINGS, QUICK_SITTINGS = 100, 6
DAY = dt.date(2026, 4, 2)


def tables(quick: bool) -> Iterator[Table]:
    """One table: the export, an update of it, and the copy."""
    sittings = QUICK_SITTINGS if quick else SITTINGS
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "clinic"
        make_clinic(root, sittings)
        made = cost_of(_export, root, False)
        size_mb = _size_mb(root / "exports" / "bench")
        again = cost_of(_export, root, True)
        copied = cost_of(_copy, root / "exports" / "bench", Path(folder) / "copy")
    rows = [
        _row("export", sittings, size_mb, made),
        _row("export --update", sittings, size_mb, again),
        _row("copy and SHA-512", sittings, size_mb, copied),
    ]
    notes = (
        f"{sittings} sittings of 64 s, 19 electrodes, 128 Hz, of {sittings // 2} people; imports "
        "included; one process.",
    )
    yield Table("cost", "An archive: CPU s, wall s, peak MB, MB/s of CPU time", rows, notes)


def _row(what: str, sittings: int, size_mb: float, cost: Cost) -> dict:
    return {
        "what": what,
        "sittings": sittings,
        "bag_mb": size_mb,
        "cpu_s": cost.cpu_s,
        "cpu_s_per_sitting": cost.cpu_s / sittings,
        "wall_s": cost.wall_s,
        "peak_mb": cost.peak_mb,
        "mb_per_cpu_s": size_mb / cost.cpu_s,
    }


def _size_mb(folder: Path) -> float:
    return sum(p.stat().st_size for p in folder.rglob("*") if p.is_file()) / 1e6


def _export(root: Path, update: bool) -> None:
    export(Clinic(root), Wanted("bench", "north", update=update), DAY, lambda line: None)


def _copy(source: Path, target: Path) -> None:
    shutil.copytree(source, target)
    for path in sorted(p for p in target.rglob("*") if p.is_file()):
        with path.open("rb") as file:
            hashlib.file_digest(file, "sha512")
