"""One night: receive, run the workflow, say what became of everything."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from aftersit.clinic import Clinic
from aftersit.night.ledger import Ledger
from aftersit.night.lock import night_lock
from aftersit.night.outcome import (
    Outcome,
    settle_outcomes,
    without_missing_inputs,
)
from aftersit.night.plan import Plan, plan_path, saved_plan, unfinished
from aftersit.night.provenance import write_provenance
from aftersit.night.receive import Arrivals, Receiver
from aftersit.night.report import NightReport
from aftersit.night.settings import NightSettings, load_night_settings
from aftersit.night.snakemake import run_workflow
from aftersit.night.status import note_night
from aftersit.pages.words import clinic_words
from aftersit.settings import load_settings

Say = Callable[[str], None]


@dataclass(frozen=True)
class NightResult:
    """How a night ended."""

    arrivals: Arrivals
    outcomes: list[Outcome]
    digest: Path | None
    workflow_broke: bool = False

    @property
    def failed(self) -> int:
        return sum(o.failed_stage is not None for o in self.outcomes)

    @property
    def exit_code(self) -> int:
        if self.failed or self.workflow_broke:
            return 4
        return 3 if self.arrivals.set_aside else 0


def receiver(clinic: Clinic) -> Receiver:
    """The receiver for a clinic, with its settings read and checked."""
    clinic_settings = clinic.read_settings()
    return Receiver(
        clinic=clinic,
        clinic_settings=clinic_settings,
        intake=load_settings(clinic_settings.settings).intake,
        night=load_night_settings(),
        ledger=Ledger(clinic),
    )


def run_night(clinic: Clinic, say: Say) -> NightResult:
    """Process all that came and is not finished, and write the digest.

    Raises
    ------
    AlreadyRunningError
        Another night holds this clinic.
    AftersitError
        The clinic's settings or words are broken; nothing was touched.
    """
    receiving = receiver(clinic)
    words = clinic_words(clinic, receiving.clinic_settings.language)  # a gap stops us here
    with night_lock(clinic.state) as lock:
        plan_path(clinic).unlink(missing_ok=True)  # a crash may have left one
        for folder in (clinic.inbox, clinic.set_aside, clinic.bids, clinic.reports):
            folder.mkdir(parents=True, exist_ok=True)
        started = dt.datetime.now(ZoneInfo(receiving.clinic_settings.time_zone))
        arrivals = receiving.receive()
        say_arrivals(arrivals, say)
        plan = unfinished(receiving.ledger)
        outcomes, broke = process(clinic, plan, receiving.night, lock, started, say)
        report = NightReport(
            clinic, receiving.clinic_settings.name, words, arrivals, outcomes, started
        )
        digest = report.write()
        result = NightResult(arrivals, outcomes, digest, broke)
        if result.exit_code != 4:
            note_night(clinic, dt.datetime.now(dt.UTC))
        return result


def say_arrivals(arrivals: Arrivals, say: Say) -> None:
    """One line for each kind of arrival; codes only."""
    for _, sitting in arrivals.received:
        say(f"received {sitting}")
    for _, sitting in arrivals.had_already:
        say(f"had already {sitting}")
    for _, problems in arrivals.set_aside:
        say(f"set aside one upload: {', '.join(p.code for p in problems)}")
    if arrivals.waiting:
        say(f"still being copied: {len(arrivals.waiting)}")


def process(
    clinic: Clinic, plan: Plan, night: NightSettings, lock: int, started: dt.datetime, say: Say
) -> tuple[list[Outcome], bool]:
    """Run the workflow over the plan, and mark what it finished.

    Returns
    -------
    outcomes : list of Outcome
        One for each planned sitting.
    broke : bool
        The workflow ended badly though no sitting did.
    """
    if not plan.sittings:
        say("nothing to process")
        return [], False
    say(f"processing {len(plan.sittings)} sittings")
    runnable, outcomes = without_missing_inputs(clinic, plan)
    with saved_plan(clinic, runnable):
        exit_code = run_workflow(clinic, night, lock)
    outcomes += settle_outcomes(clinic, runnable)
    for outcome in sorted(outcomes, key=lambda o: o.sitting):
        if outcome.failed_stage is None:
            write_provenance(clinic, outcome.planned, started)
        say(_told(outcome))
    broke = exit_code != 0 and all(o.failed_stage is None for o in outcomes)
    if broke:
        say("the workflow ended with an error; see .aftersit/logs/workflow.log")
    return outcomes, broke


def _told(outcome: Outcome) -> str:
    if outcome.failed_stage is None:
        return f"done {outcome.sitting}"
    if outcome.missing:
        return f"failed {outcome.sitting}: {outcome.missing} is missing"
    return f"failed {outcome.sitting} at {outcome.failed_stage}; see {outcome.log}"
