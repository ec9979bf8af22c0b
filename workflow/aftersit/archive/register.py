"""The list of exports that were made: research ids only, one line for each bag or update."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from aftersit.archive.consent import case_clashes, read_roster, roster_path
from aftersit.archive.groups import Person
from aftersit.archive.ids import read_pseudonyms
from aftersit.clinic import Clinic
from aftersit.closed import Closed
from aftersit.counted import counted
from aftersit.night.ledger import Ledger
from aftersit.night.lines import add_line, read_lines
from aftersit.night.plan import planned
from aftersit.sheet import Sheet


class Made(Closed):
    """One bag as it was made."""

    name: str
    partner: str
    day: dt.date
    dates: str
    people: dict[str, tuple[str, ...]]
    """Research id -> labels of the sittings."""
    told: tuple[Person, ...]
    """What the bag tells of each of them beside the signal."""
    manifest_sha256: str
    small_groups_allowed_by: str | None = None


@dataclass(frozen=True)
class Exports:
    """`<clinic>/.aftersit/exports.jsonl`; lines are only added."""

    clinic: Clinic

    @property
    def path(self) -> Path:
        return self.clinic.state / "exports.jsonl"

    def made(self) -> list[Made]:
        """All bags and updates, in the order in which they were made."""
        return [Made.model_validate(line) for line in read_lines(self.path)]

    def add(self, made: Made) -> None:
        add_line(self.path, made.model_dump(mode="json"))

    def told(self, partner: str) -> list[Person]:
        """What a partner was ever told of people; somebody may be there several times."""
        return [one for made in self.made() if made.partner == partner for one in made.told]

    def holding(self, client: str) -> list[str]:
        """Names of the exports that ever held a client."""
        found = set()
        for made in self.made():
            pseudonym = read_pseudonyms(self.clinic, made.partner).get(client)
            if pseudonym and pseudonym.research_id in made.people:
                found.add(made.name)
        return sorted(found)


def taken_back(clinic: Clinic, day: dt.date) -> Iterator[tuple[str, str, list[str]]]:
    """Clients whose consent no longer holds: code, answer, and the exports that held them."""
    roster, exports = read_roster(clinic), Exports(clinic)
    partners = {made.partner for made in exports.made()}
    clients = {c for partner in partners for c in read_pseudonyms(clinic, partner)}
    for client in sorted(clients):
        answer, names = roster.answer(client, day), exports.holding(client)
        if answer != "given" and names:
            yield client, answer, names


def not_for_research_any_more(clinic: Clinic) -> Iterator[tuple[str, list[str]]]:
    """Sittings whose sheet says not_for_research by now, and the exports that held them."""
    held = _held_sittings(clinic)
    for entry in Ledger(clinic).entries() if held else ():
        names = held.get((entry.client, entry.sitting.label))
        path = clinic.root / planned(entry).sheet
        if names and path.is_file() and Sheet.from_yaml(path).not_for_research:
            yield str(entry.sitting), sorted(names)


def _held_sittings(clinic: Clinic) -> dict[tuple[str, str], set[str]]:
    """Client and label of a sitting -> names of the exports that ever held it."""
    found: dict[tuple[str, str], set[str]] = defaultdict(set)
    for made in Exports(clinic).made():
        clients = {p.research_id: c for c, p in read_pseudonyms(clinic, made.partner).items()}
        for research_id, labels in made.people.items():
            for label in labels if research_id in clients else ():
                found[clients[research_id], label].add(made.name)
    return found


def describe(clinic: Clinic, day: dt.date) -> list[str]:
    """What `exports` prints."""
    lines = []
    for made in Exports(clinic).made():
        sittings = sum(map(len, made.people.values()))
        there = "" if (clinic.root / "exports" / made.name).is_dir() else ", no longer here"
        people = counted(len(made.people), "person", "people")
        lines.append(
            f"{made.day}  exports/{made.name} for {made.partner}: "
            f"{people}, {counted(sittings, 'sitting')}{there}"
        )
    lines = lines or ["no export was made yet"]
    return [*lines, *withdrawn_lines(clinic, day)]


def withdrawn_lines(clinic: Clinic, day: dt.date) -> list[str]:
    """Whom to tell the partners about; nothing when every consent still holds."""
    if not Exports(clinic).made():
        return []
    if not roster_path(clinic).is_file():
        return ["roster.csv is missing: whose consent to earlier exports holds can't be told"]
    clients = {entry.client for entry in Ledger(clinic).entries()}
    clashes = case_clashes(read_roster(clinic), clients)
    lines = [f"roster.csv writes {code} for {client}; correct it" for code, client in clashes]
    gone = [(client, names) for client, _, names in taken_back(clinic, day)]
    lines += _rows(
        "consent does not hold any more; ask who has these exports to erase the person:", gone
    )
    return lines + _rows(
        "sheets say not_for_research by now; ask who has these exports to erase the sitting:",
        list(not_for_research_any_more(clinic)),
    )


def _rows(head: str, found: list[tuple[str, list[str]]]) -> list[str]:
    rows = [f"  {one}: {', '.join(f'exports/{name}' for name in names)}" for one, names in found]
    return [head, *rows] if rows else []
