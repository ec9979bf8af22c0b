"""Release a handout: record the review, and make the sitting's pages again."""

import datetime as dt
from zoneinfo import ZoneInfo

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.outcome import mark_finished, outcome_of, without_missing_inputs
from aftersit.night.plan import Plan, planned
from aftersit.night.report import reviewed_files
from aftersit.night.run_plan import run_plan
from aftersit.night.session import at_work
from aftersit.night.settings import load_night_settings
from aftersit.night.snakemake import ONLY_PAGES
from aftersit.pages import review


def release(clinic: Clinic, sitting: SittingId, reviewer: str) -> str:
    """Record that `reviewer` read the sitting's result; returns what to tell the user.

    Raises
    ------
    AftersitError
        The sitting is unknown or not finished, what it is made from is gone or
        damaged, the code is none, or the pages could not be made again.
    AlreadyRunningError
        A night is running.
    """
    zone = ZoneInfo(clinic.read_settings().time_zone)
    with at_work(clinic) as lock:
        ledger = Ledger(clinic)
        entry = _finished(ledger, sitting)
        one = planned(entry)
        plan, damaged = without_missing_inputs(clinic, Plan(sittings=(one,)))
        if damaged:
            raise AftersitError(f"{sitting} can't be released: {damaged[0].reason}")
        made_from = reviewed_files(clinic, one)
        review.release(clinic, sitting, reviewer, made_from, dt.datetime.now(zone).date())
        ledger.write(entry.model_copy(update={"finished": None}))  # until the pages are whole
        run_plan(clinic, plan, load_night_settings(), lock, *ONLY_PAGES)
        done = outcome_of(clinic, one).failed_stage is None
        if not done or not review.reviewed(clinic, sitting, made_from):
            raise AftersitError(
                f"the review of {sitting} is recorded, but its pages could not be made again; "
                f"see {one.logs}. The next night tries again"
            )
        mark_finished(ledger, one)
    return f"{sitting} is reviewed; the handout to give is {one.pages[-1]}"


def _finished(ledger: Ledger, sitting: SittingId) -> Entry:
    """The sitting's entry; AftersitError when it is unknown or not finished."""
    entry = ledger.read(sitting)
    if entry is None:
        name = ledger.clinic.root.name
        raise AftersitError(f"{name} has no sitting {sitting}; `status` lists them")
    if not ledger.is_finished(entry):
        raise AftersitError(f"{sitting} is not finished yet; run `nightly` first")
    return entry
