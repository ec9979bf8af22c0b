"""Standardised low-resolution source estimate (sLORETA) with fixed orientation.

Pascual-Marqui 2002, Methods Find Exp Clin Pharmacol 24 Suppl D:5. The minimum-norm
estimate of each source is divided by the spread that the model expects for it, so
that the peak of a single source's map is the source itself. This holds with the
orientation fixed to the cortex; with free orientation it holds for the paper's
3 x 3 form only, not for the pooled form that is in common use.

The unit, in words: an estimate of 1 is as large as the model expects at that
source when every electrode carries `noise_v` of noise and, on average over the
electrodes, 1 / sqrt(lambda2) times as much signal from an evenly active cortex.
It has no dimension, and region measures are means of its square.
"""

import numpy as np


def reference_basis(n_electrodes: int) -> np.ndarray:
    """Orthonormal rows that span all potentials of mean zero (Helmert's matrix).

    Returns
    -------
    ndarray, shape (n_electrodes - 1, n_electrodes)
        Applying it takes the average reference and keeps all that is left.
    """
    k = np.arange(1, n_electrodes)[:, None]
    column = np.arange(n_electrodes)[None, :]
    return ((column < k) - k * (column == k)) / np.sqrt(k * (k + 1))


def sloreta_kernel(gain: np.ndarray, lambda2: float, noise_v: float = 0.2e-6) -> np.ndarray:
    """Kernel K of the estimate K x of potentials x in volts.

    Equal to mne's inverse operator with fixed orientation, no depth weighting and
    an ad-hoc noise covariance of `noise_v` squared (mne's default: 0.2 uV).

    Parameters
    ----------
    gain : ndarray, shape (n_electrodes, n_sources)
        V/(A m), any reference: the average reference is taken here, of the gain
        and of the data.
    lambda2 : float
        Regularisation: noise power over signal power, on average over electrodes.
    noise_v : float
        Standard deviation of the assumed noise of each electrode, in volts.

    Returns
    -------
    ndarray, shape (n_sources, n_electrodes)
        Per volt. Each row adds up to zero.
    """
    basis = reference_basis(len(gain))
    seen = basis @ gain
    gram = seen @ seen.T
    # lambda2 is relative to the mean power that the electrodes receive.
    noise = lambda2 * np.trace(gram) / len(gram)
    weights = np.linalg.solve(gram + noise * np.eye(len(gram)), seen).T
    resolution = np.einsum("sk,ks->s", weights, seen)
    scale = np.sqrt(noise / resolution) / noise_v
    return scale[:, None] * (weights @ basis)
