"""Receive uploads: each becomes a sitting, a new revision of one, or is set aside."""

import shutil
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from aftersit.clinic import Clinic, ClinicSettings, SittingId
from aftersit.files import write_atomically
from aftersit.intake.check import Accepted, Finding, check_upload
from aftersit.intake.problems import EXPORT_AGAIN, Problem
from aftersit.intake.reasons import why_json, why_text
from aftersit.intake.settings import IntakeSettings
from aftersit.night.inbox import move, settled, unused
from aftersit.night.isolated import IsolatedError, isolated
from aftersit.night.ledger import Entry, Ledger, Revision
from aftersit.night.settings import NightSettings


@dataclass
class Arrivals:
    """What became of each upload of a night."""

    received: list[tuple[str, SittingId]] = field(default_factory=list)
    had_already: list[tuple[str, SittingId]] = field(default_factory=list)
    set_aside: list[tuple[str, tuple[Problem, ...]]] = field(default_factory=list)
    waiting: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Receiver:
    """Receives uploads into one clinic."""

    clinic: Clinic
    clinic_settings: ClinicSettings
    intake: IntakeSettings
    night: NightSettings
    ledger: Ledger

    def receive(self) -> Arrivals:
        """Empty the inbox of all that is whole.

        Sittings that arrive together are numbered by date and checksum, so
        that neither folder names nor the order of arrival decide.
        """
        arrivals = Arrivals()
        self._forget_what_did_not_move()
        ready, waiting = settled(self.clinic.inbox, self.night.settle_s)
        arrivals.waiting = [path.name for path in waiting]
        accepted = []
        if ready:
            import mne  # noqa: F401  (once here, instead of in every child)
        for upload in ready:
            finding = self.check(upload)
            if finding.accepted is None:
                self._set_aside(upload, finding.problems, arrivals)
            else:
                accepted.append((upload, finding.accepted))
        entries = {entry.sitting: entry for entry in self.ledger.entries()} if accepted else {}
        for upload, one in sorted(accepted, key=_arrival_order):
            self._place(upload, one, entries, arrivals)
        return arrivals

    def check(self, upload: Path) -> Finding:
        """What intake says of an upload; a child process does the reading."""
        try:
            return isolated(
                check_upload,
                upload,
                self.clinic,
                self.clinic_settings,
                self.intake,
                seconds=self.night.check_seconds,
                memory_bytes=self.night.check_memory_mb * 10**6,
            )
        except IsolatedError as error:
            return Finding(problems=(_unreadable(error),), accepted=None)

    def _forget_what_did_not_move(self) -> None:
        """Undo entries written just before a crash: their upload is still in the inbox."""
        for entry in list(self.ledger.entries()):
            last = entry.revision
            moved = self.clinic.original(entry.sitting, last.number).is_dir()
            if moved or not (self.clinic.inbox / last.upload).exists():
                continue
            if len(entry.revisions) == 1:
                self.ledger.path(entry.sitting).unlink()
            else:
                self.ledger.write(entry.model_copy(update={"revisions": entry.revisions[:-1]}))

    def _place(
        self,
        upload: Path,
        accepted: Accepted,
        entries: dict[SittingId, Entry],
        arrivals: Arrivals,
    ) -> None:
        """Decide what an accepted upload is, and move it; `entries` is kept up to date."""
        same = (e for e in entries.values() if e.recording_sha256 == accepted.recording_sha256)
        known = next(same, None)
        if known is None:
            problem = _name_used(upload, entries.values()) or _case_differs(
                accepted, entries.values()
            )
            entry = self._new_entry(upload, accepted, entries.values())
        elif known.client != accepted.sheet.client:
            problem, entry = _other_client(known), known
        elif accepted.sheet_sha256 in {r.sheet_sha256 for r in known.revisions}:
            shutil.rmtree(upload)  # every byte of it is in originals/ already
            arrivals.had_already.append((upload.name, known.sitting))
            return
        else:
            problem, entry = None, _next_revision(upload, accepted, known)
        if problem:
            self._set_aside(upload, (problem,), arrivals)
            return
        self.ledger.write(entry)
        entries[entry.sitting] = entry
        move(upload, self.clinic.original(entry.sitting, entry.revision.number))
        arrivals.received.append((upload.name, entry.sitting))

    def _new_entry(self, upload: Path, accepted: Accepted, entries: Iterable[Entry]) -> Entry:
        client = accepted.sheet.client
        number = 1 + max((e.number for e in entries if e.client == client), default=0)
        return Entry(
            client=client,
            number=number,
            date=accepted.date,
            recording_sha256=accepted.recording_sha256,
            revisions=(Revision(number=1, upload=upload.name, sheet_sha256=accepted.sheet_sha256),),
            protocols=accepted.protocols,
            settings=self.clinic_settings.settings,
        )

    def _set_aside(self, upload: Path, problems: tuple[Problem, ...], arrivals: Arrivals) -> None:
        """Keep the upload as it came; the reasons go in after the move."""
        target = unused(self.clinic.set_aside / upload.name)
        if upload.is_dir() and not upload.is_symlink():
            move(upload, target)
        else:
            move(upload, target / upload.name)
        write_atomically(target / "why.json", why_json(problems))
        write_atomically(target / "why.txt", why_text(target.name, problems))
        arrivals.set_aside.append((target.name, problems))


def _arrival_order(item: tuple[Path, Accepted]) -> tuple:
    _, accepted = item
    return (accepted.sheet.client, accepted.date, accepted.recording_sha256, accepted.sheet_sha256)


def _next_revision(upload: Path, accepted: Accepted, known: Entry) -> Entry:
    """The entry with one more sheet; protocol versions once pinned stay."""
    revision = Revision(
        number=known.revision.number + 1, upload=upload.name, sheet_sha256=accepted.sheet_sha256
    )
    pinned = {name: known.protocols.get(name, v) for name, v in accepted.protocols.items()}
    return known.model_copy(
        update={
            "revisions": (*known.revisions, revision),
            "protocols": pinned,
            "date": accepted.date,
        }
    )


def _name_used(upload: Path, entries: Iterable[Entry]) -> Problem | None:
    """A different recording under a folder name that was used before."""
    if any(r.upload == upload.name for e in entries for r in e.revisions):
        return Problem(
            code="upload-name-used",
            place="upload folder",
            found="an earlier upload with this folder name held another recording",
            todo="give the folder a new name if this is another sitting",
        )
    return None


def _case_differs(accepted: Accepted, entries: Iterable[Entry]) -> Problem | None:
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
        todo="check which client this recording is of, and correct the sheet",
    )


def _unreadable(error: IsolatedError) -> Problem:
    """A check that ended badly; its own words are for the log, not for the page."""
    found = "reading it failed in a way that is not known" if error.code == "broken" else str(error)
    return Problem(
        code=f"check-{error.code}",
        place="recording",
        found=found,
        todo=EXPORT_AGAIN,
    )
