"""How things stand, in a few lines."""

import datetime as dt
import json
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.files import write_json
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.report import to_review


def last_night_path(clinic: Clinic) -> Path:
    """Where the end of the last good night is kept."""
    return clinic.state / "last-night.json"


def note_night(clinic: Clinic, ended: dt.datetime) -> None:
    """Keep when a night ended in which nothing failed."""
    write_json(last_night_path(clinic), {"ended": ended.isoformat(timespec="seconds")})


def describe(clinic: Clinic, now: dt.datetime | None = None) -> list[str]:
    """Lines for the operator: the last good night, and what is open."""
    clinic.read_settings()
    now = now or dt.datetime.now(dt.UTC)
    ledger = Ledger(clinic)
    entries = list(ledger.entries())
    open_ones = [e for e in entries if not ledger.is_finished(e)]
    return [
        _last_night(clinic, now),
        f"sittings: {len(entries)}, of which not finished: {_listed(open_ones)}",
        f"in the inbox: {_folders(clinic.inbox)}; set aside: {_folders(clinic.set_aside)}",
        f"handouts not yet reviewed: {_listed(to_review(clinic, entries))}",
    ]


def _last_night(clinic: Clinic, now: dt.datetime) -> str:
    path = last_night_path(clinic)
    if not path.is_file():
        return "last good night: none yet"
    ended = dt.datetime.fromisoformat(json.loads(path.read_text())["ended"])
    hours = (now - ended).total_seconds() / 3600
    late = "; a night is missing" if hours > 30 else ""
    return f"last good night: {ended:%Y-%m-%d %H:%M}, {hours:.0f} hours ago{late}"


def _listed(entries: list[Entry], most: int = 8) -> str:
    names = [str(e.sitting) for e in entries[:most]]
    more = f" and {len(entries) - most} more" if len(entries) > most else ""
    return f"{len(entries)}" + (f" ({', '.join(names)}{more})" if names else "")


def _folders(folder: Path) -> int:
    if not folder.is_dir():
        return 0
    return sum(not p.name.startswith(".") for p in folder.iterdir())
