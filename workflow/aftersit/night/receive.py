"""Receive uploads: each becomes a sitting, a new revision of one, or is set aside."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from aftersit.algorithms import current, label_of
from aftersit.clinic import Clinic, ClinicSettings
from aftersit.errors import AftersitError
from aftersit.files import sha256, write_atomically
from aftersit.intake.check import Accepted, Finding, check_upload
from aftersit.intake.problems import EXPORT_AGAIN, Problem, UploadError
from aftersit.intake.readers import load_readers
from aftersit.intake.reasons import remove_reasons, why_json, why_text
from aftersit.intake.settings import IntakeSettings
from aftersit.intake.upload_files import find_files
from aftersit.names import code_of, shown
from aftersit.night.contents import contents
from aftersit.night.decide import Decision, decide
from aftersit.night.inbox import may_take, remove, settled, unused
from aftersit.night.isolated import IsolatedError, isolated
from aftersit.night.kept_protocols import keep_protocols
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.moving import Mover
from aftersit.night.settings import NightSettings
from aftersit.night.unreported import Arrivals, Unreported


@dataclass(frozen=True)
class Receiver:
    """Receives uploads into one clinic."""

    clinic: Clinic
    clinic_settings: ClinicSettings
    intake: IntakeSettings
    night: NightSettings
    ledger: Ledger

    @property
    def unreported(self) -> Unreported:
        return Unreported(self.clinic)

    def receive(self) -> Arrivals:
        """Empty the inbox of all that is whole.

        What an interrupted night received, and could not report, is told again.
        Sittings that arrive together are numbered by date and checksum, so
        that neither folder names nor the order of arrival decide.
        """
        arrivals = self.unreported.arrivals()
        mover = Mover(self.clinic, self.ledger)
        ready, waiting = settled(self.clinic.inbox, self.night.settle_s)
        arrivals.waiting = [shown(path.name) for path in waiting]
        denied = [path for path in ready if not may_take(path)]
        arrivals.denied = [shown(path.name) for path in denied]
        ready = [path for path in ready if path not in denied]
        accepted = []
        if ready:
            load_readers()  # once here, instead of in every child
        for upload in ready:
            remove_reasons(upload)
            finding = self.check(upload)
            if finding.accepted:
                accepted.append((upload, finding.accepted))
            else:
                self._handle(upload, arrivals, self._set_aside, finding.problems, mover)
        for upload, one in sorted(accepted, key=self._arrival_order):
            self._handle(upload, arrivals, self._place, one, mover)
        return arrivals

    def _arrival_order(self, item: tuple[Path, Accepted]) -> tuple:
        """By client, date and checksums; what is there already goes before a newer sheet of it."""
        one = item[1]
        sums = (one.recording_sha256, one.sheet_sha256)
        known = {(e.recording_sha256, e.revision.sheet_sha256) for e in self.ledger.entries()}
        return (sums not in known, one.sheet.client, one.date, *sums)

    def _handle(self, upload: Path, arrivals: Arrivals, work: Callable, *arguments) -> None:
        """Do one upload's moves; one that this user may not move stays where it is."""
        try:
            work(upload, *arguments, arrivals)
        except PermissionError:
            arrivals.denied.append(shown(upload.name))

    @contextmanager
    def _booked(self, write: Callable, told: dict, name: str, what: object) -> Iterator[None]:
        """Write down what is done to an upload before it is done; taken back when it may not be."""
        write(name, what)
        told[name] = what
        try:
            yield
        except (PermissionError, AftersitError):
            self.unreported.take_back(name)
            del told[name]
            raise

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
            log = self.clinic.state / "logs" / f"check-{code_of(upload.name)}.log"
            return Finding(problems=(_unreadable(error, log),), accepted=None)

    def decide(self, upload: Path, accepted: Accepted) -> Decision:
        """What an accepted upload is to this clinic."""
        entries = self.ledger.entries()
        label = label_of(self.clinic_settings.settings, current())
        return decide(shown(upload.name), accepted, entries, label)

    def _place(self, upload: Path, accepted: Accepted, mover: Mover, arrivals: Arrivals) -> None:
        """Do what was decided."""
        name = shown(upload.name)
        if not _unchanged(upload, accepted):
            arrivals.waiting.append(name)
            return
        decision = self.decide(upload, accepted)
        known, entry = decision.had_already, decision.entry
        kept = known and self.clinic.original(known.sitting, known.revision.number)
        if kept and not os.path.exists(kept):
            known, entry = None, known  # what was lost came again
        problem = (
            decision.problem
            or (known and self._damaged(upload, accepted, kept))
            or (not known and self._taken(entry))
        )
        if problem:
            self._set_aside(upload, (problem,), mover, arrivals)
        elif known:
            with self._booked(
                self.unreported.had_already, arrivals.had_already, name, known.sitting
            ):
                remove(upload)  # its recording and sheet are in originals/, byte for byte
        else:
            self._take(upload, entry, mover, arrivals)

    def _take(self, upload: Path, entry: Entry, mover: Mover, arrivals: Arrivals) -> None:
        name = shown(upload.name)
        keep_protocols(self.clinic, entry.protocols, mover.register)
        with self._booked(self.unreported.received, arrivals.received, name, entry.sitting):
            mover.take(upload, entry)
        arrivals.set_aside.pop(name, None)  # an interrupted night's word, since put right

    def _damaged(self, upload: Path, accepted: Accepted, kept: Path) -> Problem | None:
        """Whether the bytes kept of an upload that came before are not the same any more."""
        if {sha256([upload / f]) for f in accepted.files} <= set(contents(kept).values()):
            return None
        return Problem(
            "original-damaged",
            "upload folder",
            "it was received before, but the files kept of it, in "
            f"{kept.relative_to(self.clinic.root)}, are not the same any more",
            "put these files there in place of the damaged ones, then run `audit`",
        )

    def _taken(self, entry: Entry) -> Problem | None:
        """Whether something lies where this revision would go, which the ledger does not know."""
        place = self.clinic.original(entry.sitting, entry.revision.number)
        if not os.path.exists(place):
            return None
        return Problem(
            "place-taken",
            "upload folder",
            f"it would become {entry.sitting}, but {place.relative_to(self.clinic.root)} holds "
            "files of which the ledger knows nothing",
            "run `audit`, and put back what it says is gone; the upload itself is not at fault",
        )

    def _set_aside(
        self, upload: Path, problems: tuple[Problem, ...], mover: Mover, arrivals: Arrivals
    ) -> None:
        """Keep the upload as it came, with the reasons beside it."""
        target = unused(self.clinic.set_aside / upload.name)
        name = shown(target.name)
        with self._booked(self.unreported.set_aside, arrivals.set_aside, name, problems):
            mover.set_aside(upload, target, (why_json(problems), why_text(name, problems)))


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
