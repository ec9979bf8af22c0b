"""Release a handout: record the review, and make the sitting's pages again."""

import datetime as dt
from zoneinfo import ZoneInfo

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Ledger
from aftersit.night.outcome import without_missing_inputs
from aftersit.night.plan import Plan, planned
from aftersit.night.report import reviewed_files
from aftersit.night.reword import finished, other_texts, pages_again
from aftersit.night.session import at_work
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
        entry = finished(ledger, sitting)
        one = planned(entry)
        _, damaged = without_missing_inputs(clinic, Plan(sittings=(one,)))
        if damaged:
            raise AftersitError(f"{sitting} can't be released: {damaged[0].reason}")
        made_from = reviewed_files(clinic, one)
        others = other_texts(clinic, entry)
        review.release(clinic, sitting, reviewer, made_from, dt.datetime.now(zone).date())
        failed = pages_again(ledger, [entry], lock)
        if failed or not review.reviewed(clinic, sitting, made_from):
            raise AftersitError(
                f"the review of {sitting} is recorded, but its pages could not be made again; "
                f"see {one.logs}. The next night tries again"
            )
    told = f"{sitting} is reviewed; the handout to give is {one.pages[-1]}"
    return told + (f"\n{' and '.join(others)} changed since: read it once more" if others else "")
