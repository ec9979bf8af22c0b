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

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

LEAST_P = 1e-6
"""No p of shares is told as smaller: it would rest on tails that nobody has seen."""
_MOST_P = 0.999
_ROUNDING = 1e-12
"""What varies by less than this part of itself is the same value, rounded."""


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
    Biometrika 34:28), from `cosines` on each side. Where neither side ever varies
    nothing is told: the interval has no ends, and p is 1.

    Parameters
    ----------
    before, after : ndarray, shape (..., n)
        More than `cosines` values each; lengths may differ.
    """
    means = after.mean(axis=-1), before.mean(axis=-1)
    a, b = mean_variance(before, cosines), mean_variance(after, cosines)
    varies = np.sqrt(a + b) > _ROUNDING * np.maximum(*np.abs(means))
    return student(means[0] - means[1], (a, b), cosines, varies, confidence)


def student(
    change: np.ndarray,
    variances: Sequence[np.ndarray],
    cosines: int,
    varies: np.ndarray,
    confidence: float,
) -> Comparison:
    """Student's interval and p of a change whose variance is a sum.

    Parameters
    ----------
    change : ndarray
    variances : sequence of ndarray, each of the shape of `change`
        Independent parts of its variance, each from so many cosines.
    varies : ndarray of bool
        False where nothing is told: the interval has no ends, and p is 1.
    """
    freedom, error = _freedom(variances, cosines), np.sqrt(sum(variances))
    t = np.where(varies, np.abs(change) / np.where(varies, error, 1.0), 0.0)
    half = np.where(varies, special.stdtrit(freedom, (1 + confidence) / 2) * error, np.inf)
    return Comparison(change, change - half, change + half, 2 * special.stdtr(freedom, -t))


def _freedom(variances: Sequence[np.ndarray], cosines: int) -> np.ndarray:
    """Welch's degrees of freedom of a sum of such variances."""
    total, squares = sum(variances), sum(v**2 for v in variances)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(total > 0, total**2 * cosines / squares, float(cosines))


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
    tail = (1 - confidence) / 2
    narrower = special.stdtrit(len(shares) - 1, tail) / special.stdtrit(cosines, tail)
    return _Share.of(shares, cosines).limits(narrower, tail)


def compare_shares(
    before: np.ndarray, after: np.ndarray, cosines: int, confidence: float = 0.95
) -> Comparison:
    """Compare two shares of time, each from its values in evenly spaced segments.

    Each side's interval is Clopper and Pearson's as in `share_interval`, for the trials
    whose normal interval is as wide as Student's with Welch's degrees of freedom (see
    `compare`); both are combined by `square_and_add`. So a side that never varies leaves
    the room that its number of segments leaves. The p is that of the interval which ends at 0.

    Parameters
    ----------
    before, after : ndarray, shape (n,)
        In 0..1, n > cosines; lengths may differ.
    """
    one, other = _Share.of(before, cosines), _Share.of(after, cosines)
    freedom = float(_freedom([np.array(side.variance) for side in (one, other)], cosines))

    def interval(tail: float) -> tuple[float, float]:
        narrower = special.ndtri(tail) / special.stdtrit(freedom, tail)
        limits = [side.limits(narrower, tail) for side in (one, other)]
        return square_and_add(one.share, limits[0], other.share, limits[1])

    low, high = interval((1 - confidence) / 2)
    return Comparison(other.share - one.share, low, high, _p_at_zero(interval))


def square_and_add(
    before: float,
    around_before: tuple[float, float],
    after: float,
    around_after: tuple[float, float],
) -> tuple[float, float]:
    """Interval of after - before from the interval of each.

    Newcombe 1998, Statist Med 17:873 (method 10); for any two independent estimates Zou and
    Donner 2008, Statist Med 27:1693.
    """
    change = after - before
    below = np.hypot(after - around_after[0], around_before[1] - before)
    above = np.hypot(around_after[1] - after, before - around_before[0])
    return float(change - below), float(change + above)


def _p_at_zero(interval: Callable[[float], tuple[float, float]]) -> float:
    """Two-sided p at which an interval, by its tail, ends at 0."""

    def beyond(p: float) -> float:
        low, high = interval(p / 2)
        return max(low, -high)

    if beyond(_MOST_P) <= 0:
        return 1.0
    if beyond(LEAST_P) >= 0:
        return LEAST_P
    return float(optimize.brentq(beyond, LEAST_P, _MOST_P, xtol=LEAST_P * 1e-6))


@dataclass(frozen=True)
class _Share:
    """A share of time over `n` segments, and the variance of its mean."""

    share: float
    variance: float
    n: int

    @classmethod
    def of(cls, shares: np.ndarray, cosines: int) -> "_Share":
        variance = float(mean_variance(shares, cosines))
        varies = variance > _ROUNDING**2
        return cls(float(shares.mean()), variance if varies else 0.0, len(shares))

    def limits(self, narrower: float, tail: float) -> tuple[float, float]:
        """Clopper and Pearson's; `narrower` is their quantile over that of the series' t."""
        trials = float(self.n)
        if self.variance > 0 and 0 < self.share < 1:
            trials = self.share * (1 - self.share) / self.variance * narrower**2
        return _lower(self.share, trials, tail), 1 - _lower(1 - self.share, trials, tail)


def _lower(share: float, trials: float, tail: float) -> float:
    """Clopper and Pearson's lower end."""
    hits = share * trials
    return float(special.betaincinv(hits, trials - hits + 1, tail)) if share > 0 else 0.0
