"""What a recording can carry: rate, the filters that its header names, what is measured."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy import ndimage

from aftersit.clean.settings import CarriedSettings
from aftersit.quality import Carried

MEASURED_COUNTS_BELOW = 0.8
"""A measured roll-off overrides the header only when it lies this far below it."""
FIRST_HZ = 20.0
EEG_DB_PER_OCTAVE = 14.0
FEWEST_BINS = 8
BACK_DB = 1.5
MAINS_HZ = (50.0, 60.0)
NEAR_HZ, BESIDE_HZ = 1.5, (4.0, 8.0)
"""Where a notch is looked for, and what it is held against, Hz from its middle."""


@dataclass(frozen=True)
class ChannelLimits:
    """Filters that the header names, over all electrodes; None where it names none.

    Attributes
    ----------
    low_hz : float | None
        Highest high-pass cut-off.
    high_hz : float | None
        Lowest low-pass cut-off.
    notches_hz : tuple of float
        Centres of notch filters.
    """

    low_hz: float | None = None
    high_hz: float | None = None
    notches_hz: tuple[float, ...] = field(default=())


def carried(
    frequencies: np.ndarray,
    density: np.ndarray,
    limits: ChannelLimits,
    high_pass_hz: float,
    settings: CarriedSettings,
) -> Carried:
    """Join header, rate and measurement.

    Parameters
    ----------
    frequencies, density : ndarray
        As from `filters.spectra`, of the uncleaned electrodes; the last
        frequency is half the sampling rate.
    limits : ChannelLimits
        What the header names.
    high_pass_hz : float
        The high-pass of this stage.
    """
    high_hz = settings.nyquist_share * float(frequencies[-1])
    if limits.high_hz is not None:
        high_hz = min(high_hz, limits.high_hz)
    half = settings.notch_half_width_hz
    notches = [*limits.notches_hz]
    for f in dips_hz(frequencies, density, high_hz, settings.notch_dip_db):
        if all(abs(f - named) > half for named in notches):
            notches.append(f)
    whole = _bridged(frequencies, density, notches, 2 * half)
    measured_hz = rolloff_hz(frequencies, whole, settings.rolloff_db_per_octave)
    if measured_hz is not None and measured_hz < MEASURED_COUNTS_BELOW * high_hz:
        high_hz = measured_hz
    return Carried(
        low_hz=max(high_pass_hz, limits.low_hz or 0.0),
        high_hz=round(high_hz, 3),
        notches_hz=tuple((f - half, f + half) for f in sorted(notches)),
    )


def dips_hz(
    frequencies: np.ndarray, density: np.ndarray, high_hz: float, dip_db: float
) -> list[float]:
    """Mains frequencies at which the median spectrum dips: notches that no header names.

    A dip is the lowest of three neighbouring bins' medians near the frequency against
    the mean of both sides, so that a line left in the notch's middle does not fill it.
    """
    level_db = 10 * np.log10(np.median(density, axis=0) + 1e-12)
    smooth = ndimage.median_filter(level_db, 3, mode="nearest")
    found = []
    for mains_hz in MAINS_HZ:
        away = np.abs(frequencies - mains_hz)
        near, beside = away <= NEAR_HZ, (away >= BESIDE_HZ[0]) & (away <= BESIDE_HZ[1])
        if mains_hz + BESIDE_HZ[1] > high_hz or not near.any():
            continue
        if level_db[beside].mean() - smooth[near].min() >= dip_db:
            found.append(mains_hz)
    return found


def _bridged(
    frequencies: np.ndarray, density: np.ndarray, notches_hz: list[float], half_hz: float
) -> np.ndarray:
    """Notches bridged, so that none looks like the beginning of a low-pass.

    One after which the spectrum does not come back to its line lies in a low-pass and stays.
    """
    level = np.log(density + 1e-12)
    for notch_hz in notches_hz:
        hole = np.abs(frequencies - notch_hz) <= half_hz
        if not hole.all() and _comes_back(frequencies, level, notch_hz):
            level[:, hole] = [
                np.interp(frequencies[hole], frequencies[~hole], row[~hole]) for row in level
            ]
    return np.exp(level)


def _comes_back(frequencies: np.ndarray, level: np.ndarray, notch_hz: float) -> bool:
    """Whether beyond a notch a spectrum is near the line that leads to it."""
    low_hz, high_hz = 0.6 * notch_hz, notch_hz - BESIDE_HZ[0]
    before = (frequencies >= low_hz) & (frequencies <= high_hz)
    after = (frequencies >= notch_hz + BESIDE_HZ[0]) & (frequencies <= notch_hz + BESIDE_HZ[1])
    if not after.any() or before.sum() < FEWEST_BINS:
        return False
    middle = np.median(level, axis=0)
    slope, offset = np.polyfit(np.log(frequencies[before]), middle[before], 1)
    below = slope * np.log(frequencies[after]) + offset - middle[after]
    return 10 * np.log10(np.e) * float(below.mean()) < BACK_DB


def rolloff_hz(frequencies: np.ndarray, density: np.ndarray, db_per_octave: float) -> float | None:
    """Where the median spectrum starts to fall faster than any EEG does; None if nowhere.

    Muscle-free EEG falls by up to 14 dB an octave above 20 Hz (log-log slope to
    -4.6: Whitham et al. 2007, Clin Neurophysiol 118:1877); a low-pass filter of
    order 4 adds 24.
    """
    level_db = 10 * np.log10(np.median(density, axis=0) + 1e-12)
    grid = np.arange(FIRST_HZ, frequencies[-1] / 2**0.5, 1.0)
    if grid.size == 0:
        return None

    def level(at_hz: np.ndarray) -> np.ndarray:
        return np.array([np.median(level_db[np.abs(frequencies - f) <= 1.5]) for f in at_hz])

    steep = np.flatnonzero(level(grid) - level(grid * 2**0.5) > db_per_octave / 2)
    return _knee_hz(level, float(grid[steep[0]])) if steep.size else None


def _knee_hz(level: Callable[[np.ndarray], np.ndarray], steep_hz: float) -> float:
    """Where the spectrum lies 3 dB below the steepest line that EEG could have gone on with."""
    beyond = steep_hz + np.arange(0.0, steep_hz, 0.5)
    start = level(np.array([steep_hz]))[0]
    allowed = start - EEG_DB_PER_OCTAVE * np.log2(beyond / steep_hz)
    below = np.flatnonzero(level(beyond) < allowed - 3.0)
    return float(beyond[below[0]]) if below.size else steep_hz
