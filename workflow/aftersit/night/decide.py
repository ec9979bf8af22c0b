"""What an accepted upload is to a clinic: a new sitting, a new sheet, or nothing new."""

from collections.abc import Iterable
from dataclasses import dataclass

from aftersit.intake.check import Accepted
from aftersit.intake.problems import Problem
from aftersit.night.ledger import Entry, Revision


@dataclass(frozen=True)
class Decision:
    """Exactly one: a problem, the entry as it will be, or the entry that has it already."""

    problem: Problem | None = None
    entry: Entry | None = None
    had_already: Entry | None = None


def decide(name: str, accepted: Accepted, entries: Iterable[Entry], settings: str) -> Decision:
    """Decide what an upload is.

    Parameters
    ----------
    name : str
        The upload's folder name.
    accepted : Accepted
        What its check found.
    entries : iterable of Entry
        The ledger.
    settings : str
        Label of the settings version that a new sitting is pinned to.
    """
    entries = list(entries)
    same = (e for e in entries if e.recording_sha256 == accepted.recording_sha256)
    known = next(same, None)
    if known is None:
        problem = _name_used(name, entries) or _case_differs(accepted, entries)
        return (
            Decision(problem)
            if problem
            else Decision(entry=_new_entry(name, accepted, entries, settings))
        )
    if known.client != accepted.sheet.client:
        return Decision(_other_client(known))
    if accepted.sheet_sha256 == known.revision.sheet_sha256:
        return Decision(had_already=known)
    return Decision(entry=_next_revision(name, accepted, known))


def _new_entry(name: str, accepted: Accepted, entries: list[Entry], settings: str) -> Entry:
    client = accepted.sheet.client
    return Entry(
        client=client,
        number=1 + max((e.number for e in entries if e.client == client), default=0),
        date=accepted.date,
        recording_sha256=accepted.recording_sha256,
        revisions=(Revision(number=1, upload=name, sheet_sha256=accepted.sheet_sha256),),
        protocols=accepted.protocols,
        settings=settings,
    )


def _next_revision(name: str, accepted: Accepted, known: Entry) -> Entry:
    """The entry with one more sheet; protocol versions once pinned stay."""
    revision = Revision(
        number=known.revision.number + 1, upload=name, sheet_sha256=accepted.sheet_sha256
    )
    pinned = {name: known.protocols.get(name, v) for name, v in accepted.protocols.items()}
    return known.model_copy(
        update={
            "revisions": (*known.revisions, revision),
            "protocols": pinned,
            "date": accepted.date,
        }
    )


def _name_used(name: str, entries: list[Entry]) -> Problem | None:
    """A different recording under a folder name that was used before."""
    if any(r.upload == name for e in entries for r in e.revisions):
        return Problem(
            code="upload-name-used",
            place="upload folder",
            found="an earlier upload with this folder name held another recording",
            todo="give the folder a new name if this is another sitting",
        )
    return None


def _case_differs(accepted: Accepted, entries: list[Entry]) -> Problem | None:
    """Codes that differ only in upper and lower case would share a folder on some disks."""
    code = accepted.sheet.client
    for entry in entries:
        if entry.client != code and entry.client.lower() == code.lower():
            return Problem(
                code="client-code-case",
                place="client",
                found=f"{code}, but this clinic already writes {entry.client}",
                todo="write the code the same way each time",
            )
    return None


def _other_client(known: Entry) -> Problem:
    return Problem(
        code="recording-of-another-client",
        place="client",
        found=f"the same recording was received before as {known.sitting}",
        todo="check which client this recording is of, and correct the sheet; if the sheet is "
        f"right and {known.sitting} is under the wrong client, see 'Under the wrong client' in "
        "the README: a sitting can't be moved, and `erase` takes this upload along",
    )
