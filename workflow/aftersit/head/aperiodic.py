"""A spectrum taken apart: a slope that falls with frequency, and bumps that stand on it.

Band power rises when a bump grows, and also when the whole spectrum becomes
flatter; the two are different things. Fitted by specparam (Donoghue et al. 2020,
Nat Neurosci 23:1655) with a straight slope in log-log axes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.head.settings import AperiodicSettings


@dataclass(frozen=True)
class Slope:
    """The slope of one spectrum: log10 density = offset - exponent log10 frequency.

    `r_squared` is that of slope and bumps together, in log10 density.
    """

    exponent: float
    offset: float
    r_squared: float

    def density(self, frequency_hz: np.ndarray) -> np.ndarray:
        """Density of the slope alone, in the spectrum's unit."""
        return 10 ** (self.offset - self.exponent * np.log10(frequency_hz))


NOTHING = Slope(np.nan, np.nan, np.nan)


def fit_range(settings: AperiodicSettings, high_hz: float) -> tuple[float, float] | None:
    """Frequencies that a slope is fitted to; None when the recording carries too few.

    Parameters
    ----------
    settings : AperiodicSettings
    high_hz : float
        Where the recording's content ends.
    """
    top = min(settings.high_hz, high_hz)
    return (settings.low_hz, top) if top >= settings.least_high_hz else None


def fit_slopes(
    frequency_hz: np.ndarray,
    density: np.ndarray,
    limits_hz: tuple[float, float] | None,
    settings: AperiodicSettings,
) -> Sequence[Slope]:
    """Slope of each spectrum.

    Parameters
    ----------
    frequency_hz : ndarray, shape (n_bins,)
    density : ndarray, shape (n_spectra, n_bins)
        Power spectral density, linear.
    limits_hz : tuple of float or None
        From `fit_range`.
    settings : AperiodicSettings

    Returns
    -------
    sequence of Slope
        `NOTHING` where there is no spectrum or nothing could be fitted.
    """
    if limits_hz is None:
        return [NOTHING] * len(density)
    inside = (frequency_hz >= limits_hz[0]) & (frequency_hz <= limits_hz[1])
    return [_fit(frequency_hz[inside], one[inside], settings) for one in density]


def _fit(frequency_hz: np.ndarray, density: np.ndarray, settings: AperiodicSettings) -> Slope:
    if not (np.isfinite(density).all() and (density > 0).all()):
        return NOTHING
    from aftersit.head.spectral_model import SpectralModel

    model = SpectralModel(
        peak_width_limits=settings.peak_width_hz,
        max_n_peaks=settings.max_peaks,
        min_peak_height=settings.min_peak_db / 10,
        verbose=False,
    )
    model.fit(frequency_hz, density)
    offset, exponent = model.get_params("aperiodic")
    return Slope(float(exponent), float(offset), float(model.get_metrics("gof", "rsquared")))
