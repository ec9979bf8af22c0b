"""The list of exports that were made: research ids only, one line for each bag or update."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from aftersit.archive.consent import read_roster, roster_path
from aftersit.archive.ids import read_pseudonyms
from aftersit.clinic import Clinic
from aftersit.closed import Closed
from aftersit.night.lines import add_line, read_lines


class Made(Closed):
    """One bag as it was made."""

    name: str
    partner: str
    day: dt.date
    dates: str
    people: dict[str, tuple[str, ...]]
    """Research id -> labels of the sittings."""
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


def describe(clinic: Clinic, day: dt.date) -> list[str]:
    """What `exports` prints."""
    lines = []
    for made in Exports(clinic).made():
        sittings = sum(map(len, made.people.values()))
        there = "" if (clinic.root / "exports" / made.name).is_dir() else ", no longer here"
        lines.append(
            f"{made.day}  exports/{made.name} for {made.partner}: "
            f"{len(made.people)} people, {sittings} sittings{there}"
        )
    lines = lines or ["no export was made yet"]
    return [*lines, *withdrawn_lines(clinic, day)]


def withdrawn_lines(clinic: Clinic, day: dt.date) -> list[str]:
    """Whom to tell the partners about; nothing when every consent still holds."""
    if not Exports(clinic).made():
        return []
    if not roster_path(clinic).is_file():
        return ["roster.csv is missing: whose consent to earlier exports holds can't be told"]
    gone = list(taken_back(clinic, day))
    if not gone:
        return []
    head = "consent does not hold any more; ask who has these exports to erase the person:"
    rows = [f"  {c}: {', '.join(f'exports/{name}' for name in names)}" for c, _, names in gone]
    return [head, *rows]
