"""What happened since the last digest, kept so that a crash can't keep it from the next one."""

from dataclasses import asdict, dataclass, field
from pathlib import Path

from aftersit.clinic import Clinic, SittingId
from aftersit.intake.problems import Problem
from aftersit.night.lines import add_line, read_lines


@dataclass
class Arrivals:
    """What became of each upload, by its name as text on one line."""

    received: dict[str, SittingId] = field(default_factory=dict)
    had_already: dict[str, SittingId] = field(default_factory=dict)
    set_aside: dict[str, tuple[Problem, ...]] = field(default_factory=dict)
    waiting: list[str] = field(default_factory=list)
    """Still being copied."""
    denied: list[str] = field(default_factory=list)
    """Not for this user to move."""


@dataclass(frozen=True)
class Unreported:
    """`<clinic>/.aftersit/unreported.jsonl`.

    Each thing is written down before it is done, and so perhaps twice.
    """

    clinic: Clinic

    @property
    def path(self) -> Path:
        return self.clinic.state / "unreported.jsonl"

    def received(self, upload: str, sitting: SittingId) -> None:
        """An upload becomes a revision of a sitting."""
        add_line(self.path, {"received": upload, "sitting": str(sitting)})

    def had_already(self, upload: str, sitting: SittingId) -> None:
        """An upload holds nothing new."""
        add_line(self.path, {"had_already": upload, "sitting": str(sitting)})

    def set_aside(self, upload: str, problems: tuple[Problem, ...]) -> None:
        """An upload is set aside."""
        add_line(self.path, {"set_aside": upload, "problems": [asdict(p) for p in problems]})

    def take_back(self, upload: str) -> None:
        """What was written last of an upload was not done."""
        add_line(self.path, {"not_done": upload})

    def done(self, sitting: SittingId) -> None:
        """A sitting is finished."""
        add_line(self.path, {"done": str(sitting)})

    def arrivals(self) -> Arrivals:
        """What came and is in no digest yet."""
        found = Arrivals()
        for line in read_lines(self.path):
            if "received" in line:
                found.received[line["received"]] = SittingId.parse(line["sitting"])
            elif "had_already" in line:
                found.had_already[line["had_already"]] = SittingId.parse(line["sitting"])
            elif "set_aside" in line:
                problems = tuple(Problem(**p) for p in line["problems"])
                found.set_aside[line["set_aside"]] = problems
            elif "not_done" in line:
                for told in (found.received, found.had_already, found.set_aside):
                    told.pop(line["not_done"], None)
        return found

    def finished(self) -> set[SittingId]:
        """Sittings that were finished and are in no digest yet."""
        return {SittingId.parse(line["done"]) for line in read_lines(self.path) if "done" in line}

    def clear(self) -> None:
        """The digest is written."""
        self.path.unlink(missing_ok=True)
