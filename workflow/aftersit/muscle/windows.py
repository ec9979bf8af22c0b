"""Window by window: covariances of the electrodes in frequency ranges.

Windows of one second, half overlapping, under a Hann window; per hertz, so
that ranges of different width compare. Bins near the mains are left out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from aftersit.quality import Carried

Range = tuple[float, float]

WINDOW_S, STEP_S = 1.0, 0.5
AWAY_FROM_MAINS_HZ = 3.0
"""The Hann window's main lobe is 2 bins of 1 Hz to either side."""
_CHUNK = 256


class Recorded(Protocol):
    """What is known of a recording's frequencies."""

    carried: Carried
    mains_hz: float | None


@dataclass(frozen=True)
class Windows:
    """Covariance densities.

    Attributes
    ----------
    start_s : ndarray, shape (n_windows,)
    ranges : dict of str to (low_hz, high_hz)
    density : dict of str to ndarray, shape (n_windows, n_good, n_good)
        uV^2/Hz, average reference.
    """

    start_s: np.ndarray
    ranges: dict[str, Range]
    density: dict[str, np.ndarray]

    @property
    def stop_s(self) -> np.ndarray:
        return self.start_s + WINDOW_S

    def clear_of(self, spans: Sequence[Range]) -> np.ndarray:
        """Windows that touch none of the spans, shape (n_windows,)."""
        clear = np.ones(self.start_s.size, bool)
        for start_s, stop_s in spans:
            clear &= (self.stop_s <= start_s) | (self.start_s >= stop_s)
        return clear

    def inside(self, start_s: float, stop_s: float) -> np.ndarray:
        """Windows whose middle lies in [start, stop), shape (n_windows,)."""
        middle = self.start_s + WINDOW_S / 2
        return (middle >= start_s) & (middle < stop_s)


@dataclass(frozen=True)
class Spectra:
    """Spectra of all windows, made piece by piece: those of a long recording are larger than it.

    Attributes
    ----------
    x : ndarray, shape (n_good, n_samples)
        uV, any reference; at least one window long.
    rate_hz : float
    """

    x: np.ndarray
    rate_hz: float

    @property
    def step(self) -> int:
        """Samples from one window to the next."""
        return round(STEP_S * self.rate_hz)

    @property
    def size(self) -> int:
        """Samples in a window."""
        return round(WINDOW_S * self.rate_hz)

    @property
    def n_windows(self) -> int:
        return (self.x.shape[1] - self.size) // self.step + 1

    def pieces(self) -> Iterator[np.ndarray]:
        """Under a Hann window, average reference; shape (some windows, n_good, n_bins), complex."""
        from scipy.fft import rfft

        size, step = self.size, self.step
        taper = np.hanning(size + 1)[:-1]
        taper *= np.sqrt(2 / (self.rate_hz * (taper**2).sum()))
        for at in range(0, self.n_windows, _CHUNK):
            last = min(at + _CHUNK, self.n_windows) - 1
            piece = self.x[:, at * step : last * step + size]
            centred = piece - piece.mean(axis=0)
            cut = np.lib.stride_tricks.sliding_window_view(centred, size, axis=1)[:, ::step]
            part = cut.transpose(1, 0, 2)
            tapered = (part - part.mean(axis=2, keepdims=True)) * taper
            yield rfft(tapered, axis=2).astype(np.complex64)


def densities_in(spectra: Spectra, ranges: dict[str, Range], quality: Recorded) -> Windows:
    """Covariance densities of each window in each range.

    Parameters
    ----------
    ranges : dict of str to (low_hz, high_hz)
        Half open; a range in which no bin is left gives zeros.
    quality : Recorded
        What the recording carries, and its mains.
    """
    rate_hz, n_good = spectra.rate_hz, spectra.x.shape[0]
    bins = {
        name: usable_bins(spectra.size, rate_hz, band_hz, quality)
        for name, band_hz in ranges.items()
    }
    density = {name: np.zeros((spectra.n_windows, n_good, n_good)) for name in ranges}
    at = 0
    for piece in spectra.pieces():
        for name, chosen in bins.items():
            if chosen.any():
                density[name][at : at + len(piece)] = _density(piece[:, :, chosen])
        at += len(piece)
    starts = np.arange(spectra.n_windows) * spectra.step / rate_hz
    return Windows(starts, dict(ranges), density)


def _density(inside: np.ndarray) -> np.ndarray:
    """Real part of the cross-spectra, from real matrices: two thirds of the work."""
    both = np.concatenate([inside.real, inside.imag], axis=2).astype(float)
    return both @ both.transpose(0, 2, 1) / inside.shape[2]


def usable_bins(size: int, rate_hz: float, band_hz: Range, quality: Recorded) -> np.ndarray:
    """Bins of a range that the recording carries, away from notches and the mains."""
    from scipy.fft import rfftfreq

    f, holds, mains_hz = rfftfreq(size, 1 / rate_hz), quality.carried, quality.mains_hz
    usable = (f >= max(band_hz[0], holds.low_hz)) & (f < min(band_hz[1], holds.high_hz))
    for low, high in holds.notches_hz:
        usable &= (f < low) | (f > high)
    if mains_hz is not None:
        usable &= np.abs(f - mains_hz * np.round(f / mains_hz)) >= AWAY_FROM_MAINS_HZ
    return usable
