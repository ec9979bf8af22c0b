"""What the record keeps of comparisons, chance, what-if, advice and agreement.

Shares lie in 0..1; `None` means not known. A change is a change in one person,
not its cause.
"""

from aftersit.closed import Closed


class Change(Closed):
    """A condition before and after a break: means of segments, in dB."""

    condition: str
    before_db: float | None
    after_db: float | None
    change_db: float | None
    low_db: float | None
    high_db: float | None
    """95 % interval of the change."""
    p: float | None = None
    """Two-sided."""


class ShareChange(Closed):
    """Time in target before and after a break, as shares of known time."""

    before: float | None
    after: float | None
    change: float | None
    low: float | None
    high: float | None
    """95 % interval of the change."""
    p: float | None = None


class OtherChange(Closed):
    """A region measure in a standard band that changed over a break."""

    place: str
    band: str
    band_hz: tuple[float, float]
    change_db: float
    low_db: float
    high_db: float
    p: float
    q: float
    """Smallest false discovery rate at which it would still be found."""


class Elsewhere(Closed):
    """All regions by standard bands over one break, after cleaning."""

    tested: int
    false_discovery_rate: float
    """Expected share of chance findings among `found`, at most."""
    found: tuple[OtherChange, ...]


class BreakResult(Closed):
    """A break with practice on both sides, from the cleaned replay."""

    block: int
    start_s: float
    stop_s: float
    before_block: int
    after_block: int
    in_target: ShareChange
    changes: tuple[Change, ...]
    """Decibels over the threshold at the start of the block before, on both sides; a
    rise is a rise of the measure, whatever the condition's direction."""
    distances: tuple[Change, ...] = ()
    """Distance to the threshold that held on each side; above 0 is met."""
    elsewhere: Elsewhere | None = None
