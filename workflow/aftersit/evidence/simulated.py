"""Small invented recordings with a known truth."""

from dataclasses import dataclass, replace

import mne
import numpy as np

from aftersit.electrodes import STANDARD_19
from aftersit.settings import load_settings
from aftersit.sphere import on_unit_sphere

SETTINGS = load_settings("s1").clean
NAMES = list(STANDARD_19)


def positions() -> np.ndarray:
    """Electrodes on the unit sphere, shape (19, 3): right, front, up."""
    return on_unit_sphere(NAMES)


def field(place: np.ndarray, width: float) -> np.ndarray:
    """A smooth bump around a place, shape (19,)."""
    return np.exp(-((positions() - place) ** 2).sum(axis=1) / width)


def pink(rng: np.random.Generator, n: int, rate_hz: float, exponent: float = 1.5) -> np.ndarray:
    """Noise of standard deviation 1 with density f^-exponent above 0.5 Hz.

    From 20 Hz on it falls with f^-3, as in paralysed people (Whitham et al. 2007).
    """
    f = np.fft.rfftfreq(n, 1 / rate_hz)
    white = rng.standard_normal(f.size) + 1j * rng.standard_normal(f.size)
    density = np.maximum(f, 0.5) ** -exponent * np.maximum(f / 20, 1) ** (exponent - 3)
    rows = np.fft.irfft(white * np.sqrt(density), n)
    return rows / rows.std()


@dataclass
class Recording:
    """Signal in uV and what is true of it."""

    x: np.ndarray
    rate_hz: float

    @property
    def t(self) -> np.ndarray:
        """Time of each sample, s."""
        return np.arange(self.x.shape[1]) / self.rate_hz

    def raw(self, **aux: np.ndarray) -> mne.io.RawArray:
        """As mne reads it: volts; further channels typed by their names."""
        types = ["eeg"] * 19 + [name.lower() for name in aux]
        info = mne.create_info(NAMES + list(aux), self.rate_hz, types)
        return mne.io.RawArray(np.vstack([self.x, *aux.values()]) * 1e-6, info, verbose="ERROR")

    def changed(self, name: str, row: np.ndarray) -> "Recording":
        """A copy with another signal at one electrode."""
        x = self.x.copy()
        x[NAMES.index(name)] = row
        return replace(self, x=x)

    def row(self, name: str) -> np.ndarray:
        """Signal of one electrode."""
        return self.x[NAMES.index(name)]


def quiet(
    duration_s: float = 120, rate_hz: float = 256, number: int = 4, alpha_uv: float = 8
) -> Recording:
    """Sixty sources under the scalp, alpha at the back that waxes and wanes, amplifier noise."""
    rng = np.random.default_rng(number)
    n = round(duration_s * rate_hz)
    places = rng.standard_normal((60, 3))
    places[:, 2] = np.abs(places[:, 2])
    places *= 0.85 / np.linalg.norm(places, axis=1, keepdims=True)
    x = 0.5 * rng.standard_normal((19, n))
    for place in places:
        x += np.outer(field(place, 0.5) * rng.choice([-1, 1]), 6 * pink(rng, n, rate_hz))
    t = np.arange(n) / rate_hz
    wave = np.sin(2 * np.pi * 10.1 * t + np.cumsum(rng.standard_normal(n)) * 0.02)
    alpha = alpha_uv * wave * (1 + 0.8 * np.sin(2 * np.pi * t / 7))
    return Recording(x + np.outer(field(np.array([0.1, -0.9, 0.3]), 0.6), alpha), rate_hz)


def blinks(recording: Recording, size_uv: float, every_s: float, number: int = 5) -> np.ndarray:
    """Blinks at Fp1 and Fp2 that fade towards the back, shape (19, n_samples)."""
    rng = np.random.default_rng(number)
    trace = np.zeros(recording.x.shape[1])
    shape = np.hanning(round(0.35 * recording.rate_hz))
    at = 1.0
    while (at := at + every_s * rng.uniform(0.6, 1.4)) < recording.t[-1] - 1:
        start = round(at * recording.rate_hz)
        trace[start : start + shape.size] += size_uv * rng.uniform(0.7, 1.3) * shape
    front = field(np.array([0.0, 1.3, -0.4]), 0.5)
    return np.outer(front / front[0], trace)


def band_power(x: np.ndarray, rate_hz: float, low_hz: float, high_hz: float) -> np.ndarray:
    """Power in [low, high), Hann windows of 2 s; one value for each row."""
    from scipy.signal import welch

    f, density = welch(x, rate_hz, nperseg=round(2 * rate_hz))
    return density[..., (f >= low_hz) & (f < high_hz)].sum(axis=-1) * (f[1] - f[0])


def change_db(after: np.ndarray, before: np.ndarray) -> np.ndarray:
    """Ratio of powers in dB."""
    return 10 * np.log10(after / before)
