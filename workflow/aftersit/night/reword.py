"""Make pages again that wait for a review, with what the clinic says of itself by now.

A handout that was reviewed may be in a client's hands: it stays as it is until it is released
again. Numbers stay the same: nothing before the pages is run.
"""

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from zoneinfo import ZoneInfo

from aftersit.clinic import Clinic, SittingId
from aftersit.counted import counted
from aftersit.errors import AftersitError
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.outcome import mark_finished, outcome_of, without_missing_inputs
from aftersit.night.plan import Plan, planned
from aftersit.night.provenance import read_inputs, sums_of_inputs, write_provenance
from aftersit.night.report import to_review
from aftersit.night.run_plan import run_plan
from aftersit.night.session import at_work
from aftersit.night.settings import load_night_settings
from aftersit.night.snakemake import ONLY_PAGES

OWN_TEXTS = ("clinic.yaml", "words.yaml")


def reword(clinic: Clinic, named: Sequence[SittingId], say: Callable[[str], None]) -> int:
    """Make the pages of these sittings again; without names, of all that `outdated` finds.

    Returns
    -------
    int
        0, or 4 where the pages of a sitting could not be made.

    Raises
    ------
    AftersitError
        A named sitting is unknown, not finished, or reviewed.
    AlreadyRunningError
        A night is running.
    """
    with at_work(clinic) as lock:
        ledger = Ledger(clinic)
        chosen = [_waiting(ledger, s) for s in named] or outdated(clinic, ledger.entries())
        failed = pages_again(ledger, chosen, lock) if chosen else {}
    for sitting, why in failed.items():
        say(f"failed {sitting}: {why}. The next night tries again")
    made = counted(len(chosen) - len(failed), "sitting")
    say(f"pages made again: {made}; reviewed handouts stay")
    return 4 if failed else 0


def outdated(clinic: Clinic, entries: Iterable[Entry]) -> list[Entry]:
    """Sittings that wait for a review with pages of an earlier `clinic.yaml` or `words.yaml`."""
    return with_other_texts(clinic, to_review(clinic, entries))


def with_other_texts(clinic: Clinic, entries: Sequence[Entry]) -> list[Entry]:
    """Sittings whose pages tell others of the clinic's own texts than there are now."""
    now = {label: sums_of_inputs(clinic, label) for label in {e.settings for e in entries}}
    return [e for e in entries if _others(clinic, e, now[e.settings])]


def other_texts(clinic: Clinic, entry: Entry) -> list[str]:
    """Which of the clinic's own texts are others than those that a sitting's pages tell."""
    return _others(clinic, entry, sums_of_inputs(clinic, entry.settings))


def _others(clinic: Clinic, entry: Entry, now: dict[str, str]) -> list[str]:
    then = read_inputs(clinic, entry.sitting)
    return [name for name in OWN_TEXTS if then and then.get(name) != now.get(name)]


def pages_again(ledger: Ledger, entries: Sequence[Entry], lock: int) -> dict[SittingId, str]:
    """Make the pages of finished sittings again; returns what failed, and why.

    Until its pages are whole a sitting counts as not finished, so that a night makes up for a
    crash.
    """
    clinic = ledger.clinic
    plan, bad = without_missing_inputs(clinic, Plan(sittings=tuple(map(planned, entries))))
    failed = {o.sitting: o.reason or "what it is made from is gone" for o in bad}
    waiting = [e for e in entries if e.sitting not in failed]
    for entry in waiting:
        ledger.write(entry.model_copy(update={"finished": None}))
    if waiting:
        started = dt.datetime.now(ZoneInfo(clinic.read_settings().time_zone))
        run_plan(clinic, plan, load_night_settings(), lock, *ONLY_PAGES)
        failed |= _marked(ledger, plan, started)
    return failed


def _marked(ledger: Ledger, plan: Plan, started: dt.datetime) -> dict[SittingId, str]:
    failed = {}
    for one in plan.sittings:
        if outcome_of(ledger.clinic, one).failed_stage:
            failed[one.sitting] = f"its pages could not be made; see {one.logs}"
        else:
            write_provenance(ledger.clinic, one, started)
            mark_finished(ledger, one)
    return failed


def finished(ledger: Ledger, sitting: SittingId) -> Entry:
    """The sitting's entry; AftersitError when it is unknown or not finished."""
    entry = ledger.read(sitting)
    if entry is None:
        raise ledger.unknown(sitting)
    if not ledger.is_finished(entry):
        raise AftersitError(f"{sitting} is not finished yet; run `nightly` first")
    return entry


def _waiting(ledger: Ledger, sitting: SittingId) -> Entry:
    entry = finished(ledger, sitting)
    if not to_review(ledger.clinic, [entry]):
        raise AftersitError(
            f"{sitting} is reviewed, so its handout stays as it was read; to make it with today's "
            f"words, release it again: scripts/aftersit release {sitting} --reviewer CODE"
        )
    return entry
