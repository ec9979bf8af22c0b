"""Sittings that an earlier version of the algorithms made.

A night never makes them again by itself. Only a sitting whose results it has to make
anyway (they are not all there, or its sheet's facts changed) moves to the program's own
version, since the program can't compute with another; the earlier results stay.
"""

from collections.abc import Callable, Iterable

from aftersit.algorithms import changed_since, current, label_of, split_label
from aftersit.clinic import Clinic
from aftersit.night.facts import facts_name, kept_facts
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.plan import planned


def made_before(entries: Iterable[Entry]) -> list[Entry]:
    """Those whose results in force are of an earlier version than the program's."""
    return [e for e in entries if split_label(e.settings)[1] < current()]


def what_changed(entries: Iterable[Entry]) -> list[str]:
    """One line for each version since the oldest of these."""
    oldest = min((split_label(e.settings)[1] for e in entries), default=current())
    return [
        f"  algorithms {v.number} ({', '.join(v.stages)}): {v.changes}"
        for v in changed_since(oldest)
    ]


def upgraded(entry: Entry) -> Entry:
    """The entry under the program's own version of the algorithms."""
    label = label_of(split_label(entry.settings)[0], current())
    received = entry.received_settings or entry.settings
    return entry.model_copy(
        update={"settings": label, "received_settings": received, "finished": None}
    )


def follow_the_program(clinic: Clinic, ledger: Ledger, say: Callable[[str], None]) -> None:
    """Move unfinished sittings whose results must be made anyway to the program's version."""
    for entry in made_before(ledger.entries()):
        if not ledger.is_finished(entry) and not _only_pages(clinic, entry):
            ledger.write(upgraded(entry))
            say(f"{entry.sitting} is made with algorithms {current()}; earlier results stay")


def _only_pages(clinic: Clinic, entry: Entry) -> bool:
    """Whether all records are there and the sheet's facts are those that they were made from."""
    one = planned(entry)
    there = all((clinic.root / record).is_file() for record in one.records)
    return there and kept_facts(clinic, one.sitting) == facts_name(clinic.root / one.sheet)
