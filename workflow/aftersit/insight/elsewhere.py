"""What else rose or fell over a break: all regions by standard bands.

The power of every one-sided region measure in every standard band that the
recording carries, in short windows of the cleaned signal that touch no bad span.
Decibels of windows are averaged over segments and compared as in
`aftersit.insight.breaks`. Of so many tests some pass by chance: what is reported
holds the false discovery rate (Benjamini and Hochberg 1995, J R Stat Soc B
57:289). Regions hear each other, so one change shows in several.
"""

from collections.abc import Sequence

import numpy as np
from scipy import stats

from aftersit.blocks import Block
from aftersit.findings import Elsewhere, OtherChange
from aftersit.head.atlas import half_keys
from aftersit.head.bands import Band, bands
from aftersit.head.measures import RegionMeasures
from aftersit.head.spectra import transforms
from aftersit.insight.breaks import Break
from aftersit.insight.longrun import Comparison, compare
from aftersit.insight.segments import segment_means
from aftersit.insight.settings import InsightSettings
from aftersit.quality import Quality
from aftersit.replay.run import Signal
from aftersit.replay.spans import touched


def window_powers(
    signal: np.ndarray,
    rate_hz: float,
    starts: np.ndarray,
    length: int,
    bands_hz: Sequence[tuple[float, float]],
    matrices: np.ndarray,
) -> np.ndarray:
    """Power of measures in bands, window by window.

    Parameters
    ----------
    signal : ndarray, shape (n_channels, n_samples)
    starts : ndarray of int, shape (n_windows,)
        First sample of each window of `length` samples.
    bands_hz : sequence of (float, float)
        Each holds low <= f < high.
    matrices : ndarray, shape (n_measures, n_channels, n_channels)

    Returns
    -------
    ndarray, shape (n_measures, n_bands, n_windows)
        In proportion to power; the factor is the same for all windows.
    """
    frequency = np.arange(length // 2 + 1) * rate_hz / length
    inside = [(frequency >= low) & (frequency < high) for low, high in bands_hz]
    flat = matrices.reshape(len(matrices), -1)
    parts = [
        np.stack([flat @ _products(spectra[bins]) for bins in inside], axis=1)
        for spectra in transforms(signal, starts, length)
    ]
    empty = np.empty((len(matrices), len(bands_hz), 0))
    return np.concatenate([empty, *parts], axis=2)


def _products(spectra: np.ndarray) -> np.ndarray:
    """Real part of the cross-products of (n_bins, n_channels, n_windows), flat by window."""
    by_window = spectra.transpose(2, 1, 0)
    parts = np.concatenate([by_window.real, by_window.imag], axis=2)
    return (parts @ parts.transpose(0, 2, 1)).reshape(len(parts), -1).T


def block_levels_db(
    signal: Signal,
    block: Block,
    length: int,
    bands_hz: Sequence[tuple[float, float]],
    matrices: np.ndarray,
) -> np.ndarray:
    """Levels window after window from a block's start, NaN where a bad span touches.

    Returns
    -------
    ndarray, shape (n_measures, n_bands, n_windows)
    """
    first = int(np.ceil(block.start_s * signal.rate_hz - 1e-6))
    last = min(int(block.stop_s * signal.rate_hz + 1e-6), signal.samples.shape[1])
    starts = np.arange(first, last - length + 1, length)
    begins_s = starts / signal.rate_hz
    usable = ~touched(begins_s, begins_s + length / signal.rate_hz, signal.bad_spans)
    levels = np.full((len(matrices), len(bands_hz), len(starts)), np.nan)
    power = window_powers(
        signal.samples, signal.rate_hz, starts[usable], length, bands_hz, matrices
    )
    with np.errstate(divide="ignore"):
        levels[..., usable] = 10 * np.log10(power)
    return levels


class RegionScan:
    """Levels of all regions and bands in the blocks of one sitting, each found once."""

    def __init__(
        self, signal: Signal, regions: RegionMeasures, quality: Quality, settings: InsightSettings
    ):
        self._signal, self._settings = signal, settings
        self._keys = [key for key in half_keys() if key in regions.keys]
        self._matrices = np.stack([regions.matrix(key) for key in self._keys])
        self._bands = [b for b in bands() if quality.carried.holds(b.limits_hz)]
        self._found: dict[int, np.ndarray] = {}

    @property
    def pairs(self) -> list[list[tuple[str, Band]]]:
        """Place and band of each level, as (n_regions, n_bands) of every result."""
        return [[(key, band) for band in self._bands] for key in self._keys]

    def levels(self, block: Block) -> np.ndarray:
        """A block's levels in dB, as from `block_levels_db`."""
        if block.index not in self._found:
            length = round(self._settings.window_s * self._signal.rate_hz)
            limits = [b.limits_hz for b in self._bands]
            self._found[block.index] = block_levels_db(
                self._signal, block, length, limits, self._matrices
            )
        return self._found[block.index]

    def __call__(self, around: Break) -> Elsewhere | None:
        """What changed over a break; None when too little is known for any test."""
        found, rate = self.compared(around), self._settings.false_discovery_rate
        if found is None:
            return None
        q = stats.false_discovery_control(found.p, axis=None).reshape(found.p.shape)
        named = [
            OtherChange(change_db=float(found.change[at]), **self.told(found, q, at))
            for at in map(tuple, np.argwhere(q <= rate).tolist())
        ]
        named.sort(key=lambda c: c.p)
        return Elsewhere(tested=q.size, false_discovery_rate=rate, found=tuple(named))

    def compared(self, around: Break) -> Comparison | None:
        """Every comparison over a break, arrays of shape (n_regions, n_bands)."""
        before, after = (self._segments(b) for b in (around.before, around.after))
        if min(before.shape[-1], after.shape[-1]) < self._settings.segments_min or not before.size:
            return None
        return compare(before, after, self._settings.change_cosines)

    def _segments(self, block: Block) -> np.ndarray:
        windows = max(1, round(self._settings.segment_s / self._settings.window_s))
        return segment_means(self.levels(block), windows, self._settings.segment_known)

    def told(self, found: Comparison, q: np.ndarray, at: tuple[int, int]) -> dict:
        """What every finding of a pair of place and band says, but for its change."""
        place, band = self.pairs[at[0]][at[1]]
        return {
            "place": place,
            "band": band.name,
            "band_hz": band.limits_hz,
            "low_db": float(found.low[at]),
            "high_db": float(found.high[at]),
            "p": float(found.p[at]),
            "q": float(q[at]),
        }
