"""What goes wrong on the way from the scalp to the file."""

import numpy as np

from demo_clinic.eyes import convolve_sparse
from demo_clinic.noise import shaped_noise, slow_noise
from demo_clinic.spans import Span, gate

R_WAVE_UV = 1100


def mains(
    rng: np.random.Generator, n_rows: int, n_samples: int, rate_hz: float, size_uv: float
) -> np.ndarray:
    """50 Hz and its third harmonic, of another size at each electrode, in uV."""
    sizes = size_uv * rng.lognormal(0, 0.5, (n_rows, 1))
    swell = 1 + 0.15 * slow_noise(rng, 1, n_samples, rate_hz, 0.05)[0]
    t = np.arange(n_samples) / rate_hz
    wave = np.sin(2 * np.pi * 50.0 * t + rng.uniform(0, 2 * np.pi))
    if rate_hz > 300:
        wave += 0.2 * np.sin(2 * np.pi * 150.0 * t + rng.uniform(0, 2 * np.pi))
    return np.sqrt(2) * sizes * (wave * swell)


def drift(
    rng: np.random.Generator, n_rows: int, n_samples: int, rate_hz: float, size_uv: float
) -> np.ndarray:
    """Slow drift of each electrode by itself, below about 0.05 Hz, in uV."""
    return size_uv * slow_noise(rng, n_rows, n_samples, rate_hz, 0.04)


def pop(n_samples: int, rate_hz: float, at_s: float, size_uv: float) -> np.ndarray:
    """An electrode that jumps and comes back within seconds, in uV."""
    impulses = np.zeros(n_samples)
    impulses[round(at_s * rate_hz)] = size_uv
    return convolve_sparse(impulses, np.exp(-np.arange(int(8 * rate_hz)) / (1.5 * rate_hz)))


def amplifier(rng: np.random.Generator, n_rows: int, n_samples: int) -> np.ndarray:
    """White noise of the amplifier, 0.3 uV root mean square."""
    return 0.3 * rng.standard_normal((n_rows, n_samples))


def _rough(f: np.ndarray) -> np.ndarray:
    """Density of a contact's own noise."""
    return 1 / np.maximum(f, 0.5)


def contact(
    rng: np.random.Generator, n_rows: int, n_samples: int, rate_hz: float, size_uv: float
) -> np.ndarray:
    """What good contacts add, each by itself, in uV."""
    rough = shaped_noise(rng, n_rows, n_samples, rate_hz, _rough)
    return rough * (size_uv / rough.std())


def bad_contact(
    rng: np.random.Generator, n_samples: int, rate_hz: float, size_uv: float
) -> np.ndarray:
    """An electrode without gel: strong uneven noise over all frequencies, in uV."""
    rough = shaped_noise(rng, 1, n_samples, rate_hz, _rough)[0]
    swell = np.exp(0.5 * slow_noise(rng, 1, n_samples, rate_hz, 0.2)[0])
    return size_uv * swell * (rough / rough.std() + 0.5 * rng.standard_normal(n_samples))


def movement(
    rng: np.random.Generator,
    spans: list[Span],
    n_rows: int,
    n_samples: int,
    rate_hz: float,
    size_uv: float,
) -> np.ndarray:
    """The head moves and cables swing: slow large waves at every electrode, in uV."""
    swing = slow_noise(rng, n_rows, n_samples, rate_hz, 2.5)
    return size_uv * rng.lognormal(0, 0.4, (n_rows, 1)) * swing * gate(spans, n_samples, rate_hz)


def heart_waves(rng: np.random.Generator, n_samples: int, rate_hz: float) -> np.ndarray:
    """Waves P, Q, R, S, T as Gaussians, about 66 beats a minute; in uV of an ECG lead."""
    waves = ((-0.18, 0.025, 110), (-0.03, 0.01, -90), (0, 0.011, R_WAVE_UV), (0.03, 0.012, -200))
    t = np.arange(-int(0.35 * rate_hz), int(0.5 * rate_hz)) / rate_hz
    kernel = sum(size * np.exp(-0.5 * ((t - at) / width) ** 2) for at, width, size in waves)
    kernel += 250 * np.exp(-0.5 * ((t - 0.28) / 0.045) ** 2)
    beats = np.cumsum(rng.normal(0.91, 0.04, int(n_samples / rate_hz * 1.3)))
    impulses = np.zeros(n_samples)
    at = np.round(beats * rate_hz).astype(int)
    impulses[at[at < n_samples]] = 1.0
    return convolve_sparse(impulses, kernel)


def heart(rng: np.random.Generator, n_samples: int, rate_hz: float) -> np.ndarray:
    """An ECG lead in uV."""
    return heart_waves(rng, n_samples, rate_hz) + 8 * rng.standard_normal(n_samples)
