"""Causal band-pass filters and how late they make a signal."""

import numpy as np
from scipy import signal


def band_pass(band_hz: tuple[float, float], rate_hz: float, order: int) -> np.ndarray:
    """Butterworth band-pass as second-order sections.

    Parameters
    ----------
    band_hz : tuple of float
        Half-power limits in Hz, 0 < low < high < rate_hz / 2.
    rate_hz : float
        Sampling rate in Hz.
    order : int
        Order of the low-pass prototype; the band-pass has twice it.

    Returns
    -------
    ndarray, shape (order, 6)
        Sections as in scipy.signal.
    """
    return signal.butter(order, band_hz, "bandpass", fs=rate_hz, output="sos")


def with_notches(
    sos: np.ndarray, mains_hz: float | None, rate_hz: float, quality: float, heard_db: float
) -> np.ndarray:
    """Put causal notches at mains and its harmonics before a band-pass that hears them.

    Parameters
    ----------
    sos : ndarray, shape (n_sections, 6)
    mains_hz : float or None
        None adds nothing.
    quality : float
        Centre over width of a notch.
    heard_db : float
        Gain of the band-pass, below 0, from which on a notch is needed.
    """
    if mains_hz is None:
        return sos
    harmonics = np.arange(mains_hz, rate_hz / 2 * (1 - 1e-9), mains_hz)
    gain = np.abs(signal.sosfreqz(sos, worN=harmonics, fs=rate_hz)[1])
    heard = harmonics[gain > 10 ** (heard_db / 20)]
    notches = [np.hstack(signal.iirnotch(f, quality, rate_hz)) for f in heard]
    return np.vstack([*notches, sos])


def group_delay_s(sos: np.ndarray, band_hz: tuple[float, float], rate_hz: float) -> float:
    """Group delay in seconds at the band's centre (geometric mean of its limits)."""
    centre_hz = np.sqrt(band_hz[0] * band_hz[1])
    delays = [
        signal.group_delay((s[:3], s[3:]), w=[centre_hz], fs=rate_hz)[1][0] for s in sos
    ]  # of a cascade, the delays add; one polynomial of high order would lose digits
    return float(sum(delays)) / rate_hz


def settle_s(sos: np.ndarray, rate_hz: float, energy: float) -> float:
    """Seconds until this share of the impulse response's energy has passed."""
    length = int(rate_hz)
    while True:
        impulse = np.zeros(length)
        impulse[0] = 1.0
        passed = np.cumsum(signal.sosfilt(sos, impulse) ** 2)
        if passed[length // 2] >= (1 - 1e-9) * passed[-1]:
            return float(np.argmax(passed >= energy * passed[-1])) / rate_hz
        length *= 2


class CausalFilter:
    """A filter over several rows whose state is carried from call to call.

    It starts as if the first sample had always been there, so that an offset
    of the recording does not ring; that uses no later sample.

    Parameters
    ----------
    sos : ndarray, shape (n_sections, 6)
        Second-order sections.
    """

    def __init__(self, sos: np.ndarray):
        self._sos = sos
        self._steady = signal.sosfilt_zi(sos)[:, np.newaxis, :]
        self._state: np.ndarray | None = None

    def restart(self) -> None:
        """Forget everything; the next sample is a first one."""
        self._state = None

    def __call__(self, rows: np.ndarray) -> np.ndarray:
        """Filter the next samples, shape (n_rows, n_samples)."""
        if rows.shape[1] == 0:
            return rows
        if self._state is None:
            self._state = self._steady * rows[np.newaxis, :, :1]
        filtered, self._state = signal.sosfilt(self._sos, rows, zi=self._state)
        return filtered
