"""A night with nothing to do, beside archives of different sizes."""

import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from aftersit.bench.finished_clinic import UNREVIEWED_EACH, make_archive
from aftersit.bench.spent import spent_by
from aftersit.bench.table import Table
from aftersit.clinic import Clinic

SIZES, QUICK_SIZES = (500, 2000, 5000), (50,)
LIMIT_S, LIMIT_MB = 10, 500
"""For the largest."""


def empty_table(quick: bool, sizes: tuple[int, ...] = ()) -> Iterator[Table]:
    """Each archive's first night of a day, which writes a digest, and its second."""
    rows = []
    for sittings in sizes or (QUICK_SIZES if quick else SIZES):
        with tempfile.TemporaryDirectory() as folder:
            clinic = make_archive(Path(folder) / "clinic", sittings)
            rows += [_row(clinic, sittings, night) for night in ("with a digest", "second")]
    yield Table(
        "empty",
        "A night with nothing to do, by finished sittings",
        rows,
        (
            f"Ten sittings a client, one handout in {UNREVIEWED_EACH} not reviewed; files of "
            f"results without signals. Limits for 5000: {LIMIT_S} s, {LIMIT_MB} MB.",
        ),
    )


def _row(clinic: Clinic, sittings: int, night: str) -> dict:
    if night == "with a digest":
        shutil.rmtree(clinic.reports / "nightly", ignore_errors=True)
    command = [sys.executable, "-m", "aftersit.cli", "nightly", "--clinic", str(clinic.root)]
    spent = spent_by(command)
    return {
        "finished_sittings": sittings,
        "night": night,
        "cpu_s": spent.cpu_s,
        "wall_s": spent.wall_s,
        "peak_mb": spent.peak_mb,
    }
