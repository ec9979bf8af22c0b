"""What a night did, gathered for its digest."""

import datetime as dt
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.night.client_pages import progress_pages
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.outcome import Outcome
from aftersit.night.plan import PlannedSitting, planned
from aftersit.night.unreported import Arrivals
from aftersit.pages import digest
from aftersit.pages.phrases import felt_unpleasant
from aftersit.pages.review import answered_for, reviewed_or_none
from aftersit.pages.words import Words
from aftersit.record import Record
from aftersit.sheet import Sheet


@dataclass(frozen=True)
class NightReport:
    """A night's results, and when it started."""

    clinic: Clinic
    ledger: Ledger
    name: str
    words: Words
    arrivals: Arrivals
    outcomes: list[Outcome]
    started: dt.datetime

    @property
    def nothing_happened(self) -> bool:
        came = self.arrivals
        told = (came.received, came.had_already, came.set_aside, came.denied)
        return not (self.outcomes or any(told))

    def write(self) -> Path | None:
        """Write the digest; None when nothing happened and the day has one already."""
        folder = self.clinic.reports / "nightly" / self.started.date().isoformat()
        if self.nothing_happened and folder.exists():
            return None
        target = digest.digest_folder(self.clinic, self.started.date())
        return digest.write_digest(self.night(), self.clinic, target, self.words)

    def night(self) -> digest.Night:
        """The digest's content."""
        entries = {o.sitting: self.ledger.read(o.sitting) for o in self.outcomes}
        good = [entries[o.sitting] for o in self.outcomes if o.failed_stage is None]
        return digest.Night(
            date=self.started.date(),
            clinic=self.name,
            done=[self._done(entry) for entry in good],
            had_already=list(self.arrivals.had_already),
            set_aside=[
                _set_aside(name, problems) for name, problems in self.arrivals.set_aside.items()
            ],
            waiting=self.arrivals.waiting,
            denied=self.arrivals.denied,
            failed=[_failed(o) for o in self.outcomes if o.failed_stage is not None],
            to_review=[str(e.sitting) for e in to_review(self.clinic, self.ledger.entries())],
            unpleasant=[str(e.sitting) for e in good if self._unpleasant(planned(e))],
            provenance=self._provenance(),
        )

    def _done(self, entry: Entry) -> digest.Done:
        one = planned(entry)
        records = [
            Record.model_validate_json((self.clinic.root / path).read_bytes())
            for path in one.records
        ]
        course = progress_pages(one.client)[0]
        told = [*one.pages, *([course] if (self.clinic.root / course).is_file() else [])]
        return digest.done(one.sitting, entry.revision.upload, records, told)

    def _unpleasant(self, one: PlannedSitting) -> bool:
        return felt_unpleasant(Sheet.from_yaml(self.clinic.root / one.sheet))

    def _provenance(self) -> digest.Provenance:
        disk = shutil.disk_usage(self.clinic.root)
        return digest.Provenance(
            started=self.started,
            ended=dt.datetime.now(self.started.tzinfo),
            disk_free_bytes=disk.free,
            disk_used_bytes=disk.used,
        )


def reviewed_files(clinic: Clinic, one: PlannedSitting) -> list[Path]:
    """What a reviewer's word is about: all that the handout is made from."""
    return answered_for([clinic.root / r for r in one.records], clinic.root / one.sheet)


def to_review(clinic: Clinic, entries: Iterable[Entry]) -> list[Entry]:
    """Sittings with a result that no reviewer's word stands for."""

    def is_reviewed(entry: Entry) -> bool:
        files = reviewed_files(clinic, planned(entry))
        return reviewed_or_none(clinic, entry.sitting, files) is not None

    return [e for e in entries if e.finished and not is_reviewed(e)]


def _set_aside(name: str, problems) -> digest.SetAside:
    return digest.SetAside(
        upload=name,
        folder=f"set-aside/{name}",
        reasons=[
            digest.Reason(code=p.code, place=p.place, found=p.found, todo=p.todo) for p in problems
        ],
    )


def _failed(outcome: Outcome) -> digest.Failed:
    return digest.Failed(
        sitting=str(outcome.sitting),
        stage=outcome.failed_stage,
        log=outcome.log,
        todo=outcome.reason or "read the log's last lines; the next night tries again",
    )
