"""Gamma of a scalp without muscle, as published: an order of magnitude to hold power against.

Whitham et al. 2007, Clin Neurophysiol 118:1877, two people under full
neuromuscular block; the numbers come from points digitised from its figure 1
(six traces). One unnamed site and another reference than here, so factors of
two or three mean nothing.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

CITATION = "Whitham et al. 2007, Clin Neurophysiol 118:1877"
BAND_HZ = (30.0, 45.0)
POWER_UV2 = 0.84
RANGE_UV2 = (0.53, 1.13)

# The same traces as a straight line in log-log over 20-60 Hz.
LINE_HZ = (20.0, 60.0)
_DENSITY_AT_40_HZ = 0.04
_SLOPE = -3.6


def density_uv2_per_hz(frequency_hz: np.ndarray) -> np.ndarray:
    """Muscle-free density over `LINE_HZ`, same shape as the frequencies."""
    return _DENSITY_AT_40_HZ * (np.asarray(frequency_hz) / 40.0) ** _SLOPE


@dataclass(frozen=True)
class GammaPower:
    """Power of one electrode in `BAND_HZ` during practice, in uV^2."""

    electrode: str
    power_uv2: float

    @property
    def times(self) -> float:
        """How many times the published muscle-free power."""
        return self.power_uv2 / POWER_UV2


def gamma_power(spectra: pd.DataFrame, practice: list[int]) -> list[GammaPower]:
    """Power in `BAND_HZ` over the practice blocks, largest first.

    Parameters
    ----------
    spectra : DataFrame
        Columns block, electrode, frequency_hz, psd_uv2_per_hz.
    practice : list of int
        Numbers of the practice blocks; their spectra are averaged.
    """
    low, high = BAND_HZ
    frequency = spectra["frequency_hz"]
    rows = spectra[spectra["block"].isin(practice) & (frequency >= low) & (frequency < high)]
    if rows.empty:
        return []
    table = rows.pivot_table(
        index="frequency_hz", columns="electrode", values="psd_uv2_per_hz", sort=True
    )
    step_hz = float(np.median(np.diff(table.index)))
    found = [GammaPower(str(name), float(v)) for name, v in (table.sum() * step_hz).items()]
    return sorted(found, key=lambda g: (-g.power_uv2, g.electrode))
