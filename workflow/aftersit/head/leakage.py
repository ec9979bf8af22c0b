"""Measures that move together although no two sources do."""

import numpy as np


def co_variation(matrices: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    """Correlation of quadratic measures x' M x that leakage alone produces.

    For Gaussian x of covariance C the covariance of x' A x and x' B x is
    2 tr(A C B C) (Searle 1971, Linear Models, section 2.5). With the C of an evenly
    active cortex, in which no source varies with another, what remains is due to
    each measure hearing what the other hears. It holds for one sample as for mean
    power over a band and any window, when the spectrum is the same everywhere.

    Parameters
    ----------
    matrices : ndarray, shape (n_measures, n_electrodes, n_electrodes)
        Symmetric; region measures of either kind, or electrode groups.
    covariance : ndarray, shape (n_electrodes, n_electrodes)
        `RegionMeasures.covariance`; only its form matters, not its unit.

    Returns
    -------
    ndarray, shape (n_measures, n_measures)
        In (0, 1], and 1 on the diagonal.
    """
    products = shared_power(matrices, covariance)
    spread = np.sqrt(np.diag(products))
    return products / np.outer(spread, spread)


def shared_power(matrices: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    """Covariance of x' A x and x' B x over twice their means: tr(A C B C) / (tr(A C) tr(B C)).

    So that of their logarithms, to first order; arguments as in `co_variation`.
    """
    heard = matrices @ covariance
    products = np.einsum("aij,bji->ab", heard, heard, optimize=True)
    mean = np.einsum("aii->a", heard)
    return products / np.outer(mean, mean)
