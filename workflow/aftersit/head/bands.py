"""Frequency bands by name, each holding low <= f < high."""

from functools import cache
from pathlib import Path

from pydantic import model_validator

from aftersit.closed import Closed

TABLE = Path(__file__).parents[3] / "shared" / "bands.yaml"


class Band(Closed):
    """A named band with its limits in Hz."""

    name: str
    low_hz: float
    high_hz: float

    @model_validator(mode="after")
    def _rises(self):
        if not 0 < self.low_hz < self.high_hz:
            raise ValueError("a band needs 0 < low_hz < high_hz")
        return self

    @property
    def limits_hz(self) -> tuple[float, float]:
        return self.low_hz, self.high_hz

    def __str__(self) -> str:
        return f"{self.name} ({self.low_hz:g}-{self.high_hz:g} Hz)"


class _Table(Closed):
    bands: tuple[Band, ...]
    relative_to_hz: tuple[float, float]


@cache
def bands() -> tuple[Band, ...]:
    """The bands of the reference table, rising."""
    return _Table.from_yaml(TABLE).bands


@cache
def relative_to_hz() -> tuple[float, float]:
    """Limits of the power that relative power is a part of."""
    return _Table.from_yaml(TABLE).relative_to_hz
