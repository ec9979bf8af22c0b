"""Cross-spectra by Welch's method over the seconds that can be used.

Welch 1967, IEEE Trans Audio Electroacoust 15:70. Hann window, mean of each
segment taken off, one-sided density. A band's power is the sum over the bins in
[low, high) times the bin's width: bins on both edges would count one too many.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from aftersit.head.intervals import bin_correlation, segment_dof

CHUNK = 128
"""Segments transformed at a time; bounds memory, changes no result."""


@dataclass(frozen=True)
class CrossSpectrum:
    """Mean cross-spectral density of some segments.

    Attributes
    ----------
    frequency_hz : ndarray, shape (n_bins,)
        From 0 to half the sampling rate, evenly.
    density : ndarray of complex, shape (n_bins, n_channels, n_channels)
        One-sided, signal unit squared per Hz; nan when there is no segment.
    n_segments : int
    seconds : float
        Signal that the segments cover, overlaps counted once.
    dof : float
        Degrees of freedom of one channel in one bin; nan when there is no segment.
    """

    frequency_hz: np.ndarray
    density: np.ndarray
    n_segments: int
    seconds: float
    dof: float = np.nan

    def inside(self, low_hz: float, high_hz: float) -> np.ndarray:
        """Which bins lie in [low, high); mask, shape (n_bins,)."""
        return (self.frequency_hz >= low_hz) & (self.frequency_hz < high_hz)

    @property
    def bin_hz(self) -> float:
        """Width of a bin."""
        return float(self.frequency_hz[1] - self.frequency_hz[0])

    def band_covariance(self, low_hz: float, high_hz: float) -> np.ndarray:
        """Covariance of the signal's part in [low, high), shape (n_channels, n_channels)."""
        return self.density[self.inside(low_hz, high_hz)].real.sum(axis=0) * self.bin_hz

    @property
    def auto(self) -> np.ndarray:
        """Power spectral density of each channel, shape (n_channels, n_bins)."""
        return np.einsum("fcc->cf", self.density).real


@dataclass(frozen=True)
class BlockSpectrum:
    """A block's number and the cross-spectrum of its usable seconds, V^2/Hz."""

    block: int
    spectrum: CrossSpectrum


def usable_runs(
    start_s: float, stop_s: float, bad_spans_s: Sequence[tuple[float, float]]
) -> list[tuple[float, float]]:
    """What bad spans leave of [start, stop), in order.

    Examples
    --------
    >>> usable_runs(0, 60, [(10, 12), (11, 15)])
    [(0, 10), (15, 60)]
    """
    runs, position = [], start_s
    for bad_start, bad_stop in sorted(bad_spans_s):
        if bad_stop <= position or bad_start >= stop_s:
            continue
        if bad_start > position:
            runs.append((position, bad_start))
        position = bad_stop
    return [*runs, (position, stop_s)] if position < stop_s else runs


def segment_starts(
    runs_s: Sequence[tuple[float, float]], rate_hz: float, length: int, overlap: float
) -> list[np.ndarray]:
    """First sample of each segment, run by run; a segment never leaves its run.

    Parameters
    ----------
    runs_s : sequence of (float, float)
        Half-open, in seconds.
    length : int
        Of a segment, in samples.
    overlap : float
        Part of a segment that the next one shares.
    """
    step = length - int(length * overlap)
    starts = []
    for start_s, stop_s in runs_s:
        # Rounded first: a limit written in seconds is a sample within rounding error.
        first = int(np.ceil(round(start_s * rate_hz, 6)))
        last = int(np.ceil(round(stop_s * rate_hz, 6))) - length
        starts.append(np.arange(first, last + 1, step))
    return starts


def cross_spectrum(
    signal: np.ndarray,
    rate_hz: float,
    runs_s: Sequence[tuple[float, float]],
    segment_s: float,
    overlap: float,
) -> CrossSpectrum:
    """Cross-spectral density of a signal over the runs given.

    Parameters
    ----------
    signal : ndarray, shape (n_channels, n_samples)
    rate_hz : float
    runs_s : sequence of (float, float)
        Seconds that may be used; see `usable_runs`.
    segment_s, overlap : float
        Length of a segment, and the part of it that the next one shares.
    """
    length = round(segment_s * rate_hz)
    end_s = signal.shape[1] / rate_hz
    within = [(start, min(stop, end_s)) for start, stop in runs_s]
    by_run = segment_starts(within, rate_hz, length, overlap)
    starts = np.concatenate([*by_run, np.empty(0, int)]).astype(int)
    covered = sum(run[-1] - run[0] + length for run in by_run if run.size)
    return CrossSpectrum(
        frequency_hz=np.arange(length // 2 + 1) * rate_hz / length,
        density=_mean_products(signal, starts, length) * _one_sided(length, rate_hz),
        n_segments=len(starts),
        seconds=float(covered / rate_hz),
        dof=segment_dof([len(run) for run in by_run], hann(length), length - int(length * overlap)),
    )


def hann(length: int) -> np.ndarray:
    """Hann's window for spectra: periodic."""
    return 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(length) / length)


@cache
def window_correlation() -> np.ndarray:
    """Correlation of powers in bins 0, 1, 2 apart; the same for every length of segment."""
    return bin_correlation(hann(256))


def _one_sided(length: int, rate_hz: float) -> np.ndarray:
    """From squared transforms to density; 0 Hz and half the rate have no mirror image."""
    factor = np.full(length // 2 + 1, 2.0)
    factor[0] = 1
    if length % 2 == 0:
        factor[-1] = 1
    return factor[:, None, None] / (rate_hz * np.sum(hann(length) ** 2))


def _mean_products(signal: np.ndarray, starts: np.ndarray, length: int) -> np.ndarray:
    total = np.zeros((length // 2 + 1, len(signal), len(signal)), complex)
    for spectra in transforms(signal, starts, length):
        total += spectra @ spectra.conj().transpose(0, 2, 1)
    return total / len(starts) if len(starts) else total * np.nan


def transforms(signal: np.ndarray, starts: np.ndarray, length: int) -> Iterator[np.ndarray]:
    """Transforms of the segments, shape (n_bins, n_channels, up to CHUNK)."""
    views = np.lib.stride_tricks.sliding_window_view(signal, length, axis=1) if len(starts) else ()
    for first in range(0, len(starts), CHUNK):
        segments = views[:, starts[first : first + CHUNK]]
        segments = segments - segments.mean(axis=2, keepdims=True)
        yield np.fft.rfft(segments * hann(length)).transpose(2, 0, 1)
