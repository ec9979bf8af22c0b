"""How things stand, in a few lines."""

import datetime as dt
import shutil
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from aftersit.archive.register import withdrawn_lines
from aftersit.change.frozen import edited
from aftersit.clinic import Clinic
from aftersit.closed import Closed
from aftersit.counted import counted
from aftersit.errors import AftersitError
from aftersit.files import write_atomically
from aftersit.night.erasing import unfinished
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.older import made_before, what_changed
from aftersit.night.report import to_review
from aftersit.night.reword import with_other_texts

FAILED = 4
"""Exit code of a night in which a sitting, or the night itself, failed."""
_LATE_HOURS = 30
_MISSING = "; A NIGHT IS MISSING"
_CLOCK_HOURS = 1.5
"""A clock may go back by an hour in autumn, without anything being wrong."""


def last_night_path(clinic: Clinic) -> Path:
    """Where the ends of the last night and of the last good one are kept."""
    return clinic.state / "last-night.json"


class LastNights(Closed):
    """`.aftersit/last-night.json`."""

    good: dt.datetime | None = None
    """End of the last night in which nothing failed."""
    ended: dt.datetime
    """End of the last night, good or not."""
    exit_code: int


def note_night(clinic: Clinic, ended: dt.datetime, exit_code: int) -> None:
    """Keep when a night ended, and how."""
    ended = ended.replace(microsecond=0)
    before = read_nights(clinic)
    failed_after = before.good if before else None
    good = failed_after if exit_code == FAILED else ended
    nights = LastNights(good=good, ended=ended, exit_code=exit_code)
    write_atomically(last_night_path(clinic), nights.model_dump_json(indent=2) + "\n")


def read_nights(clinic: Clinic) -> LastNights | None:
    """What `note_night` kept; None before the first night, and when it can't be read."""
    try:
        return LastNights.model_validate_json(last_night_path(clinic).read_bytes())
    except (FileNotFoundError, ValidationError):
        return None


def describe(clinic: Clinic, now: dt.datetime | None = None) -> list[str]:
    """Lines for the operator: the last good night, and what is open."""
    zone = ZoneInfo(clinic.read_settings().time_zone)
    now = now or dt.datetime.now(zone)
    ledger = Ledger(clinic)
    entries = ledger.entries()
    open_ones = [e for e in entries if not ledger.is_finished(e)]
    return [
        *_nights(clinic, now),
        *_erasure(clinic),
        f"sittings: {len(entries)}, of which not finished: {_listed(open_ones)}",
        f"in the inbox: {_folders(clinic.inbox)}; set aside: {_folders(clinic.set_aside)}",
        *_to_review(clinic, entries),
        *_older(entries),
        *(
            f"not used: {e.file} was edited after its first use; {e.command}"
            for e in edited(clinic)
        ),
        *_withdrawn(clinic, now.date()),
        f"free on the disk: {shutil.disk_usage(clinic.root).free / 10**9:.1f} GB",
    ]


def _erasure(clinic: Clinic) -> list[str]:
    """An erasure that was begun: until it is finished, nobody can rely on it."""
    try:
        erasing = unfinished(clinic)
    except AftersitError as error:
        return [f"AN ERASURE IS NOT FINISHED: {error}"]
    if erasing is None:
        return []
    begun = f"client {erasing.client}, begun on {erasing.date}"
    return [f"AN ERASURE IS NOT FINISHED: {begun}; `nightly` goes on with it"]


def _to_review(clinic: Clinic, entries: list[Entry]) -> list[str]:
    """Handouts that wait for a review, and those of them with words from before a change."""
    waiting = to_review(clinic, entries)
    lines = [f"handouts not yet reviewed: {_listed(waiting)}"]
    before = with_other_texts(clinic, waiting)
    if before:
        texts = "an earlier clinic.yaml or words.yaml"
        lines.append(f"of them with {texts}: {_listed(before)}; `reword` makes them again")
    return lines


def _withdrawn(clinic: Clinic, day: dt.date) -> list[str]:
    """Exports that hold people whose consent is gone; a roster that can't be read is told."""
    try:
        return withdrawn_lines(clinic, day)
    except AftersitError as error:
        return [str(error)]


def _older(entries: list[Entry]) -> list[str]:
    """Sittings whose results an earlier version of the algorithms made, and what changed since."""
    older = made_before(entries)
    lines = [f"made with earlier algorithms: {_listed(older)}; `replay --upgrade` makes them again"]
    return [*lines, *what_changed(older)] if older else []


def _nights(clinic: Clinic, now: dt.datetime) -> list[str]:
    """How old the last good night is, so that one that never ran is seen."""
    nights = read_nights(clinic)
    good = _age(nights.good, now) if nights and nights.good else _none_yet(clinic, now)
    lines = [f"last good night: {good}"]
    if nights and nights.exit_code == FAILED:
        lines.append(f"last night: failed, {_age(nights.ended, now)}")
    return lines


def _none_yet(clinic: Clinic, now: dt.datetime) -> str:
    """A clinic has a first night to come until it, or an upload, has been here for too long."""
    here = [clinic.settings_file, *(clinic.inbox.iterdir() if clinic.inbox.is_dir() else ())]
    since_s = min(path.lstat().st_ctime for path in here)
    late = now.timestamp() - since_s > _LATE_HOURS * 3600
    return f"none yet{_MISSING if late else ''}"


def _age(ended: dt.datetime, now: dt.datetime) -> str:
    hours = (now - ended).total_seconds() / 3600
    day = f"{ended.astimezone(now.tzinfo):%Y-%m-%d %H:%M}"
    if hours < -_CLOCK_HOURS:
        return f"{day}, which is still to come; the clock was changed"
    late = _MISSING if hours > _LATE_HOURS else ""
    return f"{day}, {counted(max(round(hours), 0), 'hour')} ago{late}"


def _listed(entries: list[Entry], most: int = 8) -> str:
    names = [str(e.sitting) for e in entries[:most]]
    more = f" and {len(entries) - most} more" if len(entries) > most else ""
    return f"{len(entries)}" + (f" ({', '.join(names)}{more})" if names else "")


def _folders(folder: Path) -> int:
    if not folder.is_dir():
        return 0
    return sum(not p.name.startswith(".") for p in folder.iterdir())
