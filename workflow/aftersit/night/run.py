"""One night: receive, run the workflow, say what became of everything."""

import contextlib
import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from aftersit.change.frozen import edited
from aftersit.clinic import Clinic, SittingId
from aftersit.counted import counted
from aftersit.night.client_pages import outdated, with_progress
from aftersit.night.disk import without_those_too_large
from aftersit.night.kept_settings import clinic_settings as settings_of
from aftersit.night.kept_settings import keep_settings
from aftersit.night.layout import PROGRESS_LOGS, WORKFLOW_LOG
from aftersit.night.ledger import Ledger
from aftersit.night.lock import AlreadyRunningError
from aftersit.night.models import register_models
from aftersit.night.older import follow_the_program
from aftersit.night.outcome import (
    Outcome,
    full_disk,
    mark_finished,
    outcome_of,
    reason_in,
    without_missing_inputs,
)
from aftersit.night.plan import Plan, plan_of, unfinished
from aftersit.night.progress import watch
from aftersit.night.provenance import write_provenance
from aftersit.night.receive import Receiver
from aftersit.night.register import Register
from aftersit.night.report import NightReport
from aftersit.night.run_plan import run_plan
from aftersit.night.session import at_work
from aftersit.night.settings import NightSettings, load_night_settings
from aftersit.night.snakemake import ONLY_PROGRESS
from aftersit.night.stamp import drop_broken_stamps
from aftersit.night.status import FAILED, note_night
from aftersit.night.unreported import Arrivals, Unreported
from aftersit.pages.words import Words, clinic_words

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
            return FAILED
        return 3 if self.arrivals.set_aside else 0


def receiver(clinic: Clinic) -> Receiver:
    """The receiver for a clinic, with its settings read and checked."""
    clinic_settings = clinic.read_settings()
    return Receiver(
        clinic=clinic,
        clinic_settings=clinic_settings,
        intake=settings_of(clinic, clinic_settings.settings).intake,
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
    OSError
        The disk is full, or can't be written.
    """
    receiving = receiver(clinic)
    words = clinic_words(clinic, receiving.clinic_settings.language)  # a gap stops us here
    try:
        with at_work(clinic) as lock:
            result = _run(receiving, words, lock, say)
            note_night(clinic, dt.datetime.now(dt.UTC), result.exit_code)
            return result
    except AlreadyRunningError:
        raise
    except Exception:
        with contextlib.suppress(OSError):
            note_night(clinic, dt.datetime.now(dt.UTC), FAILED)
        raise


def _run(receiving: Receiver, words: Words, lock: int, say: Say) -> NightResult:
    clinic, ledger, settings = receiving.clinic, receiving.ledger, receiving.clinic_settings
    started = dt.datetime.now(ZoneInfo(settings.time_zone))
    arrivals = receiving.receive()
    say_arrivals(arrivals, say)
    for edit in edited(clinic):
        say(f"not used: {edit.file} was edited after its first use; {edit.command}")
    night = Night(clinic, ledger, receiving.night, lock, started, say)
    before = receiving.unreported.finished()
    follow_the_program(clinic, ledger, say)
    outcomes, broke = night.process(unfinished(ledger))
    broke = not night.write_progress() or broke
    told = [*told_before(ledger, before, outcomes), *outcomes]
    report = NightReport(clinic, ledger, settings.name, words, arrivals, told, started)
    result = NightResult(arrivals, outcomes, report.write(), broke)
    receiving.unreported.clear()
    return result


def told_before(ledger: Ledger, finished: set[SittingId], outcomes: list[Outcome]) -> list[Outcome]:
    """Outcomes of an interrupted night that no digest tells yet."""
    again = {o.sitting for o in outcomes}
    entries = (ledger.read(sitting) for sitting in sorted(finished - again))
    plan = plan_of(e for e in entries if e and ledger.is_finished(e))
    whole, damaged_since = without_missing_inputs(ledger.clinic, plan)
    return [*map(Outcome, whole.sittings), *damaged_since]


def say_arrivals(arrivals: Arrivals, say: Say) -> None:
    """One line for each kind of arrival; codes only."""
    for sitting in arrivals.received.values():
        say(f"received {sitting}")
    for sitting in arrivals.had_already.values():
        say(f"had already {sitting}")
    for problems in arrivals.set_aside.values():
        say(f"set aside one upload: {', '.join(p.code for p in problems)}")
    if arrivals.waiting:
        say(f"still being copied: {len(arrivals.waiting)}")
    if arrivals.denied:
        say(f"in the inbox, and not for this user to read and move: {len(arrivals.denied)}")


@dataclass(frozen=True)
class Night:
    """The processing of a night's plan."""

    clinic: Clinic
    ledger: Ledger
    settings: NightSettings
    lock: int
    started: dt.datetime
    say: Say

    def process(self, plan: Plan) -> tuple[list[Outcome], bool]:
        """Run the workflow over the plan, and mark what it finished.

        Returns
        -------
        outcomes : list of Outcome
            One for each planned sitting.
        broke : bool
            The workflow ended badly though no sitting did.
        """
        if not plan.sittings:
            self.say("nothing to process")
            return [], False
        self.say(f"processing {counted(len(plan.sittings), 'sitting')}")
        there, outcomes = without_missing_inputs(self.clinic, plan)
        fitting, too_large = without_those_too_large(self.clinic, there, self.settings)
        exit_code, made = self._run(fitting)
        outcomes = sorted([*outcomes, *too_large, *made], key=lambda o: o.sitting)
        for outcome in outcomes:
            self._conclude(outcome)
        broke = exit_code != 0 and all(o.failed_stage is None for o in outcomes)
        broke = broke and not outdated(self.clinic, self.ledger).clients  # tried once more
        if broke:
            self.say(f"the workflow ended with an error; see {WORKFLOW_LOG}")
        return outcomes, broke

    def write_progress(self) -> bool:
        """Bring progress pages that are not up to date to it; whether all could be written.

        Those of a client one of whose sittings failed, mostly: the others were made with theirs.
        """
        plan = outdated(self.clinic, self.ledger)
        if not plan.clients:
            return True
        ran = run_plan(self.clinic, plan, self.settings, self.lock, *ONLY_PROGRESS)
        if ran.exit_code:
            self._tell_failed_progress(plan, ran.since_ns)
        return ran.exit_code == 0

    def _tell_failed_progress(self, plan: Plan, since_ns: int) -> None:
        left = outdated(self.clinic, self.ledger).clients
        for client in (c for c in plan.clients if c in left):
            folder = self.clinic.root / PROGRESS_LOGS.format(client=client)
            why = reason_in(folder.glob("*.log"), since_ns) or full_disk(self.clinic)
            self.say(f"failed progress of {client}{f': {why}' if why else ''}")
        self.say("some progress pages could not be written; see .aftersit/logs/")

    def _run(self, plan: Plan) -> tuple[int, list[Outcome]]:
        """The workflow's exit code, and what became of its sittings."""
        if not plan.sittings:
            return 0, []
        for label in plan.labels:
            keep_settings(self.clinic, label, Register(self.clinic))
        drop_broken_stamps(self.clinic, plan)
        shown = watch(self.say)
        whole = with_progress(self.clinic, self.ledger, plan)
        ran = run_plan(self.clinic, whole, self.settings, self.lock, watch=shown)
        register_models(self.clinic, plan, shown.progress.done)
        outcomes = [outcome_of(self.clinic, one, ran.since_ns) for one in plan.sittings]
        return ran.exit_code, outcomes

    def _conclude(self, outcome: Outcome) -> None:
        """Write a finished sitting's provenance, mark it done, and say how it ended."""
        if outcome.failed_stage is None:
            write_provenance(self.clinic, outcome.planned, self.started)
            Unreported(self.clinic).done(outcome.sitting)
            mark_finished(self.ledger, outcome.planned)
        self.say(_told(outcome))


def _told(outcome: Outcome) -> str:
    if outcome.failed_stage is None:
        return f"done {outcome.sitting}"
    see = f"; see {outcome.log}" if outcome.log else ""
    why = f": {outcome.reason}" if outcome.reason else ""
    return f"failed {outcome.sitting} at {outcome.failed_stage}{why}{see}"
