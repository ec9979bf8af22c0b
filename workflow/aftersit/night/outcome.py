"""What a run of the workflow left behind for each planned sitting."""

import errno
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.kept_settings import clinic_settings
from aftersit.night.layout import WORKFLOW_LOG
from aftersit.night.ledger import Finished, Ledger
from aftersit.night.plan import Plan, PlannedSitting
from aftersit.night.stamp import broken
from aftersit.sheet import Sheet
from aftersit.step import REASON
from aftersit.trouble import in_words

FULL_BYTES = 10**7
"""Free room below which a step without a reason failed for want of it."""


@dataclass(frozen=True)
class Outcome:
    """One sitting after the run.

    `failed_stage` is the rule that did not finish, `inputs` when something that
    was there when the sitting was received is gone or damaged, or `disk` when it was not
    begun for lack of room; `reason` says why, as far as it is known, and `log` is
    what to read then, relative to the clinic.
    """

    planned: PlannedSitting
    failed_stage: str | None = None
    reason: str | None = None
    log: str | None = None

    @property
    def sitting(self) -> SittingId:
        return self.planned.sitting


def without_missing_inputs(clinic: Clinic, plan: Plan) -> tuple[Plan, list[Outcome]]:
    """Take out sittings whose inputs are gone or damaged: one would stop the whole graph."""
    good, bad = [], []
    for planned in plan.sittings:
        reason = _missing_input(clinic, planned) or _damaged_sheet(clinic, planned)
        if reason:
            bad.append(Outcome(planned, "inputs", reason))
        else:
            good.append(planned)
    return Plan(sittings=tuple(good)), bad


def _missing_input(clinic: Clinic, planned: PlannedSitting) -> str | None:
    """What to put back; None when everything is there."""
    gone = next((i for i in planned.inputs if not (clinic.root / i).exists()), None)
    if gone is None:
        try:
            clinic_settings(clinic, planned.settings)
            return None
        except AftersitError:
            gone = f"settings version {planned.settings}"
    return f"{gone} was there when the sitting was received; put it back"


def _damaged_sheet(clinic: Clinic, planned: PlannedSitting) -> str | None:
    """Why a sheet can't be used; what stands in it may be anyone's text, and is not told."""
    try:
        Sheet.from_yaml(clinic.root / planned.sheet)
    except OSError as error:
        return f"{planned.sheet} can't be read: {in_words(error)}"
    except AftersitError:
        return (
            f"{planned.sheet} is no valid sitting sheet any more; put back the one that came, "
            "or upload the recording again with a corrected sheet"
        )
    return None


def outcome_of(clinic: Clinic, planned: PlannedSitting, since_ns: int = 0) -> Outcome:
    """Look for the first stage whose file is missing.

    Snakemake removes the files of a step that failed and leaves those of later
    steps from an earlier run alone, so the first gap is the failed step. The
    last stage's file is named by the revision, so results of an earlier one
    never count; and it holds the checksums of all results, so that nothing half
    written does.
    """
    for stage, files in planned.stages.items():
        if not all((clinic.root / file).is_file() for file in files):
            reason = reason_of(clinic, planned, stage, since_ns)
            return Outcome(planned, stage, reason, _log_of(clinic, planned, since_ns))
    if broken(clinic, planned):
        reason, log = "results do not match their checksums", _log_of(clinic, planned, since_ns)
        return Outcome(planned, "finish_sitting", reason, log)
    return Outcome(planned)


def _log_of(clinic: Clinic, planned: PlannedSitting, since_ns: int) -> str:
    """The sitting's logs; the workflow's own where no step of the sitting began."""
    logs = (clinic.root / planned.logs).glob("*.log")
    began = any(log.stat().st_mtime_ns >= since_ns for log in logs)
    return planned.logs if began else WORKFLOW_LOG


def reason_of(clinic: Clinic, planned: PlannedSitting, stage: str, since_ns: int) -> str | None:
    """Why a stage failed, from its newest log; None when no log since then says so."""
    told = reason_in((clinic.root / planned.logs).glob(f"{stage}*.log"), since_ns)
    return told or full_disk(clinic)


def full_disk(clinic: Clinic) -> str | None:
    """What keeps a step from saying its reason: a disk without room even for its log."""
    full = shutil.disk_usage(clinic.root).free < FULL_BYTES
    return in_words(OSError(errno.ENOSPC, "")) if full else None


def reason_in(logs: Iterable[Path], since_ns: int) -> str | None:
    """The last reason that the newest of some steps' logs tells; None when it is older."""
    times = {log: log.stat().st_mtime_ns for log in logs}
    newest = max(times, key=times.get, default=None)
    if newest is None or times[newest] < since_ns:
        return None
    lines = newest.read_text(errors="replace").splitlines()
    reasons = [line.removeprefix(REASON) for line in lines if line.startswith(REASON)]
    return reasons[-1] if reasons else None


def mark_finished(ledger: Ledger, planned: PlannedSitting) -> None:
    """Say in the ledger that a sitting's newest revision is done."""
    entry = ledger.read(planned.sitting)
    if entry:
        done = Finished(revision=planned.revision, outputs=(*planned.records, *planned.pages))
        ledger.write(entry.model_copy(update={"finished": done}))
