"""The command that erases a client, and what it tells."""

import datetime as dt
import re
from pathlib import Path

from aftersit.archive.register import Exports
from aftersit.clinic import Clinic
from aftersit.counted import counted
from aftersit.errors import AftersitError
from aftersit.mentions import mentions, places_that_mention
from aftersit.night.erasing import Erasing, begin, finish, plan_erasure, uploads_of
from aftersit.night.inbox import may_take
from aftersit.night.session import at_work
from aftersit.night.whose import says_no_client, told_place, uploads
from aftersit.patterns import CODE_PATTERN
from aftersit.people_table import cells, loose_text


def erase(clinic: Clinic, client: str, today: dt.date) -> list[str]:
    """Remove a client from everywhere but earlier exports.

    Parameters
    ----------
    clinic : Clinic
        The clinic.
    client : str
        The client's code.
    today : date
        For the note that stays.

    Returns
    -------
    list of str
        What to tell the user: what went, which exports hold the client, and
        where the code still stands in files that people wrote.

    Raises
    ------
    AftersitError
        Nothing of this client is here.
    AlreadyRunningError
        A night is running.
    """
    clinic.read_settings()
    if not re.fullmatch(CODE_PATTERN, client):
        raise AftersitError(f"'{client}' is no client's code; it has 2 to 16 letters or digits")
    with at_work(clinic):
        exported = exports_with(clinic, client)
        going = plan_erasure(clinic, client, today)
        if not (going.sittings or going.folders or _is_mentioned(clinic, client)):
            raise AftersitError(f"there is nothing of client {client} in this clinic")
        _refuse_what_may_not_go(clinic, going)
        begin(clinic, going)
        finish(clinic)
        left = places_that_mention(clinic, {client}, clinic.root / "exports")
        unclear = [told_place(clinic, p) for p in uploads(clinic) if says_no_client(p)]
    return _told(going, exported, left, unclear)


def _refuse_what_may_not_go(clinic: Clinic, going: Erasing) -> None:
    """AftersitError when this user may not remove an upload: half an erasure helps nobody."""
    barred = [told_place(clinic, p) for p in uploads_of(clinic, going) if not may_take(p)]
    if barred:
        raise AftersitError(
            f"nothing erased: {', '.join(barred)} can't be removed by the user that runs this; "
            "make it theirs (`chown -R`), then start again"
        )


def exports_with(clinic: Clinic, client: str) -> list[str]:
    """Earlier exports that hold this client, by code or by a partner's research id."""
    ids = {client, *_research_ids(clinic, client)}
    found = places_that_mention(Clinic(clinic.root / "exports"), ids, Path())
    listed = Exports(clinic).holding(client)
    return sorted({Path(place).parts[0] for place in found} | set(listed))


def _research_ids(clinic: Clinic, client: str) -> set[str]:
    """The other cells of the client's rows in the partners' tables that can be an id."""
    rows = [
        row
        for path in sorted(clinic.root.glob("partners/*.csv"))
        for row in cells(loose_text(path).splitlines())
    ]
    own = {cell for row in rows if client in row for cell in row}
    return {cell for cell in own if cell.isalnum() and len(cell) > 1}


def _is_mentioned(clinic: Clinic, client: str) -> bool:
    tables = [clinic.root / "roster.csv", *clinic.root.glob("partners/*.csv")]
    return any(p.is_file() and mentions(p.read_text(errors="replace"), client) for p in tables)


def _told(going: Erasing, exported: list[str], left: list[str], unclear: list[str]) -> list[str]:
    uploads_too = counted(len(going.folders), "upload")
    lines = [f"erased {counted(going.sittings, 'sitting')} and {uploads_too} of this client"]
    if exported:
        lines.append("these earlier exports hold the client; ask who has them to erase it too:")
        lines += [f"  exports/{name}" for name in exported]
    if left:
        lines.append("the code still stands in these files; look at them yourself:")
        lines += [f"  {place}" for place in left]
    if unclear:
        lines.append("these uploads don't say whose they are; look at them yourself:")
        lines += [f"  {place}" for place in unclear]
    lines.append(f"a note without the code stays in {going.note}; backups are not touched")
    return lines
