"""The power line's frequency: found in the recording, removed without touching the bands."""

from collections.abc import Sequence

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from scipy import ndimage

from aftersit.clean.settings import MainsSettings
from aftersit.clean.spans import grown, window_runs
from aftersit.clean.windows import in_both_windows, in_windows

CANDIDATES_HZ = (50.0, 60.0)
BLOCK_S = 0.125
TURN_BLOCKS = 8
HALF_PEAK_HZ = 0.6
NEIGHBOURS_HZ = (1.5, 5.0)
BURST_HOP_S, BURST_USUAL = 0.5, 41
"""Mains is compared with its median over some 20 s."""
BESIDE_HZ = (-12.0, -9.0, -6.0, 6.0, 9.0, 12.0)


def excess_db(frequencies: np.ndarray, density: np.ndarray, at_hz: float) -> np.ndarray:
    """Peak near a frequency over the median of its neighbours, dB, one value for each row."""
    away = np.abs(frequencies - at_hz)
    peak = density[:, away <= HALF_PEAK_HZ].max(axis=1)
    beside = (away >= NEIGHBOURS_HZ[0]) & (away <= NEIGHBOURS_HZ[1])
    floor = np.median(density[:, beside], axis=1)
    return 10 * np.log10((peak + 1e-12) / (floor + 1e-12))


def find_mains(
    frequencies: np.ndarray, density: np.ndarray, prior_hz: float | None, settings: MainsSettings
) -> float | None:
    """Nominal mains frequency that stands out in a quarter of the electrodes.

    Parameters
    ----------
    frequencies, density : ndarray
        As from `filters.spectra`.
    prior_hz : float | None
        What sheet or clinic say; needs less of a peak than the other one.

    Returns
    -------
    float | None
        50 or 60 Hz; None when neither stands out.
    """
    found = {}
    for at_hz in CANDIDATES_HZ:
        if at_hz + NEIGHBOURS_HZ[1] > frequencies[-1]:
            continue
        excess = float(np.quantile(excess_db(frequencies, density, at_hz), 0.75))
        if excess >= (settings.min_db if at_hz == prior_hz else settings.other_min_db):
            found[at_hz] = excess
    return max(found, key=found.get) if found else None


def harmonics(
    frequencies: np.ndarray, density: np.ndarray, mains_hz: float, settings: MainsSettings
) -> list[float]:
    """The mains frequency and those of its multiples that stand out in any electrode."""
    multiples = np.arange(1, int((frequencies[-1] - NEIGHBOURS_HZ[1]) // mains_hz) + 1) * mains_hz
    return [
        float(f)
        for f in multiples
        if f == mains_hz or excess_db(frequencies, density, f).max() >= settings.other_min_db
    ]


def remove_mains(
    x: np.ndarray,
    rate_hz: float,
    frequencies_hz: Sequence[float],
    window_s: float,
    usable: np.ndarray | None = None,
    out: np.ndarray | None = None,
) -> np.ndarray:
    """Subtract sinusoids whose amplitude and phase change slowly.

    Each frequency is shifted to 0 Hz, averaged with a Hann window and shifted
    back: a linear notch about 2 / `window_s` wide that loses nothing beyond.

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_samples)
        Signal; not changed, unless it is `out`.
    rate_hz : float
        Sampling rate.
    frequencies_hz : sequence of float
        As from `harmonics`; each is fine-tuned to the recording.
    window_s : float
        Length of the window.
    usable : ndarray of bool, shape (n_rows, n_samples) | None
        Samples to learn from; all when None. Jumps stay in: without them the
        estimate is no better, since a block with a hole lets its offset through.
    out : ndarray, shape (n_rows, n_samples) | None
        `x` itself, so that a long recording is not copied; a copy when None.
    """
    out = x.copy() if out is None else out
    size = max(round(BLOCK_S * rate_hz), 1)
    usable = np.broadcast_to(True, x.shape) if usable is None else usable
    for nominal_hz in frequencies_hz:
        exact_hz = nominal_hz + _offset_hz(out, usable, rate_hz, nominal_hz)
        turn = 2 * np.pi * exact_hz / rate_hz
        cosine, sine = (2 * wave(turn * np.arange(x.shape[1])) for wave in (np.cos, np.sin))
        for row, used in zip(out, usable, strict=True):
            slow = _envelope(row, used, turn, size, window_s / BLOCK_S)
            row -= slow.real * cosine - slow.imag * sine
    return out


def bursts(
    x: np.ndarray,
    rate_hz: float,
    mains_hz: float,
    settings: MainsSettings,
    usable: np.ndarray | None = None,
) -> list[tuple[int, int, int]]:
    """Where mains stands out for seconds over what it is before and after.

    Amplitude and phase in Hann windows of 1 s, every half second, less their
    running median. That must also pass what lies beside the mains frequency at
    the same time, since a tense muscle is strong at all of them.

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_samples)
        Signal before removal, uV.
    rate_hz : float
        Sampling rate.
    mains_hz : float
        Nominal frequency.
    settings : MainsSettings
        What counts as a burst.
    usable : ndarray of bool, shape (n_rows, n_samples) | None
        Samples to look at; all when None.

    Returns
    -------
    list of tuple
        Row, first sample, sample after the last.
    """
    hop = max(round(BURST_HOP_S * rate_hz), 1)
    if x.shape[1] < 4 * hop:
        return []
    exact_hz = mains_hz + _offset_hz(x, np.broadcast_to(True, x.shape), rate_hz, mains_hz)
    beside_hz = [mains_hz + d for d in BESIDE_HZ if mains_hz + d < 0.45 * rate_hz]
    at_mains, *others = _amplitudes(x, rate_hz, [exact_hz, *beside_hz], hop)
    away = np.hypot(*(part - _usual(part) for part in (at_mains.real, at_mains.imag)))
    squares = np.mean(np.abs(others) ** 2, axis=0)
    smooth = ndimage.uniform_filter1d(squares, 3, axis=1, mode="nearest")
    beside = np.sqrt(np.maximum(smooth, 0))
    limit = np.maximum(settings.burst_uv, settings.burst_over_beside * beside)
    limit = np.maximum(limit, settings.burst_factor * np.median(away, axis=1, keepdims=True))
    if usable is not None:
        away[np.array([in_windows(~row, hop)[: away.shape[1]] for row in usable])] = 0
    found = in_both_windows(grown(away > limit, away > limit / 2))
    return window_runs(found, hop)


def _usual(rows: np.ndarray) -> np.ndarray:
    return ndimage.median_filter(rows, (1, BURST_USUAL), mode="nearest")


def _amplitudes(x: np.ndarray, rate_hz: float, at_hz: Sequence[float], hop: int) -> np.ndarray:
    """Complex amplitude in Hann windows of two hops, one a hop.

    Returns
    -------
    ndarray, shape (n_frequencies, n_rows, n_windows)
    """
    size = 2 * hop
    window = np.hanning(size + 2)[1:-1]
    turn = -2j * np.pi * np.asarray(at_hz) / rate_hz
    carriers = np.exp(np.arange(size)[:, None] * turn) * (2 * window / window.sum())[:, None]
    # An offset may be a thousand times the mains: what a window's mean gives goes first.
    carriers -= carriers.mean(axis=0)
    both = np.concatenate([carriers.real, carriers.imag], axis=1)
    parts = np.array([sliding_window_view(row, size)[::hop] @ both for row in x])
    n = len(at_hz)
    starts = np.exp(hop * np.arange(parts.shape[1])[:, None] * turn)
    return ((parts[..., :n] + 1j * parts[..., n:]) * starts).transpose(2, 0, 1)


def _cut(x: np.ndarray, size: int) -> np.ndarray:
    n_blocks = x.shape[-1] // size
    return x[..., : n_blocks * size].reshape(*x.shape[:-1], n_blocks, size)


def _shifted(row: np.ndarray, used: np.ndarray, turn: float, size: int) -> np.ndarray:
    """Block means of the signal shifted down by `turn` radians a sample, shape (n_blocks,)."""
    blocks = _cut(row, size)
    if not used.all():
        blocks = blocks * _cut(used, size)
    carrier = np.exp(-1j * turn * np.arange(size)) / size
    parts = blocks @ np.stack([carrier.real, carrier.imag], axis=1)
    starts = np.exp(-1j * turn * size * np.arange(len(blocks)))
    return (parts[:, 0] + 1j * parts[:, 1]) * starts


def _offset_hz(x: np.ndarray, usable: np.ndarray, rate_hz: float, nominal_hz: float) -> float:
    """True frequency minus the nominal one, from the turning of the phase between blocks."""
    size = max(round(BLOCK_S * rate_hz), 1)
    if x.shape[1] // size < 2 * TURN_BLOCKS:
        return 0.0
    kernel = np.hanning(TURN_BLOCKS + 2)[1:-1]
    turn = 0j
    for row, used in zip(x, usable, strict=True):
        blocks = _shifted(row, used, 2 * np.pi * nominal_hz / rate_hz, size)
        z = np.convolve(blocks, kernel, "valid")
        turn += (z[1:] * z[:-1].conj()).sum()
    return float(np.clip(np.angle(turn) / (2 * np.pi * size / rate_hz), -0.4, 0.4))


def _envelope(
    row: np.ndarray, used: np.ndarray, turn: float, size: int, n_window: float
) -> np.ndarray:
    """Slow complex amplitude at every sample."""
    kernel = np.hanning(max(round(n_window) | 1, 3) + 2)[1:-1]
    z = _shifted(row, used, turn, size)
    w = _cut(used, size).mean(axis=1)
    if z.size < 2:
        return np.full(row.size, 0j)
    smooth = np.convolve(z, kernel, "full")[kernel.size // 2 :][: z.size]
    total = np.convolve(w, kernel, "full")[kernel.size // 2 :][: z.size]
    smooth = np.where(total > 1e-6, smooth / np.maximum(total, 1e-6), 0)
    centres = (np.arange(z.size) + 0.5) * size
    return np.interp(np.arange(row.size), centres, smooth)
