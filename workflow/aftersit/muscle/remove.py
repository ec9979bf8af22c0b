"""Learn the muscle's pattern from a cleaned signal and take it out of its fast part."""

from collections.abc import Sequence

import numpy as np

from aftersit.clean import filters
from aftersit.clean.faults import Faults
from aftersit.muscle.model import muscle_pattern, ranges_of, upper_ranges
from aftersit.muscle.windows import Spectra, densities_in
from aftersit.quality import BadSpan, MusclePattern


def learn_pattern(x: np.ndarray, seen: Faults, bad: Sequence[BadSpan]) -> MusclePattern | None:
    """Muscle's pattern of one recording; None where it does not reach high enough.

    Parameters
    ----------
    x : ndarray, shape (n_good, n_samples)
        The good electrodes without removed components, uV.
    seen : Faults
        What is known of the recording.
    bad : sequence of BadSpan
        Spans to learn nothing from.
    """
    settings, holds, good = seen.sitting.settings.muscle, seen.carried, tuple(seen.found.good)
    if upper_ranges(holds, settings) is None:
        return None
    ranges = ranges_of(holds, settings)
    windows = densities_in(Spectra(x, seen.sitting.rate_hz), ranges, seen)
    usable = windows.clear_of([(span.start_s, span.stop_s) for span in bad])
    return muscle_pattern(windows, usable, good, settings)


def remove_fast_muscle(x: np.ndarray, rate_hz: float, pattern: MusclePattern | None) -> None:
    """Take the pattern out of the signal above the crossover, in place.

    Parameters
    ----------
    x : ndarray, shape (n_good, n_samples)
        uV, average reference.
    """
    if pattern is None or not pattern.kept:
        return
    courses = filters.product(np.array(pattern.filters), x)
    heard = filters.high_pass(courses, rate_hz, pattern.crossover_hz)
    away = 1 - np.array(pattern.kept)
    filters.subtract_product(x, np.array(pattern.patterns).T * away, heard)
