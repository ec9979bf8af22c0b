"""Research ids and date shifts: secret, stable for a partner, unrelated to client codes.

Both are drawn at random when a client first goes to a partner, and stand in the partner's
table from then on. Nothing else leads to them: once a row is erased, its id can't come back,
not even for somebody who is given the same code later.
"""

import csv
import datetime as dt
import io
import os
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.files import write_atomically

_LETTERS = "BCDFGHJKMNPQRSTVWXZ23456789"
"""Without vowels, so that no word comes about; without 0, 1, L, so that all can be read."""
_LENGTH = 8
_COLUMNS = ("client", "research_id", "shift_days")

EARLIEST, LATEST = dt.date(1902, 1, 1), dt.date(1925, 12, 31)
"""Shifted dates lie between: BIDS asks for 1925 or earlier, and mne reads none before
13 December 1901 (32 bits of seconds)."""
_FIRST, _DAYS = dt.date(1904, 1, 1), 3653
"""A client's first sitting comes to lie in these ten years; twelve more are left for later ones."""


@dataclass(frozen=True)
class Pseudonym:
    """What stands for a client at one partner."""

    research_id: str
    shift_days: int
    """Added to each of the client's dates."""


def partner_table(clinic: Clinic, partner: str) -> Path:
    """The table of one partner's ids: private, never exported."""
    return clinic.root / "partners" / f"{partner}.csv"


def read_pseudonyms(clinic: Clinic, partner: str) -> dict[str, Pseudonym]:
    """Client -> pseudonym, as they were given out.

    Raises
    ------
    AftersitError
        The table was changed so that it can't be read.
    """
    path = partner_table(clinic, partner)
    if not path.is_file():
        return {}
    try:
        rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
        found = {r["client"]: Pseudonym(r["research_id"], int(r["shift_days"])) for r in rows}
    except (KeyError, TypeError, ValueError):
        raise AftersitError(
            f"partners/{partner}.csv can't be read; put it back from a backup, "
            "since the ids in it must stay as they are"
        ) from None
    if len({p.research_id for p in found.values()}) < len(rows):
        raise AftersitError(f"partners/{partner}.csv has a client or a research id twice")
    return found


def give_pseudonyms(
    clinic: Clinic,
    partner: str,
    firsts: dict[str, dt.date],
    draw: random.Random | None = None,
) -> dict[str, Pseudonym]:
    """Pseudonyms of these clients; new ones are added to the partner's table.

    Parameters
    ----------
    firsts : dict
        Client -> day of the sitting that came first.
    draw : random.Random, optional
        The operating system's own source (`random.SystemRandom`), but for tests.
    """
    known = read_pseudonyms(clinic, partner)
    new = sorted(set(firsts) - set(known))
    if new:
        draw = draw or random.SystemRandom()
        for client in new:
            taken = {client, *(p.research_id for p in known.values())}
            known[client] = _drawn(draw, firsts[client], taken)
        _write(partner_table(clinic, partner), known)
    return {client: known[client] for client in firsts}


def all_research_ids(clinic: Clinic) -> dict[str, set[str]]:
    """Partner -> ids that were given out for it."""
    tables = sorted(clinic.root.glob("partners/*.csv"))
    return {
        p.stem: {one.research_id for one in read_pseudonyms(clinic, p.stem).values()}
        for p in tables
    }


def _drawn(draw: random.Random, first: dt.date, taken: Iterable[str]) -> Pseudonym:
    research_id = next(one for one in _candidates(draw) if one not in taken)
    target = _FIRST + dt.timedelta(days=draw.randrange(_DAYS))
    return Pseudonym(research_id, (target - first).days)


def _candidates(draw: random.Random) -> Iterator[str]:
    while True:
        yield "".join(draw.choices(_LETTERS, k=_LENGTH))


def _write(path: Path, known: dict[str, Pseudonym]) -> None:
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(_COLUMNS)
    rows.writerows((c, p.research_id, p.shift_days) for c, p in sorted(known.items()))
    write_atomically(path, out.getvalue())
    os.chmod(path, 0o600)
