"""Window by window: covariances of the electrodes in frequency ranges.

Windows of one second, half overlapping, under a Hann window; per hertz, so
that ranges of different width compare. Bins near the mains are left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.quality import Carried

Range = tuple[float, float]

WINDOW_S, STEP_S = 1.0, 0.5
AWAY_FROM_MAINS_HZ = 3.0
"""The Hann window's main lobe is 2 bins of 1 Hz to either side."""
_CHUNK = 256


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


def window_densities(
    x: np.ndarray,
    rate_hz: float,
    ranges: dict[str, Range],
    mains_hz: float | None,
    holds: Carried,
) -> Windows:
    """Covariance densities of each window in each range.

    Parameters
    ----------
    x : ndarray, shape (n_good, n_samples)
        uV; the average over the rows is taken off.
    ranges : dict of str to (low_hz, high_hz)
        Half open; a range in which no bin is left gives zeros.
    """
    size, step = round(WINDOW_S * rate_hz), round(STEP_S * rate_hz)
    taper = np.hanning(size + 1)[:-1]
    scale = 2 / (rate_hz * (taper**2).sum())
    bins = {name: usable_bins(size, rate_hz, r, mains_hz, holds) for name, r in ranges.items()}
    centred = x - x.mean(axis=0)
    cut = np.lib.stride_tricks.sliding_window_view(centred, size, axis=1)[:, ::step]
    density = {name: np.zeros((cut.shape[1], len(x), len(x))) for name in ranges}
    for at in range(0, cut.shape[1], _CHUNK):
        part = cut[:, at : at + _CHUNK].transpose(1, 0, 2)
        spectrum = np.fft.rfft((part - part.mean(axis=2, keepdims=True)) * taper, axis=2)
        for name, chosen in bins.items():
            if chosen.any():
                inside = np.ascontiguousarray(spectrum[:, :, chosen])
                # Real part of the cross-spectra, from real matrices: two thirds of the work.
                both = np.concatenate([inside.real, inside.imag], axis=2)
                power = both @ both.transpose(0, 2, 1)
                density[name][at : at + len(part)] = power * (scale / chosen.sum())
    starts = np.arange(cut.shape[1]) * step / rate_hz
    return Windows(starts, dict(ranges), density)


def usable_bins(
    size: int, rate_hz: float, band_hz: Range, mains_hz: float | None, holds: Carried
) -> np.ndarray:
    """Bins of a range that the recording carries, away from notches and the mains."""
    f = np.fft.rfftfreq(size, 1 / rate_hz)
    usable = (f >= max(band_hz[0], holds.low_hz)) & (f < min(band_hz[1], holds.high_hz))
    for low, high in holds.notches_hz:
        usable &= (f < low) | (f > high)
    if mains_hz is not None:
        usable &= np.abs(f - mains_hz * np.round(f / mains_hz)) >= AWAY_FROM_MAINS_HZ
    return usable
