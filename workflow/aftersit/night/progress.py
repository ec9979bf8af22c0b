"""How far the workflow is, and how long it may still take."""

import re
import shutil
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TextIO

from aftersit.counted import counted

COSTS_S = {
    "write_bids": 1.5,
    "build_head": 20.0,
    "draw_heads": 80.0,
    "clean_recording": 8.0,
    "measure_regions": 2.5,
    "replay_protocol": 2.5,
    "write_pages": 4.5,
    "write_progress": 0.5,
}
"""Typical CPU seconds of each step: only their ratios count, for the estimate."""

IN_WORDS = {
    "write_bids": "reading",
    "build_head": "building the head model",
    "draw_heads": "drawing other heads",
    "clean_recording": "cleaning",
    "measure_regions": "measuring regions",
    "replay_protocol": "replaying",
    "write_pages": "writing pages",
    "write_progress": "writing progress",
}
MODEL_RULES = {"build_head", "draw_heads"}
LAST_STAGE = "finish_sitting"
_LITTLE_S = 0.1
_SOON_S = 115
"""Less than this is told in tens of seconds: of a short night all would be `1 min`."""

_COUNT = re.compile(r"^(\w+) +(\d+)$")
_BEGINS = re.compile(r"^(?:local)?rule (\w+):$")
_JOB = re.compile(r"^ +jobid: (\d+)$")
_SITTING = re.compile(r"^ +wildcards: .*client=(\w+), sitting=(\w+)")
_ENDS = re.compile(r"^Finished jobid: (\d+) \(Rule: (\w+)\)$")


@dataclass
class Progress:
    """What the workflow's own log says of its steps."""

    counts: dict[str, int] = field(default_factory=dict)
    done: list[str] = field(default_factory=list)
    running: dict[str, str] = field(default_factory=dict)
    """Number of a job that runs -> what it does, in words."""
    _rule: str = ""
    _job: str = ""

    def feed(self, line: str) -> None:
        """Take in one line of the log; lines of no use are passed over."""
        if found := _COUNT.match(line):
            self.counts[found[1]] = int(found[2])
        elif found := _BEGINS.match(line):
            self._rule = found[1]
        elif found := _JOB.match(line):
            self._job = found[1]
            self.running[self._job] = IN_WORDS.get(self._rule, "")
        elif (found := _SITTING.match(line)) and self._job in self.running:
            self.running[self._job] = f"{found[1]}/{found[2]} {self.running[self._job]}".strip()
        elif found := _ENDS.match(line):
            self.running.pop(found[1], None)
            self.done.append(found[2])

    @property
    def sittings(self) -> tuple[int, int]:
        """Sittings that are done, and all."""
        return self.done.count(LAST_STAGE), self.counts.get(LAST_STAGE, 0)

    @property
    def share(self) -> float:
        """Share of the work that is done, 0 to 1."""
        everything = sum(n * _cost(r) for r, n in self.counts.items() if r not in ("all", "total"))
        return min(1.0, sum(map(_cost, self.done)) / everything) if everything else 0.0

    def left_s(self, gone_s: float) -> float | None:
        """Seconds that the rest may take; None before anything is done."""
        return gone_s * (1 - self.share) / self.share if self.share > 0 else None


def _cost(rule: str) -> float:
    return COSTS_S.get(rule, _LITTLE_S)


class Watch:
    """Shows progress: a bar on a terminal, else a line for each finished sitting."""

    def __init__(
        self,
        say: Callable[[str], None],
        screen: TextIO | None = None,
        now_s: Callable[[], float] = time.monotonic,
    ):
        self.progress = Progress()
        self._say = say
        self._screen = screen
        self._now_s = now_s
        self._started_s = now_s()
        self._told = 0

    def see(self, lines: list[str]) -> None:
        """Take in lines of the workflow's log and show what they say."""
        for line in lines:
            self.progress.feed(line)
        if self._screen:
            self._screen.write(f"\r{self._bar():<{_width()}.{_width()}}")
            self._screen.flush()
        elif self.progress.sittings[0] > self._told:
            self._told, total = self.progress.sittings
            self._say(f"{self._told} of {counted(total, 'sitting')} made{self._left()}")

    def end(self) -> None:
        """Clear the bar's line."""
        if self._screen:
            self._screen.write("\r" + _width() * " " + "\r")
            self._screen.flush()

    def _bar(self, cells: int = 20) -> str:
        full = int(self.progress.share * cells)
        done, total = self.progress.sittings
        parts = [
            f"[{'#' * full}{'.' * (cells - full)}] {self.progress.share:4.0%}",
            f"{done} of {counted(total, 'sitting')}{self._left()}",
            ", ".join(self.progress.running.values()),
        ]
        return "  ".join(part for part in parts if part)

    def _left(self) -> str:
        left_s = self.progress.left_s(self._now_s() - self._started_s)
        if left_s is None or self.progress.share >= 1:
            return ""
        if left_s < _SOON_S:
            return f", about {max(10, round(left_s, -1)):.0f} s left"
        return f", about {round(left_s / 60)} min left"


def _width() -> int:
    """Columns of the terminal, but the last, which would begin a new line."""
    return shutil.get_terminal_size().columns - 1


def watch(say: Callable[[str], None]) -> Watch:
    """A watch for this process's standard output."""
    return Watch(say, sys.stdout if sys.stdout.isatty() else None)
