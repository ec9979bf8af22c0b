"""Where one sitting's files come from and where they go in the bag."""

import shutil
from dataclasses import dataclass
from pathlib import Path

from aftersit.archive.choose import Chosen
from aftersit.archive.ids import Pseudonym
from aftersit.archive.scrub import Scrub
from aftersit.clinic import TASK, Clinic

RAW, CLEANED, MEASURES = "bids", "bids/derivatives/cleaned", "measures"
"""Folders of the payload."""


@dataclass(frozen=True)
class Going:
    """One sitting on its way into the payload."""

    clinic: Clinic
    chosen: Chosen
    pseudonym: Pseudonym
    payload: Path
    scrub: Scrub

    @property
    def subject(self) -> str:
        """The research id; the client's code when file names are not scrubbed."""
        named = self.scrub.does("file-names")
        return self.pseudonym.research_id if named else self.chosen.entry.client

    @property
    def session(self) -> str:
        return self.chosen.entry.sitting.label

    @property
    def short_stem(self) -> str:
        """`sub-<research id>_ses-03`."""
        return f"sub-{self.subject}_ses-{self.session}"

    @property
    def stem(self) -> str:
        """`sub-<research id>_ses-03_task-sitting`."""
        return f"{self.short_stem}_task-{TASK}"

    def folder(self, part: str, *below: str) -> Path:
        """The sitting's folder under one of the payload's parts; made when missing."""
        folder = self.payload.joinpath(part, f"sub-{self.subject}", f"ses-{self.session}", *below)
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    def copy_others(self, source: Path, target: Path, known: set[str]) -> None:
        """Files that nobody asked for; they stay behind but for tests."""
        if self.scrub.does("other-files"):
            return
        for path in sorted(p for p in source.iterdir() if p.name not in known):
            shutil.copyfile(
                path, target / path.name.replace(self.chosen.entry.client, self.subject)
            )


def copy_bytes(source: Path, target: Path, size: int) -> None:
    """Copy the first bytes of a file."""
    with source.open("rb") as one, target.open("wb") as two:
        while size and (chunk := one.read(min(size, 1 << 20))):
            two.write(chunk)
            size -= len(chunk)
