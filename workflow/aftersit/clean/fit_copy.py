"""The copy of the signal that components are fitted on: short, slow and band-passed."""

from dataclasses import dataclass

import numpy as np

from aftersit.clean import filters
from aftersit.clean.settings import ComponentSettings

LOW_HZ, HIGH_HZ = 1.0, 100.0
"""What the labels' network was made for (Pion-Tonachini et al. 2019)."""
CHUNK_S = 6.0


@dataclass(frozen=True)
class FitCopy:
    """Usable seconds, joined.

    Attributes
    ----------
    x : ndarray, shape (n_electrodes, n_samples)
        uV, average reference, 1-100 Hz or as far as the recording goes.
    eog : ndarray, shape (n_channels, n_samples)
        The same seconds of the EOG channels.
    rate_hz : float
        Sampling rate.
    """

    x: np.ndarray
    eog: np.ndarray
    rate_hz: float

    @property
    def duration_s(self) -> float:
        return self.x.shape[1] / self.rate_hz


def fit_copy(
    x: np.ndarray,
    rows: np.ndarray,
    eog: np.ndarray,
    rate_hz: float,
    bad: np.ndarray,
    settings: ComponentSettings,
) -> FitCopy:
    """Cut the usable seconds out of a sitting, at most `settings.fit_s` of them.

    Parameters
    ----------
    x : ndarray, shape (n_electrodes, n_samples)
        High-passed signal, uV.
    rows : ndarray of int, shape (n_good,)
        The good electrodes.
    eog : ndarray, shape (n_channels, n_samples)
        EOG channels.
    rate_hz : float
        Sampling rate.
    bad : ndarray of bool, shape (n_samples,)
        Samples to leave out.
    settings : ComponentSettings
        Length and rate.
    """
    chunks = _spread(_usable_chunks(bad, round(CHUNK_S * rate_hz)), settings.fit_s / CHUNK_S)
    if not chunks:
        return FitCopy(np.zeros((len(rows), 0)), np.zeros((len(eog), 0)), rate_hz)
    picked = np.concatenate([x[rows, a:b] for a, b in chunks], axis=1)
    picked -= picked.mean(axis=0)
    if len(eog):
        eyes = np.concatenate([eog[:, a:b] for a, b in chunks], axis=1)
        picked = np.concatenate([picked, eyes])
    picked, fit_rate_hz = filters.decimated(picked, rate_hz, settings.fit_rate_hz)
    high_hz = HIGH_HZ if fit_rate_hz > 2.2 * HIGH_HZ else None
    picked = filters.band_pass(picked, fit_rate_hz, LOW_HZ, high_hz, 3)
    return FitCopy(picked[: len(rows)], picked[len(rows) :], fit_rate_hz)


def _usable_chunks(bad: np.ndarray, size: int) -> list[tuple[int, int]]:
    """Stretches of `size` samples without a bad one, from left to right."""
    edges = np.flatnonzero(np.diff(np.concatenate(([1], bad.astype(np.int8), [1]))))
    return [
        (at, at + size)
        for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        for at in range(start, stop - size + 1, size)
    ]


def _spread(chunks: list[tuple[int, int]], most: float) -> list[tuple[int, int]]:
    """At most this many, evenly over the sitting."""
    if len(chunks) <= most:
        return chunks
    chosen = np.unique(np.linspace(0, len(chunks) - 1, int(most)).round().astype(int))
    return [chunks[i] for i in chosen]
