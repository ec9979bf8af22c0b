"""Posterior alpha that waxes and wanes."""

import numpy as np

from demo_clinic.noise import bump, shaped_noise, waxing
from demo_clinic.sources import Sources, average_reference, factor

REGIONS = (
    "lateraloccipital",
    "pericalcarine",
    "cuneus",
    "lingual",
    "superiorparietal",
    "precuneus",
)
WIDTH_HZ = 0.7
N_DIMENSIONS = 5
EYES_OPEN_DB = -9.0
"""Less alpha with open eyes; one well-known open recording shows a 21-fold drop of
power at O1 (two first runs of the motor imagery set of PhysioNet), others far less."""


def covariance(sources: Sources) -> np.ndarray:
    """Sensor covariance of the posterior regions; the mean of O1 and O2 hears 1 uV^2."""
    total = sum(sources.region_covariance(region, "both") for region in REGIONS)
    rows = [sources.electrodes.index(name) for name in ("O1", "O2")]
    return total / np.diag(average_reference(total))[rows].mean()


def simulate(
    rng: np.random.Generator, sources: Sources, rate_hz: float, peak_hz: float, size_uv: np.ndarray
) -> np.ndarray:
    """Alpha in uV, shape (n_electrodes, n_samples).

    Parameters
    ----------
    peak_hz : float
        The person's own peak.
    size_uv : ndarray, shape (n_samples,)
        Root mean square at O1/O2 over time, before waxing and waning.
    """
    n_samples = size_uv.size
    rows = shaped_noise(rng, N_DIMENSIONS, n_samples, rate_hz, bump(peak_hz, WIDTH_HZ))
    envelope = waxing(rng, n_samples, rate_hz, cutoff_hz=0.15, spread=0.35)
    return factor(covariance(sources), N_DIMENSIONS) @ (rows * (envelope * size_uv))
