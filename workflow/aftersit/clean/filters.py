"""Filters without phase shift, and what else is done to rows of samples."""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy import signal
from scipy.fft import rfft

HIGH_PASS_ORDER = 3
"""Run forwards and backwards: at twice the cut-off 0.14 dB are lost."""


PIECE_SAMPLES = 1 << 16


def high_pass(x: np.ndarray, rate_hz: float, cutoff_hz: float, dtype: type = float) -> np.ndarray:
    """Butterworth high-pass without phase shift.

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_samples)
        Signal; not changed.
    rate_hz : float
        Sampling rate.
    cutoff_hz : float
        Where one pass loses 3 dB, so both lose 6 dB.
    dtype : type
        Of what is returned; computed in double precision.

    Returns
    -------
    ndarray, shape (n_rows, n_samples)
    """
    sos = signal.butter(HIGH_PASS_ORDER, cutoff_hz, "highpass", fs=rate_hz, output="sos")
    pad = min(round(3 * rate_hz / cutoff_hz), x.shape[1] - 1)
    return _row_by_row(sos, x, pad, dtype)


def without_drift(
    x: np.ndarray, rate_hz: float, cutoff_hz: float, span_s: float = 5.0
) -> tuple[np.ndarray, np.ndarray]:
    """High-pass, and how much drift it took away.

    Returns
    -------
    high_passed : ndarray of float32, shape (n_rows, n_samples)
        Without drift, single precision is far finer than any recorder's step.
    drift : ndarray, shape (n_spans, n_rows)
        Standard deviation of the drift in spans of `span_s`.
    """
    passed = high_pass(x, rate_hz, cutoff_hz, np.float32)
    size = min(round(span_s * rate_hz), x.shape[1])
    n_spans = x.shape[1] // size
    drift = np.empty((n_spans, len(x)))
    for row, (before, after) in enumerate(zip(x, passed, strict=True)):
        slow = (before - after)[: n_spans * size].reshape(n_spans, size)
        drift[:, row] = slow.std(axis=1)
    return passed, drift


def band_pass(
    x: np.ndarray, rate_hz: float, low_hz: float, high_hz: float | None, order: int = 4
) -> np.ndarray:
    """Butterworth band-pass (high-pass when `high_hz` is None) without phase shift; uV."""
    edges, kind = (low_hz, "highpass") if high_hz is None else ((low_hz, high_hz), "bandpass")
    sos = signal.butter(order, edges, kind, fs=rate_hz, output="sos")
    pad = min(round(3 * rate_hz / low_hz), x.shape[1] - 1)
    return _row_by_row(sos, x, pad)


def _row_by_row(sos: np.ndarray, x: np.ndarray, pad: int, dtype: type = float) -> np.ndarray:
    """One row at a time, so that the filter's copies stay small."""
    out = np.empty(x.shape, dtype)
    for row, target in zip(x, out, strict=True):
        target[:] = signal.sosfiltfilt(sos, row - row.mean(), padtype="odd", padlen=pad)
    return out


def decimated(x: np.ndarray, rate_hz: float, target_hz: float) -> tuple[np.ndarray, float]:
    """Every q-th sample behind a linear-phase low-pass, at no less than `target_hz`."""
    q = max(int(rate_hz // target_hz), 1)
    if q == 1:
        return x, rate_hz
    return signal.resample_poly(x, 1, q, axis=1), rate_hz / q


def bridge_over(x: np.ndarray, gaps: list[tuple[int, int, int]]) -> None:
    """Draw straight lines over (row, start, stop), in place; ends hold the nearest value.

    The gaps of a row go from left to right.
    """
    for row, start, stop in gaps:
        before = x[row, start - 1] if start else (x[row, stop] if stop < x.shape[1] else 0.0)
        after = x[row, stop] if stop < x.shape[1] else before
        x[row, start:stop] = np.linspace(before, after, stop - start + 2)[1:-1]


def spectra(x: np.ndarray, rate_hz: float, segment_s: float = 4.0) -> tuple[np.ndarray, np.ndarray]:
    """Median of Hann-windowed periodograms (Welch).

    Returns
    -------
    frequencies : ndarray, shape (n_bins,)
        Hz.
    density : ndarray, shape (n_rows, n_bins)
        One-sided, square of the signal's unit per Hz.
    """
    length = min(round(segment_s * rate_hz), x.shape[1])
    hop = max(length // 2, 1)
    window = signal.get_window("hann", length)
    frequencies = np.fft.rfftfreq(length, 1 / rate_hz)
    double = np.where((frequencies > 0) & (frequencies < rate_hz / 2), 2.0, 1.0)
    scale = double / (rate_hz * (window**2).sum())
    n_segments = (x.shape[1] - length) // hop + 1
    return frequencies, median_power(x, window, hop) * scale / median_bias(n_segments)


def median_power(x: np.ndarray, window: np.ndarray, hop: int, centred: bool = True) -> np.ndarray:
    """Median over segments of the squared transform, shape (n_rows, n_bins).

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_samples)
    window : ndarray, shape (n,)
        What a segment is multiplied by.
    hop : int
        Samples from one segment to the next.
    centred : bool
        Whether a segment's mean is taken off first.
    """
    # One row at a time: all segments of all rows would be the stage's peak of memory.
    return np.array([_middle(_powers(row, window, hop, centred)) for row in x])


def mean_power(x: np.ndarray, window: np.ndarray, hop: int) -> np.ndarray:
    """As `median_power`, the mean over segments."""
    return np.array([_powers(row, window, hop, True).mean(axis=0) for row in x])


def _powers(row: np.ndarray, window: np.ndarray, hop: int, centred: bool) -> np.ndarray:
    """Squared transforms of all segments in one call; scipy's own Welch makes one for each."""
    segments = sliding_window_view(row, window.size)[::hop]
    if centred:
        segments = segments - segments.mean(axis=1, keepdims=True)
    found = rfft(segments * window, axis=1)
    return found.real**2 + found.imag**2


def _middle(rows: np.ndarray) -> np.ndarray:
    """Median of each column; sorting what lies together is quicker than `np.median` here."""
    columns = np.ascontiguousarray(rows.T)
    columns.sort(axis=1)
    n = columns.shape[1]
    return (columns[:, (n - 1) // 2] + columns[:, n // 2]) / 2


def median_bias(n: int) -> float:
    """Median over mean of n periodograms (as in `scipy.signal.welch`)."""
    return float(1 + np.sum(1 / np.arange(3, n + 1, 2) - 1 / np.arange(2, n, 2)))


def product(filters: np.ndarray, x: np.ndarray) -> np.ndarray:
    """Filters @ x, in pieces: x in the filters' precision would be twice as large as x may be."""
    out = np.empty((len(filters), x.shape[1]), np.result_type(filters, x))
    for start in range(0, x.shape[1], PIECE_SAMPLES):
        part = slice(start, start + PIECE_SAMPLES)
        out[:, part] = filters @ x[:, part]
    return out


def subtract_product(x: np.ndarray, maps: np.ndarray, courses: np.ndarray) -> None:
    """Take maps @ courses out of x, in place and in pieces: it is twice as large as x may be."""
    for start in range(0, x.shape[1], PIECE_SAMPLES):
        part = slice(start, start + PIECE_SAMPLES)
        x[:, part] -= maps @ courses[:, part]
