"""Which check catches which deliberate fault."""

from dataclasses import dataclass


@dataclass(frozen=True)
class FaultRow:
    """One fault: its group, what was broken, and the checks that saw it."""

    id: str
    group: str
    what: str
    caught_by: tuple[str, ...]


@dataclass(frozen=True)
class FaultTable:
    """All faults, and the checks that none of them upsets, each with the reason."""

    rows: tuple[FaultRow, ...]
    quiet: tuple[tuple[str, str], ...]
