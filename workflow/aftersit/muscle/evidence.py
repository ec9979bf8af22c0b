"""Three kinds of evidence for muscle in one measure, window by window.

a. The share of the measure that muscle makes. The pattern learnt above the brain's
   rhythms is carried down to the band: each direction's density in the upper range,
   less noise and the most that brain can make there, times what its slope says of the
   band. Beside it, what components labelled as muscle carry.
b. Level and slope. The measure's fast power against what an equally active cortex
   with the power of paralysed people would give it, and how its density falls.
c. Whether the measure moves with the power above the band at the edge of the scalp.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.muscle import yardstick
from aftersit.muscle.cortex import cortex_covariance
from aftersit.muscle.model import FAST_HZ, centre_hz, upper
from aftersit.muscle.settings import MuscleSettings
from aftersit.muscle.windows import Range, Windows
from aftersit.quality import Quality

EDGE = ("Fp1", "Fp2", "F7", "F8", "T7", "T8", "P7", "P8", "O1", "O2")
"""Electrodes next to brow, jaw and neck, where paralysis takes most away (Pope et al. 2009,
Brain Topogr 22:13)."""

WEAKEST_HZ = 15.0
"""Weak contraction reaches down to about here (Muthukumaraswamy 2013)."""


@dataclass(frozen=True)
class Evidence:
    """Of one measure in one band; one value a window, NaN where there is none.

    Attributes
    ----------
    power : ndarray, shape (n_windows,)
        The measure's power in the band.
    muscle : ndarray, shape (n_windows,)
        What of it muscle makes, in the same unit.
    at_most : ndarray, shape (n_windows,)
        The most that muscle can make: all fast power, falling as steeply as muscle may.
    level_db : ndarray, shape (n_windows,)
        Power in 30-45 Hz over that of a scalp without muscle.
    slope : ndarray, shape (n_windows,)
        Fall of the density from 20-30 Hz to the highest range, as a power of frequency.
    edge : ndarray, shape (n_windows,)
        Power above the band at the edge of the scalp, uV^2/Hz.
    """

    power: np.ndarray
    muscle: np.ndarray
    at_most: np.ndarray
    level_db: np.ndarray
    slope: np.ndarray
    edge: np.ndarray

    @property
    def share(self) -> np.ndarray:
        """Part of the measure that muscle makes, 0..1, shape (n_windows,)."""
        return np.clip(self.muscle / np.maximum(self.power, 1e-300), 0, 1)


def down_to_band(band_hz: Range) -> float:
    """Muscle's density in a band over that in 30-45 Hz, slope aside: little below 15 Hz."""
    at_hz = min(centre_hz(band_hz), centre_hz(FAST_HZ))
    return float(1 / (1 + (WEAKEST_HZ / at_hz) ** 4) / _AT_FAST)


def most_in_band(band_hz: Range, steepest: float) -> float:
    """The most that muscle's density in a band can be over that in 30-45 Hz.

    Parameters
    ----------
    steepest : float
        The steepest fall of muscle's density with frequency, as a power.
    """
    step = centre_hz(FAST_HZ) / centre_hz(band_hz)
    return down_to_band(band_hz) * max(step, 1.0) ** steepest


_AT_FAST = 1 / (1 + (WEAKEST_HZ / centre_hz(FAST_HZ)) ** 4)


def measure_evidence(
    matrix: np.ndarray,
    band_hz: Range,
    windows: Windows,
    quality: Quality,
    settings: MuscleSettings,
) -> Evidence:
    """Evidence for one measure.

    Parameters
    ----------
    matrix : ndarray, shape (n_good, n_good)
        The measure of a signal x in uV is x' M x.
    band_hz : (low_hz, high_hz)
    windows : Windows
        Of the uncleaned signal of the good electrodes, with the ranges of
        `model.ranges_of` and the band under the name `band`.
    """
    band = windows.density["band"]
    power = _through(matrix, band)
    fast = _through(matrix, windows.density["fast"])
    has_fast = fast.any()
    muscle = _from_pattern(matrix, band_hz, windows, quality, settings)
    muscle = np.fmax(muscle, _from_components(matrix, band, quality))
    most = most_in_band(band_hz, settings.slope_limits[1])
    at_most = fast * most if has_fast else np.full(power.size, np.nan)
    return Evidence(
        power=power,
        muscle=muscle,
        at_most=at_most,
        level_db=_level_db(matrix, fast, quality.good) if has_fast else at_most,
        slope=_slope(matrix, windows),
        edge=_edge(windows, band_hz, quality.good),
    )


def _through(matrix: np.ndarray, densities: np.ndarray) -> np.ndarray:
    return np.tensordot(densities, matrix, axes=2)


def _from_pattern(
    matrix: np.ndarray,
    band_hz: Range,
    windows: Windows,
    quality: Quality,
    settings: MuscleSettings,
) -> np.ndarray:
    pattern = quality.muscle_pattern
    if pattern is None or "upper-1" not in windows.density:
        return np.full(windows.start_s.size, np.nan)
    high = upper(windows)
    span = (windows.ranges["upper-1"][0], windows.ranges["upper-2"][1])
    step = centre_hz(span) / max(centre_hz(band_hz), centre_hz(FAST_HZ) / 1.5)
    carry = _carry(quality, step, settings)
    seen = carry.T @ matrix @ carry * down_to_band(band_hz)
    n = len(matrix)
    noise = pattern.noise_density * (seen * (np.eye(n) - 1 / n)).sum()
    brain = settings.brain_ratio * np.median(_through(seen, windows.density["fast"]))
    return np.maximum(_through(seen, high) - noise - brain, 0)


def _carry(quality: Quality, step: float, settings: MuscleSettings) -> np.ndarray:
    """Amplitudes of the upper range -> those in the band, shape (n_good, n_good).

    Directions that were not learnt fall as muscle usually does.
    """
    pattern, n = quality.muscle_pattern, len(quality.good)
    usual = step ** (settings.usual_slope / 2)
    carry = usual * (np.eye(n) - 1 / n)
    if pattern.kept:
        more = step ** (np.array(pattern.slopes) / 2) - usual
        carry += (np.array(pattern.patterns).T * more) @ np.array(pattern.filters)
    return carry


def _from_components(matrix: np.ndarray, band: np.ndarray, quality: Quality) -> np.ndarray:
    """What components labelled as muscle carry; NaN where none was found."""
    muscle = np.array(quality.muscle)
    if not muscle.any():
        return np.full(len(band), np.nan)
    return _through(muscle.T @ matrix @ muscle, band)


def _level_db(matrix: np.ndarray, fast: np.ndarray, good: Sequence[str]) -> np.ndarray:
    width_hz = yardstick.BAND_HZ[1] - yardstick.BAND_HZ[0]
    without = yardstick.POWER_UV2 / width_hz * (matrix * cortex_covariance(tuple(good))).sum()
    return 10 * np.log10(np.maximum(fast / without, 1e-6))


def _slope(matrix: np.ndarray, windows: Windows) -> np.ndarray:
    top = "upper-1" if "upper-1" in windows.density else "fast"
    low, high = (_through(matrix, windows.density[name]) for name in ("beta", top))
    if not (low.any() and high.any()):
        return np.full(low.size, np.nan)
    step = centre_hz(windows.ranges[top]) / centre_hz(windows.ranges["beta"])
    return np.log(np.maximum(high, 1e-12) / np.maximum(low, 1e-12)) / np.log(step)


def _edge(windows: Windows, band_hz: Range, good: Sequence[str]) -> np.ndarray:
    """Mean power of the edge electrodes above the band; NaN where nothing is carried there."""
    rows = [i for i, name in enumerate(good) if name in EDGE]
    if "upper-1" in windows.density:
        density = upper(windows)
    elif band_hz[1] <= FAST_HZ[0]:
        density = windows.density["fast"]
    else:
        return np.full(windows.start_s.size, np.nan)
    return np.diagonal(density, axis1=1, axis2=2)[:, rows].mean(axis=1)
