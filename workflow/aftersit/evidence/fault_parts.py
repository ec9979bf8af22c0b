"""Ways of breaking a function."""

from collections.abc import Callable
from typing import Any

Broken = Callable[[Any], Any]


def returning(value: object) -> Broken:
    """A function that returns the value, or the value where there is no function."""
    return lambda sound: (
        (lambda *a, **k: value) if callable(sound) and not callable(value) else value
    )


def scaled(factor: float) -> Broken:
    """Its result times a factor."""
    return lambda sound: lambda *a, **k: sound(*a, **k) * factor


def with_argument(place: int, change: Callable[[Any], Any]) -> Broken:
    """Called with one of its positional arguments changed."""

    def broken(sound: Callable) -> Callable:
        def call(*a, **k):
            given = list(a)
            given[place] = change(given[place])
            return sound(*given, **k)

        return call

    return broken


def both_edges(sound: Callable) -> Callable:
    """Bins in [low, high] in place of [low, high)."""
    return lambda self, low, high: (self.frequency_hz >= low) & (self.frequency_hz <= high)


def shifted_band(name: str, by_hz: float) -> Broken:
    """The table of bands with one of them elsewhere."""

    def moved(band):
        if band.name != name:
            return band
        limits = {"low_hz": band.low_hz + by_hz, "high_hz": band.high_hz + by_hz}
        return band.model_copy(update=limits)

    return lambda sound: lambda: tuple(moved(band) for band in sound())
