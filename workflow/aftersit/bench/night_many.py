"""Nights of many short sittings: the cost of each stays as it is, and most of it is work."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

from aftersit.bench.night_clinic import add_upload, make_clinic, signal_uv
from aftersit.bench.night_sitting import NIGHT, nightly, warm_up
from aftersit.bench.spent import Spent
from aftersit.bench.table import Table
from aftersit.clinic import Clinic
from aftersit.night.ledger import Ledger
from aftersit.night.plan import planned
from aftersit.night.provenance import costs

SIZES, QUICK_SIZES = (10, 20, 30, 100), (2,)
MINUTES = 1.6


def many_table(quick: bool, sizes: tuple[int, ...] = ()) -> Iterator[Table]:
    """One row for each size of a night, in a clinic of its own."""
    rows = []
    for sittings in sizes or (QUICK_SIZES if quick else SIZES):
        with tempfile.TemporaryDirectory() as folder:
            rows.append(_row(Path(folder), sittings))
    note = (
        "Models were there. `overhead` is all but the steps themselves and nightly's own process: "
        "Snakemake, imports once a night, starting steps."
    )
    yield Table("many", f"Nights of sittings of {MINUTES * 60:.0f} s, 19 electrodes", rows, (note,))


def _row(folder: Path, sittings: int) -> dict:
    clinic = make_clinic(folder / "clinic")
    warm_up(clinic)
    before_s = steps_s(clinic)
    for number in range(1, sittings + 1):
        add_upload(clinic, number, MINUTES, signal_uv(number, MINUTES))
    spent = nightly(clinic)
    worked_s = steps_s(clinic) - before_s
    return {
        "sittings": sittings,
        "cpu_s": spent.cpu_s,
        "cpu_s_each": spent.cpu_s / sittings,
        "steps_cpu_s_each": worked_s / sittings,
        "wall_s": spent.wall_s,
        "peak_mb": spent.peak_mb,
        **{f"{part}, cpu_s": cpu_s for part, cpu_s in spent.of_parts_s.items()},
        "overhead_share": _overhead_s(spent, worked_s) / spent.cpu_s,
    }


def _overhead_s(spent: Spent, worked_s: float) -> float:
    return spent.cpu_s - worked_s - spent.of_parts_s[NIGHT]


def steps_s(clinic: Clinic) -> float:
    """Processor seconds of all steps whose logs lie there."""
    ones = [planned(entry) for entry in Ledger(clinic).entries()]
    folders = {clinic.root / one.logs for one in ones}
    folders |= {clinic.state / "logs" / f"{one.client}-progress" for one in ones}
    return sum(step["cpu_s"] for folder in folders for step in costs(folder).values())
