"""What a run of the workflow left behind for each planned sitting."""

from dataclasses import dataclass

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Finished, Ledger
from aftersit.night.plan import Plan, PlannedSitting
from aftersit.settings import load_settings


@dataclass(frozen=True)
class Outcome:
    """One sitting after the run.

    `failed_stage` is the rule that did not finish, or `inputs` when something
    that was there when the sitting was received is gone; `missing` names it.
    """

    planned: PlannedSitting
    failed_stage: str | None
    missing: str | None = None

    @property
    def sitting(self) -> SittingId:
        return self.planned.sitting

    @property
    def log(self) -> str:
        """Folder of the sitting's logs, relative to the clinic."""
        return self.planned.logs


def without_missing_inputs(clinic: Clinic, plan: Plan) -> tuple[Plan, list[Outcome]]:
    """Take out sittings whose inputs are gone: one would stop the whole graph."""
    good, broken = [], []
    for planned in plan.sittings:
        missing = _missing_input(clinic, planned)
        if missing:
            broken.append(Outcome(planned, "inputs", missing))
        else:
            good.append(planned)
    return Plan(sittings=tuple(good)), broken


def _missing_input(clinic: Clinic, planned: PlannedSitting) -> str | None:
    gone = next((i for i in planned.inputs if not (clinic.root / i).exists()), None)
    if gone:
        return gone
    try:
        load_settings(planned.settings)
    except AftersitError:
        return f"settings version {planned.settings}"
    return None


def outcome_of(clinic: Clinic, planned: PlannedSitting) -> Outcome:
    """Look for the first stage whose file is missing.

    Snakemake removes the files of a step that failed and leaves those of later
    steps from an earlier run alone, so the first gap is the failed step. The
    last stage's file is named by the revision: results of an earlier one never
    count.
    """
    for stage, files in planned.stages.items():
        if not all((clinic.root / file).is_file() for file in files):
            return Outcome(planned, stage)
    return Outcome(planned, None)


def settle_outcomes(clinic: Clinic, plan: Plan) -> list[Outcome]:
    """Outcomes of a run; finished sittings are marked so in the ledger."""
    ledger = Ledger(clinic)
    outcomes = [outcome_of(clinic, planned) for planned in plan.sittings]
    for outcome in (o for o in outcomes if o.failed_stage is None):
        planned, entry = outcome.planned, ledger.read(outcome.sitting)
        if entry:
            done = Finished(revision=planned.revision, outputs=(*planned.records, *planned.pages))
            ledger.write(entry.model_copy(update={"finished": done}))
    return outcomes
