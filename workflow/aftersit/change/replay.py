"""Rescore any part of the archive: only what a change touches is computed.

Results stand under their own label and protocol version, beside the earlier ones. The
ledger says which are in force; the pages show those.
"""

import datetime as dt
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from aftersit.change.frozen import protocol_edit, settings_edit
from aftersit.change.rescore import Job, Scored, rescore
from aftersit.change.reuse import Reusable, link_stages, reusable
from aftersit.change.select import Request, Rescoring, Selected, labels, select
from aftersit.clinic import Clinic, SittingId
from aftersit.counted import counted
from aftersit.errors import AftersitError
from aftersit.head.region_set import read_regions
from aftersit.night.kept_protocols import keep_protocols
from aftersit.night.kept_settings import keep_settings, regions_file
from aftersit.night.ledger import Ledger
from aftersit.night.models import register_models
from aftersit.night.outcome import mark_finished, outcome_of, without_missing_inputs
from aftersit.night.plan import Plan, PlannedSitting
from aftersit.night.progress import watch
from aftersit.night.provenance import write_provenance
from aftersit.night.register import Register
from aftersit.night.report import to_review
from aftersit.night.run_plan import run_plan
from aftersit.night.session import at_work
from aftersit.night.settings import NightSettings, load_night_settings
from aftersit.night.snakemake import ONLY_PAGES
from aftersit.places import check_regions
from aftersit.protocol import load_protocol, protocol_path

Say = Callable[[str], None]
UP_TO_REGIONS = ("--until", "measure_regions")
_MEASURING = ("write_bids", "build_head", "draw_heads", "clean_recording", "measure_regions")


@dataclass
class Replayed:
    """What a rescoring did.

    Attributes
    ----------
    rules : Counter
        How often each step ran; `replay_protocol` counts what was scored.
    cpu_s : float
        Of the replays alone; the other steps' stand in their logs.
    failed : dict
        Sitting -> why it was not rescored.
    mended : set
        Sittings whose results had been changed since they were written.
    """

    rules: Counter = field(default_factory=Counter)
    cpu_s: float = 0.0
    stood: int = 0
    failed: dict[SittingId, str] = field(default_factory=dict)
    mended: set[SittingId] = field(default_factory=set)
    in_force: int = 0

    @property
    def exit_code(self) -> int:
        return 4 if self.failed else 0


def replay(
    clinic: Clinic, request: Request, say: Say, night: NightSettings | None = None
) -> Replayed:
    """Rescore what the request asks for.

    Raises
    ------
    FrozenError
        The protocol or settings version was edited after its first use.
    AftersitError
        It does not exist or can't be read, or nothing fits the request.
    AlreadyRunningError
        A night is running.
    """
    with at_work(clinic) as lock:
        ledger = Ledger(clinic)
        _freeze_protocol(clinic, request)
        selected = select(clinic, ledger, request)
        _say_selected(selected, say)
        if not selected.rescorings:
            raise AftersitError("no sitting to rescore; see the lines above")
        for label in labels(selected.rescorings):
            _freeze_settings(clinic, label)
        run = _Run(clinic, ledger, night or load_night_settings(), lock, say)
        return run.all(selected.rescorings)


def _freeze_protocol(clinic: Clinic, request: Request) -> None:
    """Refuse an edited version; keep a copy of one that is used for the first time."""
    if request.protocol is None:
        return
    edit = protocol_edit(clinic, request.protocol, request.version)
    if edit:
        raise edit.error
    if not protocol_path(clinic.kept_protocols, request.protocol, request.version).is_file():
        chosen = load_protocol(clinic.protocols, request.protocol, request.version)
        label = request.settings or clinic.read_settings().settings
        check_regions(chosen, read_regions(regions_file(clinic, label)))
        keep_protocols(clinic, {request.protocol: request.version}, Register(clinic))


def _freeze_settings(clinic: Clinic, label: str) -> None:
    edit = settings_edit(clinic, label)
    if edit:
        raise edit.error
    keep_settings(clinic, label, Register(clinic))


def _say_selected(selected: Selected, say: Say) -> None:
    for reason, count in sorted(selected.left_out.items()):
        say(f"left out, {reason}: {count}")
    say(f"rescoring {counted(len(selected.rescorings), 'sitting')}")


@dataclass
class _Run:
    """One rescoring while the clinic is held."""

    clinic: Clinic
    ledger: Ledger
    night: NightSettings
    lock: int
    say: Say
    done: Replayed = field(default_factory=Replayed)

    def all(self, rescorings: Sequence[Rescoring]) -> Replayed:
        there = self._with_inputs(rescorings)
        measured = self._measured(there)
        scored = self._scored(measured)
        self._put_in_force([r for r in scored if r.in_force])
        for sitting, why in sorted(self.done.failed.items()):
            self.say(f"failed {sitting}: {why}")
        ran = ", ".join(f"{rule} {n}" for rule, n in sorted(self.done.rules.items())) or "none"
        self.say(f"steps that ran: {ran}; results that stood already: {self.done.stood}")
        return self.done

    def _fail(self, sitting: SittingId, why: str) -> None:
        self.done.failed[sitting] = why

    def _good(self, rescorings: Sequence[Rescoring]) -> list[Rescoring]:
        return [r for r in rescorings if r.before.sitting not in self.done.failed]

    def _with_inputs(self, rescorings: Sequence[Rescoring]) -> list[Rescoring]:
        _, bad = without_missing_inputs(self.clinic, _plan(rescorings))
        for outcome in bad:
            self._fail(outcome.sitting, outcome.reason or "what it is made from is gone")
        return self._good(rescorings)

    def _measured(self, rescorings: Sequence[Rescoring]) -> list[Rescoring]:
        """Link what stays the same, and compute the rest up to the region measures."""
        same: dict[tuple[str, str], Reusable] = {}
        for r in rescorings:
            pair = (r.before.settings, r.after.settings)
            same[pair] = same.get(pair) or reusable(self.clinic, *pair)
            link_stages(self.clinic, r.planned, *pair, same[pair])
        to_measure = [r for r in rescorings if not _is_measured(self.clinic, r, same)]
        if to_measure:
            self._workflow(_plan(to_measure), *UP_TO_REGIONS)
        for r in to_measure:
            self._note_unmeasured(r.planned)
        return self._good(rescorings)

    def _note_unmeasured(self, one: PlannedSitting) -> None:
        for stage in _MEASURING:
            if not all((self.clinic.root / f).is_file() for f in one.stages[stage]):
                self._fail(one.sitting, f"{stage} failed; see {one.logs}")
                return

    def _workflow(self, plan: Plan, *options: str) -> None:
        shown = watch(self.say)
        run_plan(self.clinic, plan, self.night, self.lock, *options, watch=shown)
        ran = [rule for rule in shown.progress.done if rule != "all"]
        self.done.rules.update(ran)
        register_models(self.clinic, plan, ran)

    def _scored(self, rescorings: Sequence[Rescoring]) -> list[Rescoring]:
        jobs = [Job(r.planned, name) for r in rescorings for name in r.protocols]
        for number, scored in enumerate(rescore(self.clinic, jobs, self.night), 1):
            self._count(scored)
            if number % 100 == 0:
                self.say(f"{number} of {len(jobs)} scored")
        return self._good(rescorings)

    def _count(self, scored: Scored) -> None:
        if scored.error:
            self._fail(scored.job.planned.sitting, scored.error)
        elif scored.stood_already:
            self.done.stood += 1
        else:
            self.done.rules["replay_protocol"] += 1
            self.done.cpu_s += scored.cpu_s
        if scored.mended:
            self._mended(scored.job)

    def _mended(self, job: Job) -> None:
        self.done.mended.add(job.planned.sitting)
        self.say(
            f"{job.planned.sitting} {job.protocol} v{job.version}: results were not as they had "
            "been written, and were made again"
        )

    def _put_in_force(self, rescorings: Sequence[Rescoring]) -> None:
        """Say so in the ledger, and make the pages anew; a night makes them after a crash."""
        changed = [r for r in rescorings if _others(r) or self._needs_pages(r)]
        reviewed = self._reviewed(changed)
        for r in changed:
            self.ledger.write(r.after)
        if not changed:
            return
        plan = _plan(changed)
        started = dt.datetime.now(ZoneInfo(self.clinic.read_settings().time_zone))
        self._workflow(plan, *ONLY_PAGES)
        for one in plan.sittings:
            outcome = outcome_of(self.clinic, one)
            if outcome.failed_stage:
                self._fail(one.sitting, f"{outcome.failed_stage} failed; see {one.logs}")
            else:
                write_provenance(self.clinic, one, started)
                mark_finished(self.ledger, one)
                self.done.in_force += 1
        self.say(f"in force now, with their pages: {counted(self.done.in_force, 'sitting')}")
        again = reviewed - self._reviewed(changed)
        if again:
            told = ", ".join(sorted(map(str, again)))
            self.say(f"handouts that were reviewed before and must be reviewed again: {told}")

    def _reviewed(self, rescorings: Sequence[Rescoring]) -> set[SittingId]:
        """Sittings whose handout, as it is in the ledger now, a person has reviewed."""
        wanted = {r.before.sitting for r in rescorings}
        entries = [e for e in self.ledger.entries() if e.sitting in wanted and e.finished]
        return {e.sitting for e in entries} - {e.sitting for e in to_review(self.clinic, entries)}

    def _needs_pages(self, r: Rescoring) -> bool:
        """Whether pages are missing, or may show figures that somebody changed."""
        return not self.ledger.is_finished(r.before) or r.before.sitting in self.done.mended


def _others(r: Rescoring) -> bool:
    """Whether other results are in force after than before."""
    return (r.before.protocols, r.before.settings) != (r.after.protocols, r.after.settings)


def _plan(rescorings: Sequence[Rescoring]) -> Plan:
    return Plan(sittings=tuple(r.planned for r in rescorings))


def _is_measured(clinic: Clinic, r: Rescoring, same: dict[tuple[str, str], Reusable]) -> bool:
    """Whether everything before the replay is there and stands."""
    one = r.planned
    there = all(
        (clinic.root / f).is_file()
        for stage in _MEASURING
        if stage != "draw_heads"
        for f in one.stages[stage]
    )
    return there and same[r.before.settings, r.after.settings].everything
