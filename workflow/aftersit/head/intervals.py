"""How well a mean spectrum and a band's power are known: degrees of freedom, intervals.

A power P that rests on nu degrees of freedom is distributed about its true value as
chi-squared / nu. Welch 1967, IEEE Trans Audio Electroacoust 15:70; Percival &
Walden 1993, Spectral Analysis for Physical Applications, section 6.17. This is for
a signal whose spectrum stays the same throughout; real EEG's changes, so intervals
are the least that is unknown.
"""

from collections.abc import Sequence

import numpy as np

LEVEL = 0.95
_HEARD = 1e-3
"""Correlations of bins below it are left out."""


def segment_dof(segments_by_run: Sequence[int], window: np.ndarray, step: int) -> float:
    """Degrees of freedom of one bin of a mean over overlapping segments.

    2 K / (1 + 2 sum_j (n_j / K) rho_j), with n_j pairs of segments j steps apart and
    rho_j the squared correlation of their windows; for one run of K segments with
    a Hann window and half overlap 36 K^2 / (19 K - 1).

    Parameters
    ----------
    segments_by_run : sequence of int
        Segments in each run; those of two runs never overlap.
    window : ndarray, shape (length,)
    step : int
        Samples from one segment to the next.

    Returns
    -------
    float
        nan when there is no segment.
    """
    counts = np.asarray(segments_by_run, dtype=float)
    total = counts.sum()
    if not total:
        return np.nan
    shared = 0.0
    for j in range(1, -(-len(window) // step)):
        overlap = window[j * step :] @ window[: len(window) - j * step]
        shared += np.maximum(counts - j, 0).sum() * (overlap / (window @ window)) ** 2
    return float(2 * total / (1 + 2 * shared / total))


def bin_correlation(window: np.ndarray) -> np.ndarray:
    """Correlation of powers in bins 0, 1, 2, ... apart: squared transform of the squared window."""
    transform = np.abs(np.fft.rfft(window**2)) ** 2 / np.sum(window**2) ** 2
    return transform[transform > _HEARD]


def band_dof(power: np.ndarray, dof: float, correlation: np.ndarray) -> np.ndarray:
    """Degrees of freedom of sums over a band's bins (Satterthwaite 1946, Biometrics Bull 2:110).

    nu (sum P)^2 / sum_ij c_(i-j) P_i P_j: more bins are known better, a single
    peak is not.

    Parameters
    ----------
    power : ndarray, shape (n_places, n_bins)
        In the band's bins.
    dof : float
        Of one bin.
    correlation : ndarray, shape (n_lags,)
        From `bin_correlation`.

    Returns
    -------
    ndarray, shape (n_places,)
    """
    spread = np.sum(power**2, axis=1)
    for lag, c in enumerate(correlation[1 : power.shape[1]], 1):
        spread += 2 * c * np.sum(power[:, lag:] * power[:, :-lag], axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return dof * power.sum(axis=1) ** 2 / spread


def form_dof(matrices: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    """By how much a quadratic measure is known better than one channel.

    tr(M C)^2 / tr(M C M C): the number of independent sums that it is a mean of.

    Parameters
    ----------
    matrices : ndarray, shape (n_measures, n, n)
    covariance : ndarray, shape (n, n)

    Returns
    -------
    ndarray, shape (n_measures,)
    """
    heard = matrices @ covariance
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.trace(heard, axis1=1, axis2=2) ** 2 / np.einsum("kij,kji->k", heard, heard)


def interval(power: np.ndarray, dof: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Lower and upper end of the 95 % interval; nan where nothing is known."""
    from scipy.special import gammaincinv

    half = np.asarray(dof) / 2
    low, high = (half * power / gammaincinv(half, (1 + s * LEVEL) / 2) for s in (1, -1))
    return low, high
