"""Receive uploads: each becomes a sitting, a new revision of one, or is set aside."""

import hashlib
import shutil
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from aftersit.clinic import Clinic, ClinicSettings, SittingId
from aftersit.files import sha256, write_atomically
from aftersit.intake.check import Accepted, Finding, check_upload
from aftersit.intake.problems import EXPORT_AGAIN, Problem, UploadError
from aftersit.intake.reasons import why_json, why_text
from aftersit.intake.settings import IntakeSettings
from aftersit.intake.upload_files import find_files
from aftersit.night.decide import Decision, decide
from aftersit.night.inbox import move, settled, unused
from aftersit.night.isolated import IsolatedError, isolated
from aftersit.night.ledger import Entry, Ledger
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
            code = hashlib.sha256(upload.name.encode()).hexdigest()[:8]
            log = self.clinic.state / "logs" / f"check-{code}.log"
            return Finding(problems=(_unreadable(error, log),), accepted=None)

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

    def decide(self, upload: Path, accepted: Accepted, entries: Iterable[Entry]) -> Decision:
        """What an accepted upload is to this clinic."""
        return decide(upload.name, accepted, entries, self.clinic_settings.settings)

    def _place(
        self,
        upload: Path,
        accepted: Accepted,
        entries: dict[SittingId, Entry],
        arrivals: Arrivals,
    ) -> None:
        """Do what was decided; `entries` is kept up to date."""
        decision = self.decide(upload, accepted, entries.values())
        if not _unchanged(upload, accepted):
            arrivals.waiting.append(upload.name)
        elif decision.problem:
            self._set_aside(upload, (decision.problem,), arrivals)
        elif decision.had_already:
            shutil.rmtree(upload)  # its recording and sheet are in originals/, byte for byte
            arrivals.had_already.append((upload.name, decision.had_already.sitting))
        else:
            entry = decision.entry
            self.ledger.write(entry)
            entries[entry.sitting] = entry
            move(upload, self.clinic.original(entry.sitting, entry.revision.number))
            arrivals.received.append((upload.name, entry.sitting))

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


def _unchanged(upload: Path, accepted: Accepted) -> bool:
    """Whether an upload still holds the bytes that were checked."""
    try:
        files = find_files(upload)
        return (sha256(files.recording), sha256([files.sheet])) == (
            accepted.recording_sha256,
            accepted.sheet_sha256,
        )
    except (UploadError, OSError):
        return False


def _unreadable(error: IsolatedError, log: Path) -> Problem:
    """A check that ended badly; where it broke is for the log, not for the page."""
    if error.code != "broken":
        return Problem(f"check-{error.code}", "recording", str(error), EXPORT_AGAIN)
    write_atomically(log, f"{error}\n")
    return Problem(
        code="check-broken",
        place="recording",
        found="reading it failed in a way that this program does not know",
        todo=(
            "keep the upload as it is and ask whoever looks after Aftersit to look at "
            f".aftersit/logs/{log.name}; if it is urgent, {EXPORT_AGAIN}"
        ),
    )
