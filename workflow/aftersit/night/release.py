"""Release a handout: record the review, and make the sitting's pages again."""

import datetime as dt
from zoneinfo import ZoneInfo

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Ledger
from aftersit.night.lock import night_lock
from aftersit.night.plan import plan_of, plan_path, planned, write_plan
from aftersit.night.report import reviewed_files
from aftersit.night.settings import load_night_settings
from aftersit.night.snakemake import run_workflow
from aftersit.pages import review


def release(clinic: Clinic, sitting: SittingId, reviewer: str) -> str:
    """Record that `reviewer` read the sitting's result; returns what to tell the user.

    Raises
    ------
    AftersitError
        The sitting is unknown or not finished, the code is none, or the pages
        could not be made again.
    AlreadyRunningError
        A night is running.
    """
    ledger = Ledger(clinic)
    entry = ledger.read(sitting)
    if entry is None:
        raise AftersitError(f"{clinic.root.name} has no sitting {sitting}; `status` lists them")
    if not ledger.is_finished(entry):
        raise AftersitError(f"{sitting} is not finished yet; run `nightly` first")
    one = planned(entry)
    made_from = reviewed_files(clinic, one)
    zone = ZoneInfo(clinic.read_settings().time_zone)
    with night_lock(clinic.state):
        review.release(clinic, sitting, reviewer, made_from, dt.datetime.now(zone).date())
        write_plan(clinic, plan_of([entry]))
        exit_code = run_workflow(clinic, load_night_settings())
        plan_path(clinic).unlink()
    if exit_code:
        raise AftersitError(
            f"the review of {sitting} is recorded, but its pages could not be made again; "
            f"see .aftersit/logs/{sitting.client}-{sitting.label}"
        )
    return f"{sitting} is reviewed; the handout to give is {one.pages[-1]}"
