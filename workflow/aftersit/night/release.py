"""Release a handout: record the review, and make the sitting's pages again."""

import datetime as dt
from zoneinfo import ZoneInfo

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Ledger
from aftersit.night.lock import night_lock
from aftersit.night.plan import Plan, PlannedSitting, planned, saved_plan
from aftersit.night.report import reviewed_files
from aftersit.night.settings import load_night_settings
from aftersit.night.snakemake import PAGE_RULES, run_workflow
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
    zone = ZoneInfo(clinic.read_settings().time_zone)
    with night_lock(clinic.state) as lock:
        one = _finished(clinic, sitting)
        made_from = reviewed_files(clinic, one)
        review.release(clinic, sitting, reviewer, made_from, dt.datetime.now(zone).date())
        with saved_plan(clinic, Plan(sittings=(one,))):
            exit_code = run_workflow(
                clinic, load_night_settings(), lock, "--allowed-rules", *PAGE_RULES
            )
        if exit_code or not review.reviewed(clinic, sitting, made_from):
            raise AftersitError(
                f"the review of {sitting} is recorded, but its pages could not be made again; "
                f"see {one.logs}"
            )
    return f"{sitting} is reviewed; the handout to give is {one.pages[-1]}"


def _finished(clinic: Clinic, sitting: SittingId) -> PlannedSitting:
    """The sitting as planned; AftersitError when it is unknown or not finished."""
    ledger = Ledger(clinic)
    entry = ledger.read(sitting)
    if entry is None:
        raise AftersitError(f"{clinic.root.name} has no sitting {sitting}; `status` lists them")
    if not ledger.is_finished(entry):
        raise AftersitError(f"{sitting} is not finished yet; run `nightly` first")
    return planned(entry)
