"""How sure a mean is when neighbouring values depend on each other.

Band power hangs together over seconds and drifts over minutes, so that values
a moment apart are no sample to test with. The variance of a mean is taken from
the slowest movements of the series itself: with the cosine coefficients

    L_j = sqrt(2 / n) sum_t x_t cos(pi j (t - 1/2) / n),    j = 1 ... B,

it is mean(L_j^2) / n, and Student's t with B degrees of freedom holds (equal-
weighted cosine estimator: Lazarus, Lewis, Stock and Watson 2018, J Bus Econ
Stat 36:541). Few cosines cost power and keep what they promise; band power
fluctuates on all time scales (Linkenkaer-Hansen et al. 2001, J Neurosci
21:1370), so that a longer recording is no reason for more of them.
"""

from dataclasses import dataclass

import numpy as np
from scipy import special


def mean_variance(values: np.ndarray, cosines: int) -> np.ndarray:
    """Variance of the mean along the last axis.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        Evenly spaced in time, n > cosines.
    cosines : int
        How many coefficients are averaged: the degrees of freedom.
    """
    n = values.shape[-1]
    phase = np.pi * np.outer(np.arange(1, cosines + 1), np.arange(n) + 0.5) / n
    centred = values - values.mean(axis=-1, keepdims=True)
    coefficients = centred @ (np.sqrt(2 / n) * np.cos(phase)).T
    return (coefficients**2).mean(axis=-1) / n


@dataclass(frozen=True)
class Comparison:
    """mean(after) - mean(before) with its interval and two-sided p; floats or arrays."""

    change: np.ndarray
    low: np.ndarray
    high: np.ndarray
    p: np.ndarray


def compare(
    before: np.ndarray, after: np.ndarray, cosines: int, confidence: float = 0.95
) -> Comparison:
    """Compare the means of two stretches, along the last axis.

    The variances are not taken as equal: degrees of freedom as in Welch (1947,
    Biometrika 34:28), from `cosines` on each side.

    Parameters
    ----------
    before, after : ndarray, shape (..., n)
        More than `cosines` values each; lengths may differ.
    """
    a, b = mean_variance(before, cosines), mean_variance(after, cosines)
    change, error = after.mean(axis=-1) - before.mean(axis=-1), np.sqrt(a + b)
    with np.errstate(divide="ignore", invalid="ignore"):
        freedom = np.where(a + b > 0, (a + b) ** 2 * cosines / (a**2 + b**2), 2.0 * cosines)
        t = np.where(error > 0, np.abs(change) / error, np.where(change == 0, 0.0, np.inf))
    half = special.stdtrit(freedom, (1 + confidence) / 2) * error
    return Comparison(change, change - half, change + half, 2 * special.stdtr(freedom, -t))


def share_interval(
    shares: np.ndarray, cosines: int, confidence: float = 0.95
) -> tuple[float, float]:
    """Interval of a share of time, from its value in evenly spaced segments.

    Clopper and Pearson's interval for as many independent trials as would be as
    sure as this series is (Korn and Graubard 1998, Surv Methodol 24:193). A
    series that never varies counts each segment as one trial.

    Parameters
    ----------
    shares : ndarray, shape (n,)
        In 0..1, n > cosines.
    """
    share, n = float(shares.mean()), len(shares)
    variance = float(mean_variance(shares, cosines))
    trials = float(n)
    if variance > 0 and 0 < share < 1:
        wider = special.stdtrit(n - 1, (1 + confidence) / 2)
        wider /= special.stdtrit(cosines, (1 + confidence) / 2)
        trials = share * (1 - share) / variance * wider**2
    hits, tail = share * trials, (1 - confidence) / 2
    low = special.betaincinv(hits, trials - hits + 1, tail) if share > 0 else 0.0
    high = special.betaincinv(hits + 1, trials - hits, 1 - tail) if share < 1 else 1.0
    return float(low), float(high)
