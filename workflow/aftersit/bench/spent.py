"""What a command and all that it starts cost."""

import os
import subprocess
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage

from aftersit.errors import AftersitError

_LOOK_S = 0.1
_OWN, _OF_CHILDREN = slice(11, 13), slice(13, 15)
"""Fields of `/proc/<pid>/stat` (`proc(5)`), counted from the state: user and system time."""
_TICKS_PER_S = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True)
class Spent:
    """Of a command and all that it started.

    Attributes
    ----------
    cpu_s, wall_s : float
    peak_mb : float
        Of all processes together, what they share counted once.
    of_parts_s : dict
        Processor seconds of its long-lived processes themselves, as named by `part_of`; what
        a process used in its last tenth of a second may be missing. What the command started
        before any other part is its own.
    """

    cpu_s: float
    wall_s: float
    peak_mb: float
    of_parts_s: dict[str, float] = field(default_factory=dict)


def spent_by(
    command: Sequence[str],
    part_of: Callable[[list[str]], str | None] = lambda words: None,
    good_codes: Iterable[int] = (0,),
) -> Spent:
    """Run a command and watch it.

    Parameters
    ----------
    command : sequence of str
    part_of : callable
        Gets a process's name and the words of its command line; names what it is a part of.
    good_codes : iterable of int
        Exit codes that are no failure.

    Raises
    ------
    AftersitError
        The command failed.
    """
    before, started, peak_mb = getrusage(RUSAGE_CHILDREN), time.monotonic(), 0.0
    own = part_of(list(command))
    parts: dict[object, tuple[str | None, float]] = {}
    with subprocess.Popen(command, stdout=subprocess.DEVNULL) as running:
        while running.poll() is None:
            family = _family(running.pid)
            peak_mb = max(peak_mb, sum(map(_mb, family)))
            parts |= {pid: (part_of(words), _cpu_s(pid)) for pid, words in _programs(family)}
            if not {name for name, _ in parts.values()} - {None, own}:
                parts["at first"] = (own, _cpu_s(running.pid, _OF_CHILDREN))
            time.sleep(_LOOK_S)
    if running.returncode not in good_codes:
        raise AftersitError(f"{' '.join(command)} ended with {running.returncode}")
    after = getrusage(RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Spent(cpu_s, time.monotonic() - started, peak_mb, _summed(parts.values()))


def _summed(found: Iterable[tuple[str | None, float]]) -> dict[str, float]:
    total: dict[str, float] = {}
    for name, cpu_s in found:
        if name:
            total[name] = total.get(name, 0.0) + cpu_s
    return total


def _family(pid: int) -> list[int]:
    """A process and all that come from it."""
    try:
        tasks = os.listdir(f"/proc/{pid}/task")
    except OSError:
        tasks = []
    told = (_text(Path(f"/proc/{pid}/task/{task}/children")) for task in tasks)
    children = [int(child) for words in told for child in words.split()]
    return [pid, *(one for child in children for one in _family(child))]


def _programs(family: list[int]) -> list[tuple[int, list[str]]]:
    """Processes with their words; forks of a process that say the same are left out."""
    words = {pid: _words(pid) for pid in family}
    living = {pid: said for pid, said in words.items() if any(said)}
    return [(pid, said) for pid, said in living.items() if words.get(_parent(pid)) != said]


def _parent(pid: int) -> int:
    fields = _text(Path(f"/proc/{pid}/stat")).rpartition(")")[2].split()
    return int(fields[1]) if fields else 0


def _mb(pid: int) -> float:
    """Memory of a process, what it shares divided among those who share it."""
    lines = _text(Path(f"/proc/{pid}/smaps_rollup")).splitlines()
    return next((int(x.split()[1]) / 1024 for x in lines if x.startswith("Pss:")), 0.0)


def _cpu_s(pid: int, which: slice = _OWN) -> float:
    fields = _text(Path(f"/proc/{pid}/stat")).rpartition(")")[2].split()
    return sum(map(int, fields[which])) / _TICKS_PER_S


def _words(pid: int) -> list[str]:
    """Its name, by which a fork may differ, and its command line; nothing once it is gone."""
    name, line = (_text(Path(f"/proc/{pid}/{what}")) for what in ("comm", "cmdline"))
    return [name.strip(), *line.split("\0")] if line else []


def _text(path: Path) -> str:
    """What a file of a process says; nothing once it is gone."""
    try:
        return path.read_text(errors="replace")
    except OSError:
        return ""
