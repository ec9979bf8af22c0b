"""Research ids and date shifts: secret, stable for a partner, unrelated to client codes.

Both come from a keyed hash (HMAC-SHA-256, RFC 2104) whose key never leaves the clinic, and
stand in the partner's table from then on: the table counts, even if the key is lost.
"""

import csv
import datetime as dt
import hashlib
import hmac
import io
import os
import secrets
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
    clinic: Clinic, partner: str, firsts: dict[str, dt.date]
) -> dict[str, Pseudonym]:
    """Pseudonyms of these clients; new ones are added to the partner's table.

    Parameters
    ----------
    firsts : dict
        Client -> day of the sitting that came first.
    """
    known = read_pseudonyms(clinic, partner)
    new = sorted(set(firsts) - set(known))
    if new:
        secret = _secret(clinic)
        for client in new:
            taken = {p.research_id for p in known.values()}
            known[client] = _pseudonym(secret, partner, client, firsts[client], taken)
        _write(partner_table(clinic, partner), known)
    return {client: known[client] for client in firsts}


def all_research_ids(clinic: Clinic) -> dict[str, set[str]]:
    """Partner -> ids that were given out for it."""
    tables = sorted(clinic.root.glob("partners/*.csv"))
    return {
        p.stem: {one.research_id for one in read_pseudonyms(clinic, p.stem).values()}
        for p in tables
    }


def _pseudonym(
    secret: bytes, partner: str, client: str, first: dt.date, taken: Iterable[str]
) -> Pseudonym:
    research_id = next(
        one for one in _candidates(secret, partner, client) if one not in taken and one != client
    )
    number = int.from_bytes(_keyed(secret, "shift", partner, client))
    target = _FIRST + dt.timedelta(days=number % _DAYS)
    return Pseudonym(research_id, (target - first).days)


def _candidates(secret: bytes, partner: str, client: str) -> Iterator[str]:
    for attempt in range(1000):
        number = int.from_bytes(_keyed(secret, "id", partner, client, str(attempt)))
        letters = []
        for _ in range(_LENGTH):
            number, rest = divmod(number, len(_LETTERS))
            letters.append(_LETTERS[rest])
        yield "".join(letters)


def _keyed(secret: bytes, *parts: str) -> bytes:
    return hmac.new(secret, "\0".join(parts).encode(), hashlib.sha256).digest()


def _secret(clinic: Clinic) -> bytes:
    """The clinic's key for research ids, made when it is first needed."""
    path = clinic.state / "research-secret"
    if not path.is_file():
        write_atomically(path, secrets.token_hex(32))
    os.chmod(path, 0o600)
    return bytes.fromhex(path.read_text())


def _write(path: Path, known: dict[str, Pseudonym]) -> None:
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(_COLUMNS)
    rows.writerows((c, p.research_id, p.shift_days) for c, p in sorted(known.items()))
    write_atomically(path, out.getvalue())
    os.chmod(path, 0o600)
