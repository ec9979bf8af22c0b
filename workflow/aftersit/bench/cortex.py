"""Simulated activity of an unevenly active cortex."""

import numpy as np
from scipy.fft import irfft, next_fast_len, rfftfreq

from demo_clinic import alpha
from demo_clinic.background import FLAT_BELOW_HZ, REFERENCE_BAND_HZ
from demo_clinic.noise import Density, band_power, bump, shaped_noise, waxing
from demo_clinic.sources import Sources, average_reference, factor

UNEVEN = 0.7
"""Spread of the logarithm of a region's activity."""
CENTRAL = ("precentral", "postcentral", "paracentral")
N_DIMENSIONS = 4
CROSSOVER_HZ = 14.0
"""Below and above it, other regions are the most active ones."""


def weighted(sources: Sources, weights: np.ndarray) -> np.ndarray:
    """Sensor covariance of the cortex with a weight for each source.

    Scaled so that an electrode hears 1 uV^2 on average (average reference).
    """
    full = (sources.gain * (sources.area_m2 * weights)) @ sources.gain.T
    return full * len(full) / np.trace(average_reference(full))


def uneven(rng: np.random.Generator, sources: Sources, within: tuple[str, ...] = ()) -> np.ndarray:
    """Log-normal activity of each region half; of some regions only when they are named."""
    halves = np.char.add(np.char.add(sources.region, "-"), sources.hemisphere)
    names, which = np.unique(halves, return_inverse=True)
    weights = np.exp(UNEVEN * rng.standard_normal(len(names)))[which]
    return weights * np.isin(sources.region, within) if within else weights


def density(rng: np.random.Generator, level_uv2: float) -> Density:
    """A person's own background: flat below 0.5 Hz, two slopes, `level_uv2` in 30-45 Hz."""
    knee_hz, slow, fast = rng.uniform(12, 18), rng.uniform(1.0, 1.6), rng.uniform(2.3, 3.2)

    def shape(f: np.ndarray) -> np.ndarray:
        ratio = np.maximum(f, FLAT_BELOW_HZ) / knee_hz
        return np.where(ratio < 1, ratio**-slow, ratio**-fast)

    scale = level_uv2 / band_power(shape, *REFERENCE_BAND_HZ)
    return lambda f: scale * shape(f)


def background(
    rng: np.random.Generator, sources: Sources, n_samples: int, rate_hz: float, level_uv2: float
) -> np.ndarray:
    """Background in uV, shape (n_electrodes, n_samples).

    Made as a spectrum, so that the mixing may change with frequency at the
    price of one transform.
    """
    slow, fast = (factor(weighted(sources, uneven(rng, sources))) for _ in range(2))
    spectrum = density(rng, level_uv2)
    n_fft = next_fast_len(n_samples, real=True)
    f = rfftfreq(n_fft, 1 / rate_hz)
    size = np.sqrt(spectrum(f) * rate_hz * n_fft / 4)
    white = rng.standard_normal((len(slow), f.size, 2)).view(complex)[..., 0]
    share = 1 / (1 + (f / CROSSOVER_HZ) ** 4)
    mixed = slow @ (white * (size * np.sqrt(share)))
    mixed += fast @ (white * (size * np.sqrt(1 - share)))
    x = irfft(mixed, n_fft)[:, :n_samples]
    return x * waxing(rng, n_samples, rate_hz, cutoff_hz=0.1, spread=0.12)


def posterior(
    rng: np.random.Generator, sources: Sources, rate_hz: float, peak_hz: float, size_uv: np.ndarray
) -> np.ndarray:
    """Alpha, `size_uv` (root mean square over time) at O1 and O2; see `demo_clinic.alpha`."""
    mixing = _heard_at(rng, sources, alpha.REGIONS, ("O1", "O2"))
    return _rhythm(rng, mixing, rate_hz, (peak_hz, alpha.WIDTH_HZ), size_uv, 0.35)


def central(
    rng: np.random.Generator, sources: Sources, rate_hz: float, peak_hz: float, size_uv: np.ndarray
) -> np.ndarray:
    """Beta, `size_uv` at C3 and C4."""
    mixing = _heard_at(rng, sources, CENTRAL, ("C3", "C4"))
    return _rhythm(rng, mixing, rate_hz, (peak_hz, 2.0), size_uv, 0.5)


def _rhythm(
    rng: np.random.Generator,
    mixing: np.ndarray,
    rate_hz: float,
    peak: tuple[float, float],
    size_uv: np.ndarray,
    spread: float,
) -> np.ndarray:
    rows = shaped_noise(rng, mixing.shape[1], size_uv.size, rate_hz, bump(*peak))
    envelope = waxing(rng, size_uv.size, rate_hz, cutoff_hz=0.15, spread=spread)
    return mixing @ (rows * (envelope * size_uv))


def _heard_at(
    rng: np.random.Generator, sources: Sources, regions: tuple[str, ...], at: tuple[str, ...]
) -> np.ndarray:
    """Mixing of unevenly active regions, heard with power 1 at some electrodes."""
    covariance = weighted(sources, uneven(rng, sources, regions))
    rows = [sources.electrodes.index(name) for name in at]
    heard = np.diag(average_reference(covariance))[rows].mean()
    return factor(covariance / heard, N_DIMENSIONS)
