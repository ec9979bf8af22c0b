"""Nights without a workflow, in this process: what is around it, in a second or less."""

from dataclasses import replace

from aftersit.clinic import Clinic
from aftersit.intake.check import Finding
from aftersit.night import run, run_plan
from aftersit.night.plan import read_plan
from aftersit.night.receive import Receiver
from aftersit.night.run import NightResult, receiver
from aftersit.night.session import at_work
from aftersit.night.unreported import Arrivals

Findings = dict[str, Finding]
"""What intake says of uploads, by their names."""


def without_waiting(clinic: Clinic, findings: Findings | None = None) -> Receiver:
    """A receiver that does not wait between its two looks, and with `findings` reads nothing."""
    made = receiver(clinic)
    made = replace(made, night=made.night.model_copy(update={"settle_s": 0}))
    if findings is not None:
        object.__setattr__(made, "check", lambda upload: findings[upload.name])
    return made


def findings_of(clinic: Clinic) -> Findings:
    """What intake says of all that lies in the inbox."""
    return {p.name: without_waiting(clinic).check(p) for p in clinic.inbox.iterdir()}


def receive(clinic: Clinic, findings: Findings | None = None) -> Arrivals:
    """Empty the inbox, and forget what a digest would tell."""
    quick = without_waiting(clinic, findings)
    with at_work(clinic):
        arrivals = quick.receive()
    quick.unreported.clear()
    return arrivals


class IdleWorkflow:
    """Stands for the workflow: makes nothing, fails, and remembers what it was asked for."""

    def __init__(self):
        self.asked = []

    def __call__(self, clinic: Clinic, *_, watch=None) -> int:
        self.asked.append([str(one.sitting) for one in read_plan(clinic).sittings])
        return 1


def run_night(clinic: Clinic, monkeypatch) -> tuple[NightResult, list[str], list[list[str]]]:
    """A night whose workflow makes nothing: result, lines said, sittings the workflow got."""
    workflow, said = IdleWorkflow(), []
    monkeypatch.setattr(run_plan, "run_workflow", workflow)
    monkeypatch.setattr(run, "receiver", without_waiting)
    return run.run_night(clinic, said.append), said, workflow.asked
