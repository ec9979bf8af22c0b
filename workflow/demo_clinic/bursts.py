"""Activity in a protocol's band inside a region: the truth that a replay should find."""

from dataclasses import dataclass

import numpy as np

from demo_clinic.noise import band_rhythm
from demo_clinic.sources import Sources, average_reference, factor

N_DIMENSIONS = 3


@dataclass(frozen=True)
class Place:
    """A region that bursts.

    Attributes
    ----------
    mixing : ndarray, shape (n_electrodes, n_dimensions)
        How the electrodes hear the region: the strongest dimensions of its
        covariance when all its sources are equally active.
    topography : ndarray, shape (n_electrodes,)
        Its strongest dimension at average reference, of length 1.
    """

    mixing: np.ndarray
    topography: np.ndarray

    def along(self, covariance: np.ndarray) -> float:
        """Power of a covariance along the region's topography."""
        return float(self.topography @ average_reference(covariance) @ self.topography)


def place(sources: Sources, region: str, hemisphere: str) -> Place:
    """Build the place of a region; AftersitError when the head does not have it."""
    covariance = sources.region_covariance(region, hemisphere)
    strongest = factor(average_reference(covariance), 1)[:, 0]
    return Place(factor(covariance, N_DIMENSIONS), strongest / np.linalg.norm(strongest))


def power_for(level_db: float, where: Place, background: np.ndarray) -> float:
    """Factor on the region's own covariance at which bursts stand `level_db` over a background.

    Level means power along the region's topography, in the band, against
    `background`: the sensor covariance (uV^2) of all else in that band.
    """
    own = where.along(where.mixing @ where.mixing.T)
    return 10 ** (level_db / 10) * where.along(background) / own


def simulate(
    rng: np.random.Generator,
    where: Place,
    band_hz: tuple[float, float],
    size: np.ndarray,
    rate_hz: float,
) -> np.ndarray:
    """Bursts in uV, shape (n_electrodes, n_samples).

    Parameters
    ----------
    size : ndarray, shape (n_samples,)
        Square root of `power_for` where bursts are on, 0 elsewhere.
    """
    rows = band_rhythm(rng, where.mixing.shape[1], size.size, rate_hz, band_hz)
    return where.mixing @ (rows * size)


def level_for_rise(rise_db: float) -> float:
    """Level (dB over background) at which background plus bursts stand `rise_db` over background.

    Raises
    ------
    ValueError
        The rise is not positive.
    """
    if rise_db <= 0:
        raise ValueError(f"bursts can only add; a rise of {rise_db} dB is not possible")
    return float(10 * np.log10(10 ** (rise_db / 10) - 1))
