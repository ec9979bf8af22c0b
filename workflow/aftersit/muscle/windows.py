"""Window by window: covariances of the electrodes in frequency ranges.

Windows of one second, half overlapping, under a Hann window; per hertz, so
that ranges of different width compare. Bins near the mains are left out.
"""

from collections.abc import Sequence
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
    """Spectra of all windows.

    Attributes
    ----------
    parts : list of ndarray, shape (n_windows, n_good, n_bins), complex
        In pieces, so that no copy of all is needed.
    rate_hz : float
    """

    parts: list[np.ndarray]
    rate_hz: float

    @property
    def n_windows(self) -> int:
        return sum(len(part) for part in self.parts)


def window_spectra(x: np.ndarray, rate_hz: float) -> Spectra:
    """Spectra under a Hann window, average reference.

    Parameters
    ----------
    x : ndarray, shape (n_good, n_samples)
        uV, any reference; at least one window long.
    """
    from scipy.fft import rfft

    size, step = round(WINDOW_S * rate_hz), round(STEP_S * rate_hz)
    taper = np.hanning(size + 1)[:-1]
    taper *= np.sqrt(2 / (rate_hz * (taper**2).sum()))
    n_windows = (x.shape[1] - size) // step + 1
    parts = []
    for at in range(0, n_windows, _CHUNK):
        last = min(at + _CHUNK, n_windows) - 1
        piece = x[:, at * step : last * step + size]
        centred = piece - piece.mean(axis=0)
        cut = np.lib.stride_tricks.sliding_window_view(centred, size, axis=1)[:, ::step]
        part = cut.transpose(1, 0, 2)
        tapered = (part - part.mean(axis=2, keepdims=True)) * taper
        parts.append(rfft(tapered, axis=2).astype(np.complex64))
    return Spectra(parts, rate_hz)


def densities_in(spectra: Spectra, ranges: dict[str, Range], quality: Recorded) -> Windows:
    """Covariance densities of each window in each range.

    Parameters
    ----------
    ranges : dict of str to (low_hz, high_hz)
        Half open; a range in which no bin is left gives zeros.
    quality : Recorded
        What the recording carries, and its mains.
    """
    size, step = round(WINDOW_S * spectra.rate_hz), round(STEP_S * spectra.rate_hz)
    density = {
        name: _density(spectra, usable_bins(size, spectra.rate_hz, band_hz, quality))
        for name, band_hz in ranges.items()
    }
    starts = np.arange(spectra.n_windows) * step / spectra.rate_hz
    return Windows(starts, dict(ranges), density)


def _density(spectra: Spectra, chosen: np.ndarray) -> np.ndarray:
    n_good = spectra.parts[0].shape[1]
    if not chosen.any():
        return np.zeros((spectra.n_windows, n_good, n_good))
    found = []
    for part in spectra.parts:
        inside = part[:, :, chosen]
        # Real part of the cross-spectra, from real matrices: two thirds of the work.
        both = np.concatenate([inside.real, inside.imag], axis=2).astype(float)
        found.append(both @ both.transpose(0, 2, 1) / chosen.sum())
    return np.concatenate(found)


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
