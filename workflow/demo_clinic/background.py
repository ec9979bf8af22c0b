"""Background activity of the whole cortex."""

import numpy as np

from demo_clinic.noise import Density, band_power, bump, shaped_noise
from demo_clinic.sources import Sources, factor

FLAT_BELOW_HZ = 0.5
KNEE_HZ = 15.0
SLOW_SLOPE, FAST_SLOPE = 1.3, 2.6
REFERENCE_BAND_HZ = (30.0, 45.0)
"""Where the level is stated: muscle-free people have 0.5-1 uV^2 here, falling with a
slope of 2.3-4.6 over 20-60 Hz (points digitised from Whitham et al. 2007, Clin
Neurophysiol 118:1877)."""


def density(level_uv2: float) -> Density:
    """Pink density: flat below 0.5 Hz, then f^-1.3, from 15 Hz on f^-2.6.

    Parameters
    ----------
    level_uv2 : float
        Power in 30-45 Hz.
    """

    def shape(f: np.ndarray) -> np.ndarray:
        ratio = np.maximum(f, FLAT_BELOW_HZ) / KNEE_HZ
        return np.where(ratio < 1, ratio**-SLOW_SLOPE, ratio**-FAST_SLOPE)

    scale = level_uv2 / band_power(shape, *REFERENCE_BAND_HZ)
    return lambda f: scale * shape(f)


def simulate(
    rng: np.random.Generator, sources: Sources, n_samples: int, rate_hz: float, level_uv2: float
) -> np.ndarray:
    """All cortex equally active, in uV, shape (n_electrodes, n_samples).

    The sensor covariance of independent sources is L diag(area) L', so noise
    through a factor of it is exact without simulating any source by itself.

    Parameters
    ----------
    level_uv2 : float
        Power in 30-45 Hz, mean over the electrodes at average reference.
    """
    rows = shaped_noise(rng, len(sources.electrodes), n_samples, rate_hz, density(level_uv2))
    return factor(sources.cortex) @ rows


def theta(
    rng: np.random.Generator, sources: Sources, gate: np.ndarray, rate_hz: float, level_uv2: float
) -> np.ndarray:
    """Widespread 4-7 Hz activity of light sleep in uV while the gate is open."""
    rows = shaped_noise(rng, len(sources.electrodes), gate.size, rate_hz, bump(5.5, 0.8))
    return np.sqrt(level_uv2) * factor(sources.cortex) @ (rows * gate)
