"""Short windows, and their covariances: every variance under any reference, without samples."""

from collections.abc import Sequence

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy.fft import rfft

AT_ONCE = 64
"""Windows transformed together: few enough for the cache."""


def windows_to_end(row: np.ndarray, size: int) -> np.ndarray:
    """Windows of a row; where a rest is left over, one more reaches back from the end.

    Parameters
    ----------
    row : ndarray, shape (n_samples,)
        At least `size` samples.
    size : int
        Samples in a window.

    Returns
    -------
    ndarray, shape (n_windows, size)
        Window i stands for the samples from `i * size`, the last for the rest.
    """
    n_whole, rest = divmod(row.size, size)
    whole = row[: n_whole * size].reshape(n_whole, size)
    return np.concatenate([whole, row[None, -size:]]) if rest else whole


def window_covariances(x: np.ndarray, size: int) -> np.ndarray:
    """Covariance about zero of each whole window.

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_samples)
        High-passed signal, uV.
    size : int
        Samples in a window; a rest at the end is left out.

    Returns
    -------
    ndarray, shape (n_windows, n_rows, n_rows)
        uV^2.
    """
    n_windows = x.shape[1] // size
    cut = x[:, : n_windows * size].reshape(len(x), n_windows, size).transpose(1, 0, 2)
    return cut @ cut.transpose(0, 2, 1) / size


def band_covariances(
    x: np.ndarray, rate_hz: float, hop: int, bands_hz: Sequence[tuple[float, float]]
) -> np.ndarray:
    """Covariance in each band, [low, high) Hz, in Hann windows of two hops, one a hop.

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_samples)
        High-passed signal, uV.
    rate_hz : float
        Sampling rate.
    hop : int
        Samples from one window to the next; a rest at the end is left out.
    bands_hz : sequence of tuple
        Below half the rate.

    Returns
    -------
    ndarray, shape (n_bands, n_windows, n_rows, n_rows)
        uV^2.
    """
    size, n_windows = 2 * hop, x.shape[1] // hop - 1
    taper = np.hanning(size + 2)[1:-1]
    taper *= np.sqrt(2 / (taper**2).mean()) / size
    f = np.fft.rfftfreq(size, 1 / rate_hz)
    inside = [(f >= low) & (f < high) for low, high in bands_hz]
    cut = sliding_window_view(x, size, axis=1)[:, ::hop].transpose(1, 0, 2)
    out = np.empty((len(bands_hz), n_windows, len(x), len(x)))
    for start in range(0, n_windows, AT_ONCE):
        some = slice(start, min(start + AT_ONCE, n_windows))
        spectra = rfft(cut[some] * taper, axis=2)
        for target, bins in zip(out, inside, strict=True):
            part = np.ascontiguousarray(spectra[:, :, bins]).view(float)
            target[some] = part @ part.transpose(0, 2, 1)
    return out


def in_windows(flags: np.ndarray, hop: int) -> np.ndarray:
    """Whether any sample of a window of two hops is flagged, one window a hop."""
    n_blocks = flags.size // hop
    blocks = flags[: n_blocks * hop].reshape(n_blocks, hop).any(axis=1)
    return blocks[1:] | blocks[:-1]


def in_both_windows(flags: np.ndarray) -> np.ndarray:
    """Blocks of one hop all of whose windows are flagged, so that edges lie in their hop.

    Parameters
    ----------
    flags : ndarray of bool, shape (n_rows, n_windows)
        Windows of two hops, one a hop.

    Returns
    -------
    ndarray of bool, shape (n_rows, n_windows + 1)
    """
    closed = np.pad(flags, ((0, 0), (1, 1)), mode="edge")
    return closed[:, 1:] & closed[:, :-1]


def quadratic(vectors: np.ndarray, covariances: np.ndarray) -> np.ndarray:
    """Variance of each combination in each window, shape (n_windows, n_vectors)."""
    products = (vectors[:, :, None] * vectors[:, None, :]).reshape(len(vectors), -1)
    return np.maximum(covariances.reshape(len(covariances), -1) @ products.T, 0.0)


def typical_covariance(covariances: np.ndarray, keep_share: float = 0.8) -> np.ndarray:
    """Mean over the quieter windows, so that single events have no say."""
    size = np.log(np.trace(covariances, axis1=1, axis2=2) + 1e-12)
    return covariances[size <= np.quantile(size, keep_share)].mean(axis=0)


def against_others(n: int) -> np.ndarray:
    """Row e: electrode e less the mean of all others, shape (n, n)."""
    return (n * np.eye(n) - 1.0) / (n - 1)


def unexplained(typical: np.ndarray, ridge: float = 0.01) -> np.ndarray:
    """Row e: what of electrode e the others do not predict, shape (n, n).

    The prediction is a ridge regression on the other electrodes, all of them
    less the others' mean, so that the recording's reference has no part in it.
    """
    n = len(typical)
    rows = np.zeros((n, n))
    for e in range(n):
        others = np.arange(n) != e
        reference = np.eye(n) - others[None, :] / (n - 1)
        seen = reference @ typical @ reference.T
        inner = seen[np.ix_(others, others)]
        inner = inner + ridge * np.trace(inner) / (n - 1) * np.eye(n - 1)
        weights = np.linalg.solve(inner, seen[others, e])
        rows[e] = reference[e] - weights @ reference[others]
    return rows
