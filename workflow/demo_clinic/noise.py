"""Random signals with a stated spectrum."""

from collections.abc import Callable
from zlib import crc32

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

Density = Callable[[np.ndarray], np.ndarray]
"""One-sided power density over frequency in Hz, in signal units squared per Hz."""


def generator(seed: int, *parts: str) -> np.random.Generator:
    """A random stream of its own for each named part, so that parts never shift each other."""
    return np.random.default_rng([seed, *(crc32(part.encode()) for part in parts)])


def shape_spectrum(white: np.ndarray, rate_hz: float, density: Density) -> np.ndarray:
    """Give white noise of unit variance a power density.

    Parameters
    ----------
    white : ndarray, shape (..., n_samples)
        Independent samples of variance 1.
    rate_hz : float
        Sampling rate.
    density : callable
        Wanted one-sided density; white noise has 2 / rate_hz.

    Returns
    -------
    ndarray, shape (..., n_samples)
    """
    n_samples = white.shape[-1]
    n_fft = next_fast_len(n_samples, real=True)
    gain = np.sqrt(density(rfftfreq(n_fft, 1 / rate_hz)) * rate_hz / 2)
    return irfft(rfft(white, n_fft) * gain, n_fft)[..., :n_samples]


def shaped_noise(
    rng: np.random.Generator, n_rows: int, n_samples: int, rate_hz: float, density: Density
) -> np.ndarray:
    """Independent Gaussian rows with this density, shape (n_rows, n_samples)."""
    return shape_spectrum(rng.standard_normal((n_rows, n_samples)), rate_hz, density)


def band_power(density: Density, low_hz: float, high_hz: float) -> float:
    """Integral of a density over [low, high)."""
    edges = np.linspace(low_hz, high_hz, 2001)
    return float(np.mean(density((edges[1:] + edges[:-1]) / 2)) * (high_hz - low_hz))


def bump(centre_hz: float, width_hz: float) -> Density:
    """Gaussian density of total power 1 round a centre; `width_hz` is its standard deviation."""
    scale = 1 / (width_hz * np.sqrt(2 * np.pi))
    return lambda f: scale * np.exp(-0.5 * ((f - centre_hz) / width_hz) ** 2)


def slow_noise(
    rng: np.random.Generator, n_rows: int, n_samples: int, rate_hz: float, cutoff_hz: float
) -> np.ndarray:
    """Gaussian rows of variance 1 that change no faster than about `cutoff_hz`.

    Made at 32 values a cutoff period and joined by straight lines, because a
    slow signal needs no more.
    """
    step_s = 1 / (32 * cutoff_hz)
    n_knots = int(np.ceil(n_samples / rate_hz / step_s)) + 2
    knots = shaped_noise(rng, n_rows, n_knots, 1 / step_s, lambda f: 2 * bump(0, cutoff_hz / 2)(f))
    at = np.arange(n_samples) / rate_hz
    return np.stack([np.interp(at, np.arange(n_knots) * step_s, row) for row in knots])


def waxing(
    rng: np.random.Generator, n_samples: int, rate_hz: float, cutoff_hz: float, spread: float
) -> np.ndarray:
    """Envelope that waxes and wanes log-normally, with a mean square of 1."""
    slow = slow_noise(rng, 1, n_samples, rate_hz, cutoff_hz)[0]
    return np.exp(spread * slow - spread**2)


def band_rhythm(
    rng: np.random.Generator,
    n_rows: int,
    n_samples: int,
    rate_hz: float,
    band_hz: tuple[float, float],
) -> np.ndarray:
    """Oscillations of variance 1 and steady size whose frequency wanders inside a band.

    The frequency keeps to the middle 60 % of the band, so that hardly any
    power falls outside.
    """
    centre, width = np.mean(band_hz), band_hz[1] - band_hz[0]
    wander = slow_noise(rng, n_rows, n_samples, rate_hz, min(0.25 * width, 2.0))
    frequency = centre + 0.3 * width * np.tanh(wander)
    phase = 2 * np.pi * (np.cumsum(frequency, axis=1) / rate_hz + rng.random((n_rows, 1)))
    return np.sqrt(2) * np.cos(phase)
