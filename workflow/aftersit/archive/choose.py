"""Which sittings a partner may have, and why not the others."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from aftersit.archive.consent import Roster
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.intake.upload_files import SHEET_NAME
from aftersit.nearest import there_is_no
from aftersit.night import layout
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.plan import PlannedSitting, planned
from aftersit.sheet import Practice, Sheet

Reason = Literal[
    "never-given", "taken-back", "not-for-research", "not-finished", "files-missing", "date-range"
]
REASONS: dict[Reason, str] = {
    "never-given": "the roster has no consent to research for this client",
    "taken-back": "the client took the consent to research back",
    "not-for-research": "its sheet says not_for_research",
    "not-finished": "it is not finished; run `nightly` first",
    "files-missing": "files of it are missing; run `audit`",
    "date-range": "its shifted date would leave 1902-1925, which BIDS and its readers allow",
}
WHERE = ("client", "practice", "protocol", "settings")


@dataclass(frozen=True)
class Chosen:
    """One sitting that is handed over, and where its files lie."""

    entry: Entry
    planned: PlannedSitting
    practice: str

    def path(self, clinic: Clinic, pattern: str, ending: str = "") -> Path:
        """A file of the sitting by its pattern of `night.layout`."""
        return clinic.root / (self.planned.place(pattern) + ending)


@dataclass(frozen=True)
class LeftOut:
    """One sitting that is not handed over."""

    sitting: str
    reason: Reason


def choose(
    clinic: Clinic, roster: Roster, day: dt.date, where: dict[str, set[str]]
) -> tuple[list[Chosen], list[LeftOut]]:
    """Sort the clinic's sittings.

    Parameters
    ----------
    clinic : Clinic
    roster : Roster
    day : date
        On which consent is looked up.
    where : dict
        Key of `WHERE` -> values that are wanted; sittings with another are passed over
        without a word.

    Raises
    ------
    AftersitError
        A value that nothing in this clinic has.
    """
    ledger, chosen, left_out = Ledger(clinic), [], []
    _check_values(ledger.entries(), where)
    for entry in ledger.entries():
        sheet = Sheet.from_yaml(clinic.root / planned(entry).original / SHEET_NAME)
        if not _is_wanted(entry, sheet, where):
            continue
        reason = _reason(clinic, ledger, roster, day, entry, sheet)
        if reason:
            left_out.append(LeftOut(str(entry.sitting), reason))
        else:
            chosen.append(Chosen(entry, planned(entry), sheet.practice.value))
    return chosen, left_out


def _check_values(entries: list[Entry], where: dict[str, set[str]]) -> None:
    known = {
        "client": {e.client for e in entries},
        "practice": {practice.value for practice in Practice},
        "protocol": {name for e in entries for name in e.protocols},
        "settings": {e.settings for e in entries},
    }
    for key, values in where.items():
        for value in sorted(values - known[key]):
            raise AftersitError(f"--where {key}={value}: {there_is_no(key, value, known[key])}")


def parse_where(texts: Iterable[str]) -> dict[str, set[str]]:
    """Read `practice=compassion,loving-kindness`; several are all to hold.

    Raises
    ------
    AftersitError
        A key that is none, or no value.
    """
    found: dict[str, set[str]] = {}
    for text in texts:
        key, _, values = text.partition("=")
        wanted = {value for value in values.split(",") if value}
        if key not in WHERE or not wanted:
            raise AftersitError(
                f"--where {text}: write KEY=VALUE[,VALUE]; keys: {', '.join(WHERE)}"
            )
        found[key] = found.get(key, wanted) & wanted
    return found


def _is_wanted(entry: Entry, sheet: Sheet, where: dict[str, set[str]]) -> bool:
    own = {
        "client": {entry.client},
        "practice": {sheet.practice.value},
        "protocol": set(entry.protocols),
        "settings": {entry.settings},
    }
    return all(own[key] & wanted for key, wanted in where.items())


def _reason(
    clinic: Clinic, ledger: Ledger, roster: Roster, day: dt.date, entry: Entry, sheet: Sheet
) -> Reason | None:
    answer = roster.answer(entry.client, day)
    if answer != "given":
        return answer
    if sheet.not_for_research:
        return "not-for-research"
    if not ledger.is_finished(entry):
        return "not-finished"
    return None if all((clinic.root / p).is_file() for p in _needed(entry)) else "files-missing"


def _needed(entry: Entry) -> list[str]:
    one = planned(entry)
    raw = [one.place(layout.RAW) + e for e in (*_SIGNAL, "_channels.tsv", "_events.tsv")]
    clean = [one.place(layout.CLEAN) + e for e in (*_SIGNAL, "_channels.tsv", "_events.tsv")]
    tables = ("_bandpower.tsv", "_aperiodic.tsv", "_spectra.tsv", "_regions.npz")
    return [*raw, *clean, *(one.place(layout.REGIONS) + e for e in tables), *one.records]


_SIGNAL = ("_eeg.vhdr", "_eeg.eeg", "_eeg.vmrk", "_eeg.json")
