"""The register of arrivals: every file that was ever taken in, with its checksum.

One line for each thing that happened, in JSON. Lines are only ever added, so that
a lost or changed file shows even when its ledger entry is lost too; an erased
client's lines are the only ones to go.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.files import write_atomically
from aftersit.night.contents import Contents, coded
from aftersit.night.lines import add_line, as_line, read_lines

Holdings = dict[str, Contents]
"""Place, relative to the clinic and as text on one line -> what it holds, names as codes."""


@dataclass(frozen=True)
class Register:
    """`<clinic>/.aftersit/register.jsonl`."""

    clinic: Clinic

    @property
    def path(self) -> Path:
        return self.clinic.state / "register.jsonl"

    def holdings(self) -> Holdings:
        """What must be there now."""
        held: Holdings = {}
        for line in read_lines(self.path):
            if line["files"] is None:
                held.pop(line["place"], None)
            else:
                held[line["place"]] = line["files"]
        return held

    def add(self, place: str, files: Contents) -> None:
        """From now on `place` holds these files (see `contents`)."""
        add_line(self.path, {"place": place, "files": coded(files)})

    def release(self, place: str) -> None:
        """`place` was handed back to a person, or never came about."""
        add_line(self.path, {"place": place, "files": None})

    def forget(self, is_gone: Callable[[str], bool]) -> Holdings:
        """Drop every line about the places that `is_gone` names; returns what they held."""
        gone = {p: files for p, files in self.holdings().items() if is_gone(p)}
        kept = [as_line(line) for line in read_lines(self.path) if not is_gone(line["place"])]
        write_atomically(self.path, "".join(kept))
        return gone
