"""Deliberate faults: the code broken on purpose, one thing at a time, to see who notices.

A fault replaces one function (or one value) of the package for a moment. The checks of
the groups that it touches are then run; those that pass without it and fail with it have
caught it.
"""

import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest import mock

from aftersit.evidence.check import Check, all_checks
from aftersit.evidence.fault_table import FaultRow, FaultTable
from aftersit.evidence.given import Given

Change = tuple[str, Callable[[Any], Any]]


@dataclass(frozen=True)
class Fault:
    """One thing wrong.

    Attributes
    ----------
    id : str
    groups : tuple of str
        Groups of checks that could notice; the first is its own.
    what : str
        What is wrong, as a clause.
    changes : tuple of (str, callable)
        Dotted name of what is replaced, and what makes the broken one of the sound one.
    """

    id: str
    groups: tuple[str, ...]
    what: str
    changes: tuple[Change, ...]

    @contextmanager
    def applied(self) -> Iterator[None]:
        """The code with this fault in it."""
        patches = [mock.patch(name, broken(_sound(name))) for name, broken in self.changes]
        for patch in patches:
            patch.start()
        try:
            yield
        finally:
            for patch in reversed(patches):
                patch.stop()


def _sound(name: str) -> Any:
    """What a dotted name stands for now."""
    import importlib

    parts = name.split(".")
    for cut in range(len(parts) - 1, 0, -1):
        try:
            found = importlib.import_module(".".join(parts[:cut]))
        except ModuleNotFoundError:
            continue
        for part in parts[cut:]:
            found = getattr(found, part)
        return found
    raise ModuleNotFoundError(name)


QUIET = {
    "bids.validator": "takes seconds a run; the checks beside it notice the same faults",
    "bids.validator-codes": "tries the validator, not our code; it fails when that misses a code",
    "head.shells": "compares a closed form of the benches, which no sitting uses, with mne's",
    "head.one-sphere": "the same closed form; it serves as the yardstick of other checks",
    "head.errors": "definitions that benches and checks use, and no sitting does",
}
"""Checks that no fault here upsets, and why."""


def try_all(say: Callable[[str], None]) -> FaultTable:
    """Try every fault; the checks of its groups say whether they notice.

    Parameters
    ----------
    say : callable
        Gets a line for each fault.
    """
    from aftersit.evidence.fault_list import FAULTS

    checks = [c for c in all_checks() if c.group != "recordings" and c.id not in SLOW]
    sound = _failing(checks)
    rows = []
    for fault in FAULTS:
        say(f"breaking: {fault.what}")
        rows.append(_tried(fault, [c for c in checks if c.id not in sound]))
    caught = {check for row in rows for check in row.caught_by}
    return FaultTable(tuple(rows), tuple(_quiet(checks, caught)))


SLOW = ("bids.validator", "bids.validator-codes")


def _tried(fault: Fault, checks: Iterable[Check]) -> FaultRow:
    chosen = [c for c in checks if c.group in fault.groups]
    with fault.applied():
        return FaultRow(fault.id, fault.groups[0], fault.what, tuple(_failing(chosen)))


def _failing(checks: Iterable[Check]) -> list[str]:
    """Ids of the checks that don't hold now."""
    from aftersit.evidence.run import run_one

    with tempfile.TemporaryDirectory() as scratch:
        given = Given(Path(scratch))
        return [c.id for c in checks if run_one(c, given).state == "FAILS"]


def _quiet(checks: Iterable[Check], caught: set[str]) -> Iterator[tuple[str, str]]:
    """Checks that caught nothing, each with the reason."""
    for one in [*checks, *(c for c in all_checks() if c.id in SLOW)]:
        if one.id not in caught:
            yield one.id, QUIET.get(one.id, NO_REASON)
    yield (
        "recordings (all)",
        "each needs the whole pipeline over real recordings, which no fault is worth; their "
        "parts are tried by the other groups",
    )


NO_REASON = "no fault here touches what it looks at"
