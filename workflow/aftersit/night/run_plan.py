"""Run the workflow over a plan."""

from dataclasses import dataclass

from aftersit.clinic import Clinic
from aftersit.night.plan import Plan, plan_path, saved_plan
from aftersit.night.progress import Watch
from aftersit.night.settings import NightSettings
from aftersit.night.snakemake import run_workflow
from aftersit.night.times import mend_times


@dataclass(frozen=True)
class Ran:
    """How the workflow ended, and when it began by the clock of the disk."""

    exit_code: int
    since_ns: int


def run_plan(
    clinic: Clinic,
    plan: Plan,
    night: NightSettings,
    lock: int,
    *options: str,
    watch: Watch | None = None,
) -> Ran:
    """Save a plan, mend the times of what it is about, and run the workflow over it.

    Parameters are those of `run_workflow`.
    """
    with saved_plan(clinic, plan):
        mend_times(clinic, plan)
        since_ns = plan_path(clinic).stat().st_mtime_ns
        return Ran(run_workflow(clinic, night, lock, *options, watch=watch), since_ns)
