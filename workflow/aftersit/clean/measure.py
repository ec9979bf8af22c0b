"""What electrodes are judged by, measured on the filtered signal."""

import numpy as np

from aftersit.clean import filters, spans
from aftersit.clean.electrodes import FEWEST, Findings, Measures, judge_alone, judge_together
from aftersit.clean.sitting import Sitting
from aftersit.clean.windows import typical_covariance, unexplained, window_covariances
from aftersit.electrodes import STANDARD_19
from aftersit.quality import Carried

SLOW_BAND_HZ = (1.0, 20.0)
FAST_FROM_HZ = 30.0
FEWEST_WINDOWS = 10


def find_bad_electrodes(
    sitting: Sitting, drift_uv: np.ndarray, holds: Carried
) -> tuple[Findings, np.ndarray]:
    """Judge the electrodes of a high-passed sitting.

    Parameters
    ----------
    sitting : Sitting
        High-passed.
    drift_uv : ndarray, shape (n_spans, n_electrodes)
        What the high-pass took away, standard deviation in 5 s.
    holds : Carried
        What the recording carries.

    Returns
    -------
    Findings
        Bad electrodes and bad windows.
    ndarray, shape (n_electrodes, n_electrodes)
        Typical covariance of all recorded electrodes, 1-20 Hz, uV^2.
    """
    size = round(sitting.settings.electrodes.window_s * sitting.rate_hz)
    slow_signal = filters.band_pass(sitting.x, sitting.rate_hz, *SLOW_BAND_HZ)
    slow = window_covariances(slow_signal, size)
    del slow_signal
    usable = _usable_windows(sitting, size)
    measures = Measures(
        names=tuple(sitting.names),
        slow=slow,
        fast=_fast(sitting, size, holds),
        drift_uv=drift_uv,
        usable=usable,
        constant_share=sitting.constant_share(),
    )
    typical = typical_covariance(slow[usable])
    found = judge_alone(STANDARD_19, measures, sitting.settings.electrodes)
    while len(found.good) > FEWEST and _drop_popping(sitting, found, typical):
        pass
    judge_together(found, measures, sitting.settings.electrodes)
    return found, typical


def _fast(sitting: Sitting, size: int, holds: Carried) -> np.ndarray:
    """Window covariances above 30 Hz; zeros where the recording does not go there."""
    n = len(sitting.names)
    if holds.high_hz < 1.2 * FAST_FROM_HZ:
        return np.zeros((sitting.n_samples // size, n, n))
    return window_covariances(filters.high_pass(sitting.x, sitting.rate_hz, FAST_FROM_HZ), size)


def _usable_windows(sitting: Sitting, size: int) -> np.ndarray:
    """Windows without dropouts and gross events; all when too few are left."""
    n_whole = sitting.n_samples // size
    swing = spans.swings(sitting.x[:, : n_whole * size], size)
    stopped = sitting.stopped[: n_whole * size].reshape(n_whole, size).any(axis=1)
    usable = ~stopped & (np.median(swing, axis=0) <= sitting.settings.spans.gross_uv)
    return usable if usable.sum() >= FEWEST_WINDOWS else np.ones_like(usable)


def _drop_popping(sitting: Sitting, found: Findings, typical: np.ndarray) -> bool:
    """Drop the electrode that pops most often; False when all may stay."""
    flags, _ = pop_flags(sitting, found.good, typical)
    minutes = sitting.n_samples / sitting.rate_hz / 60
    per_minute = [len(spans.window_runs(line[None], 1)) / minutes for line in flags]
    worst = int(np.argmax(per_minute))
    if per_minute[worst] <= sitting.settings.electrodes.pops_per_minute:
        return False
    found.add(found.good[worst], "popping", pops_per_minute=per_minute[worst])
    return True


def pop_flags(sitting: Sitting, good: list[str], typical: np.ndarray) -> tuple[np.ndarray, int]:
    """Pops of good electrodes, in what the others do not explain, so that blinks are none.

    Returns
    -------
    flags : ndarray of bool, shape (n_good, n_windows)
    size : int
        Samples in a window.
    """
    rows = sitting.rows(good)
    rest = unexplained(typical[np.ix_(rows, rows)])
    jump, size = spans.jumps(rest, sitting.x, rows, sitting.rate_hz)
    return spans.pops(jump, sitting.settings.spans), size
