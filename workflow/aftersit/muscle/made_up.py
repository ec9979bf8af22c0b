"""What cleaning takes from the brain, made up for in the mean."""

import numpy as np

from aftersit.muscle.cortex import passed_share
from aftersit.muscle.model import centre_hz, fast_filter
from aftersit.muscle.windows import Range
from aftersit.quality import Quality

LEAST_PASSED = 0.1
"""At most 10 dB are made up; beyond that a measure is mostly what cleaning left."""


def fast_part_kept(quality: Quality, band_hz: Range) -> np.ndarray:
    """What the muscle's pattern left of a band, as a filter, shape (n_good, n_good).

    Bands whose middle lies below the crossover were left alone.
    """
    pattern, n = quality.muscle_pattern, len(quality.good)
    if pattern is None or centre_hz(band_hz) < pattern.crossover_hz:
        return fast_filter(None, n)
    return fast_filter(pattern, n)


def passed_by_cleaning(matrix: np.ndarray, band_hz: Range, quality: Quality) -> float:
    """Part of an equally active cortex's power in a measure that cleaning let through.

    Components and the muscle's pattern take brain along with them. Dividing a
    measure of the cleaned signal by this part leaves its mean where it was, if
    the cortex is about equally active. Ratios to a baseline do not change.

    Parameters
    ----------
    matrix : ndarray, shape (n_good, n_good)
        The measure of a signal x is x' M x.
    """
    if not quality.keep:
        return 1.0
    # Eyes are taken out while they move only, which costs next to nothing.
    keep = np.array(quality.keep) + (np.array(quality.eyes) if quality.eyes else 0.0)
    slow = passed_share(matrix, keep, quality.good)
    if quality.muscle_pattern is None:
        return max(slow, LEAST_PASSED)
    crossover_hz = quality.muscle_pattern.crossover_hz
    fast = passed_share(matrix, fast_filter(quality.muscle_pattern, len(keep)) @ keep, quality.good)
    low, high = band_hz
    above = np.clip((high - crossover_hz) / (high - low), 0, 1)
    return max(float(above * fast + (1 - above) * slow), LEAST_PASSED)
