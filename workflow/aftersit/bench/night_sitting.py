"""One sitting from upload to all pages, stage by stage, beside a plain script in the same run."""

import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from aftersit.bench.cost import Cost, cost_of
from aftersit.bench.night_clinic import RATE_HZ, add_upload, make_clinic, signal_uv
from aftersit.bench.night_plain import plain_script
from aftersit.bench.spent import Spent, spent_by
from aftersit.bench.table import Table
from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Ledger
from aftersit.night.plan import planned
from aftersit.night.provenance import costs
from aftersit.shared_imports import NAME as SHARED

MINUTES, QUICK_MINUTES, WARM_UP_MINUTES = 30.0, 2.0, 1.6
NIGHT, WORKFLOW, IMPORTS = "nightly: intake, digest", "Snakemake", "imports, once a night"
STARTING = "starting steps"


def sitting_table(quick: bool, sizes: tuple[int, ...] = ()) -> Iterator[Table]:
    """Where each second goes; `sizes` are minutes."""
    for minutes in sizes or (QUICK_MINUTES if quick else MINUTES,):
        with tempfile.TemporaryDirectory() as folder:
            yield _table(Path(folder), minutes)


def _table(folder: Path, minutes: float) -> Table:
    clinic = make_clinic(folder / "clinic")
    warm_up(clinic)
    upload = add_upload(clinic, 1, minutes, signal_uv(1, minutes)).parent
    shutil.copytree(upload, folder / "upload")
    spent = nightly(clinic)
    rows = sitting_rows(clinic, SittingId("N000", 2), spent)
    plain = cost_of(plain_script, folder / "upload", folder / "plain.pdf")
    rows += [_row("plain script on mne", plain), _ratio(spent, plain)]
    title = f"One sitting of {minutes:g} minutes, 19 electrodes, {RATE_HZ:g} Hz, upload to pages"
    note = (
        "Imports included. A night of one sitting; models and measures of these electrodes were "
        "there. `whole night` is all processes together; the rest of it are progress pages. The "
        "plain script makes one replay and bare pages."
    )
    return Table("sitting", title, rows, (note,))


def warm_up(clinic: Clinic) -> None:
    """A short sitting, so that what is made once is there; AftersitError when it fails."""
    add_upload(clinic, 0, WARM_UP_MINUTES, signal_uv(0, WARM_UP_MINUTES))
    nightly(clinic)


def nightly(clinic: Clinic) -> Spent:
    """A whole night of the clinic, by the command; AftersitError unless all became finished."""
    command = [sys.executable, "-m", "aftersit.cli", "nightly", "--clinic", str(clinic.root)]
    spent = spent_by(command, part_of)
    ledger = Ledger(clinic)
    if not all(ledger.is_finished(entry) for entry in ledger.entries()):
        raise AftersitError("a sitting of the bench was not finished")
    return spent


def part_of(words: list[str]) -> str | None:
    """The long-lived parts of a night, by their names and command lines."""
    if "snakemake" in words:
        return WORKFLOW
    if SHARED in words:
        return IMPORTS
    return NIGHT if "aftersit.cli" in words else None


def sitting_rows(clinic: Clinic, sitting: SittingId, spent: Spent) -> list[dict]:
    """One row for each stage and part, then their sum."""
    steps = costs(clinic.root / planned(Ledger(clinic).read(sitting)).logs)
    steps |= costs(clinic.state / "logs" / f"{sitting.client}-progress")
    named = {name.partition("-")[0]: Cost(**cost) for name, cost in steps.items()}
    rows = [_row(name, cost) for name, cost in named.items()]
    rows += [{"what": name, "cpu_s": cpu_s} for name, cpu_s in spent.of_parts_s.items()]
    rest = spent.cpu_s - sum(row["cpu_s"] for row in rows)
    whole = Cost(spent.cpu_s, spent.wall_s, spent.peak_mb)
    return [*rows, {"what": STARTING, "cpu_s": rest}, _row("whole night", whole)]


def _row(what: str, cost: Cost) -> dict:
    return {"what": what, "cpu_s": cost.cpu_s, "wall_s": cost.wall_s, "peak_mb": cost.peak_mb}


def _ratio(spent: Spent, plain: Cost) -> dict:
    return {
        "what": "plain script / whole night",
        "cpu_s": plain.cpu_s / spent.cpu_s,
        "wall_s": plain.wall_s / spent.wall_s,
        "peak_mb": plain.peak_mb / spent.peak_mb,
    }
