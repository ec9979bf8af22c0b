"""Who agreed to research, by the clinic's roster."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.people_table import read_rows

COLUMNS = ("client", "research_consent", "date")
Answer = Literal["given", "taken-back", "never-given"]


@dataclass(frozen=True)
class Row:
    """What one client answered on one day."""

    client: str
    agrees: bool
    date: dt.date


@dataclass(frozen=True)
class Roster:
    """All answers; a client may have several rows."""

    rows: tuple[Row, ...]

    def answer(self, client: str, day: dt.date) -> Answer:
        """What holds for a client on a day.

        The row with the latest date counts, later days left out; of two rows of one
        day, a no. A client without a row never gave consent.
        """
        rows = [r for r in self.rows if r.client == client and r.date <= day]
        if not rows:
            return "never-given"
        last = max(row.date for row in rows)
        if all(row.agrees for row in rows if row.date == last):
            return "given"
        return "taken-back" if any(row.agrees for row in rows) else "never-given"


def case_clashes(roster: Roster, clients: Iterable[str]) -> list[tuple[str, str]]:
    """Codes of the roster that are a client's but for upper and lower case, and that client's."""
    known = {client.casefold(): client for client in clients}
    codes = sorted({row.client for row in roster.rows})
    pairs = [(code, known.get(code.casefold(), code)) for code in codes]
    return [(code, client) for code, client in pairs if code != client]


def check_codes(roster: Roster, clients: Iterable[str]) -> int:
    """How many rows of the roster fit no client.

    Raises
    ------
    AftersitError
        A row may be meant for a client, but writes the code in another case.
    """
    known = set(clients)
    clashes = case_clashes(roster, known)
    if clashes:
        told = ", ".join(f"{code} for {client}" for code, client in clashes)
        raise AftersitError(
            f"roster.csv writes {told}; whose answer that is can't be told: "
            "write the code as the sheets do"
        )
    return sum(row.client not in known for row in roster.rows)


def roster_path(clinic: Clinic) -> Path:
    """Where the roster lies: private, never exported."""
    return clinic.root / "roster.csv"


def read_roster(clinic: Clinic) -> Roster:
    """Read `roster.csv`; columns beside the three needed ones are passed over.

    Raises
    ------
    AftersitError
        It is missing or no table in CSV UTF-8, or a row can't be read; says which row and
        what is allowed.
    """
    path = roster_path(clinic)
    if not path.is_file():
        raise AftersitError(
            "roster.csv is missing: without it nobody has given consent. "
            f"Write one with the columns {', '.join(COLUMNS)}"
        )
    lines = read_rows(path, "roster.csv", COLUMNS)
    return Roster(tuple(_row(number, line) for number, line in enumerate(lines, 2)))


def _row(number: int, line: dict) -> Row:
    client, answer, day = ((line[c] or "").strip() for c in COLUMNS)
    if answer.lower() not in ("yes", "no"):
        raise AftersitError(
            f"roster.csv, line {number}: research_consent is '{answer}'; allowed: yes, no"
        )
    try:
        date = dt.date.fromisoformat(day)
    except ValueError:
        raise AftersitError(
            f"roster.csv, line {number}: date is '{day}'; a date is written YYYY-MM-DD"
        ) from None
    return Row(client, answer.lower() == "yes", date)
