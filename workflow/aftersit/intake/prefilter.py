"""Filters as the prefilter field of EDF and BDF headers states them."""

import math
import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Filters:
    """Filters that a channel went through before it was stored; None = not stated."""

    highpass_hz: float | None = None
    lowpass_hz: float | None = None
    notches_hz: tuple[float, ...] = ()


_NUMBER = r"(\d+(?:[.,]\d+)?|[.,]\d+)"
_ENTRY = re.compile(
    rf"\b(HP|LP|NOTCH|RF|BS|N|TC)\s*[:=]\s*{_NUMBER}\s*(kHz|mHz|Hz|ms|s|sec)?(?![A-Za-z])",
    re.IGNORECASE,
)
_BAND = re.compile(rf"\bBP\s*[:=]\s*{_NUMBER}\s*(?:Hz)?\s*-\s*{_NUMBER}\s*Hz", re.IGNORECASE)
_PER_HZ = {"khz": 1000.0, "mhz": 0.001, "hz": 1.0, "": 1.0}
_PER_S = {"ms": 0.001, "s": 1.0, "sec": 1.0}


def parse_prefilter(text: str) -> Filters:
    """Read a prefilter field.

    The form is that of the EDF+ specification, item 11 (`HP:0.1Hz LP:75Hz
    N:50Hz`); `RF` (rejection filter), `BS` (band stop), time constants and a
    decimal comma are seen in files. What is not understood is not stated.

    Examples
    --------
    >>> parse_prefilter("HP:0.500000Hz LP:45.000000Hz RF:50Hz")
    Filters(highpass_hz=0.5, lowpass_hz=45.0, notches_hz=(50.0,))
    >>> parse_prefilter("HP:DC; LP:113 Hz")
    Filters(highpass_hz=None, lowpass_hz=113.0, notches_hz=())
    """
    highs, lows, notches = [], [], []
    for low, high in _BAND.findall(text):
        highs.append(_number(low))
        lows.append(_number(high))
    for key, number, unit in _ENTRY.findall(text):
        value = _hertz(_number(number), unit.lower(), time_constant=key.upper() == "TC")
        kept = {"HP": highs, "TC": highs, "LP": lows}.get(key.upper(), notches)
        if value > 0:
            kept.append(value)
    return Filters(max(highs, default=None), min(lows, default=None), tuple(sorted(set(notches))))


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _hertz(value: float, unit: str, *, time_constant: bool) -> float:
    """Corner frequency; a time constant tau is a first-order filter at 1 / (2 pi tau)."""
    if unit in _PER_S or time_constant:
        seconds = value * _PER_S.get(unit, 1.0)
        return 1 / (2 * math.pi * seconds) if seconds else 0.0
    return value * _PER_HZ[unit]
