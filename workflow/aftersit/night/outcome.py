"""What a run of the workflow left behind for each planned sitting."""

from dataclasses import dataclass

from aftersit.clinic import Clinic, SittingId
from aftersit.night.ledger import Finished, Ledger
from aftersit.night.plan import Plan, PlannedSitting


@dataclass(frozen=True)
class Outcome:
    """One sitting after the run; `failed_stage` is the rule that did not finish."""

    sitting: SittingId
    failed_stage: str | None

    @property
    def log(self) -> str:
        """Folder of the sitting's logs, relative to the clinic."""
        return f".aftersit/logs/{self.sitting.client}-{self.sitting.label}"


def outcome_of(clinic: Clinic, planned: PlannedSitting) -> Outcome:
    """Look for the first stage whose file is missing.

    Snakemake removes the files of a step that failed and leaves those of later
    steps from an earlier run alone, so the first gap is the failed step.
    """
    for stage, files in planned.stages.items():
        if not all((clinic.root / file).is_file() for file in files):
            return Outcome(planned.sitting, stage)
    return Outcome(planned.sitting, None)


def settle_outcomes(clinic: Clinic, plan: Plan, exit_code: int) -> list[Outcome]:
    """Outcomes of a run; finished sittings are marked so in the ledger.

    When the run as a whole broke off, a complete set of files may be from an
    earlier revision, so nothing is marked finished that has an older set.
    """
    ledger = Ledger(clinic)
    outcomes = [outcome_of(clinic, planned) for planned in plan.sittings]
    for planned, outcome in zip(plan.sittings, outcomes, strict=True):
        entry = ledger.read(planned.sitting)
        first_time = entry is not None and entry.finished is None
        if entry and outcome.failed_stage is None and (exit_code == 0 or first_time):
            done = Finished(revision=planned.revision, outputs=(*planned.records, *planned.pages))
            ledger.write(entry.model_copy(update={"finished": done}))
    return outcomes
