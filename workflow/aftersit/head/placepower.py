"""Power of one place in one band, how well it is known, and how far it stands over the slope."""

from dataclasses import dataclass

import numpy as np

from aftersit.head.aperiodic import fit_slopes
from aftersit.head.intervals import band_dof, form_dof
from aftersit.head.settings import AperiodicSettings
from aftersit.head.spectra import CrossSpectrum, window_correlation

Z = 1.959964
"""Of the 95 % interval of a normal distribution."""


@dataclass(frozen=True)
class PlacePower:
    """Power and its degrees of freedom."""

    power: float
    dof: float

    @property
    def db(self) -> float:
        """Decibels over 1 of the unit."""
        return float(10 * np.log10(self.power))

    @property
    def variance_db(self) -> float:
        """Variance of the decibels: that of chi-squared's logarithm, 2 / nu, to first order."""
        return float((10 / np.log(10)) ** 2 * 2 / self.dof)


def place_density(spectrum: CrossSpectrum, matrix: np.ndarray) -> np.ndarray:
    """Power spectral density of a quadratic measure, shape (n_bins,)."""
    return spectrum.density.real.reshape(len(spectrum.density), -1) @ matrix.ravel()


def place_power(
    spectrum: CrossSpectrum, matrix: np.ndarray, band_hz: tuple[float, float]
) -> PlacePower:
    """Power of a quadratic measure x' M x in [low, high).

    Parameters
    ----------
    spectrum : CrossSpectrum
        V^2/Hz, of the electrodes of the matrix.
    matrix : ndarray, shape (n_electrodes, n_electrodes)
    band_hz : tuple of float
    """
    density = place_density(spectrum, matrix)[spectrum.inside(*band_hz)]
    dof = band_dof(density[None], spectrum.dof, window_correlation())[0]
    forms = form_dof(matrix[None], spectrum.band_covariance(*band_hz))[0]
    return PlacePower(float(density.sum() * spectrum.bin_hz), float(dof * forms))


def over_slope(
    spectrum: CrossSpectrum,
    matrix: np.ndarray,
    band_hz: tuple[float, float],
    fit_hz: tuple[float, float] | None,
    settings: AperiodicSettings,
) -> tuple[float, float]:
    """Decibels of a band's power over that of the spectrum's slope alone, and the exponent.

    Returns
    -------
    float, float
        nan when no slope fits well enough (`least_r_squared`).
    """
    density = place_density(spectrum, matrix)
    (slope,) = fit_slopes(spectrum.frequency_hz, density[None], fit_hz, settings)
    if not slope.r_squared >= settings.least_r_squared:
        return np.nan, np.nan
    inside = spectrum.inside(*band_hz)
    alone = slope.density(spectrum.frequency_hz[inside]).sum()
    return float(10 * np.log10(density[inside].sum() / alone)), slope.exponent


def contrast_db(one: PlacePower, base: PlacePower) -> tuple[float, float, float]:
    """Decibels of one power over another, and the ends of the 95 % interval."""
    change = one.db - base.db
    spread = Z * np.sqrt(one.variance_db + base.variance_db)
    return change, float(change - spread), float(change + spread)
