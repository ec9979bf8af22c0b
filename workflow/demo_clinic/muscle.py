"""Jaw, brow and neck muscle: outside the skull, broadband, uneven in time."""

from dataclasses import dataclass

import numpy as np

from demo_clinic.noise import Density, band_power, shape_spectrum
from demo_clinic.sources import Sources, average_reference
from demo_clinic.spans import Span, gate

LEVEL_BAND_HZ = (30.0, 45.0)
SPIKES_PER_S = 60


@dataclass(frozen=True)
class Muscle:
    """Where a muscle lies and how it sounds.

    `between` are the two electrodes under which it stretches; `shift_m` moves
    that line (right, front, up); fibres run along `fibres`. Frontalis peaks at
    about 20-30 Hz, temporalis at 40-80 Hz, both span about 20-300 Hz
    (Muthukumaraswamy 2013, Front Hum Neurosci 7:138); the neck's peak is a guess.
    """

    between: tuple[str, str]
    shift_m: tuple[float, float, float]
    fibres: tuple[float, float, float]
    peak_hz: float


MUSCLES = {
    "jaw-left": Muscle(("F7", "T7"), (-0.004, 0.0, -0.022), (0.0, 0.25, 1.0), 60.0),
    "jaw-right": Muscle(("F8", "T8"), (0.004, 0.0, -0.022), (0.0, 0.25, 1.0), 60.0),
    "brow": Muscle(("Fp1", "Fp2"), (0.0, 0.002, -0.022), (0.0, 0.0, 1.0), 25.0),
    "neck": Muscle(("O1", "O2"), (0.0, 0.005, -0.05), (0.0, 0.2, 1.0), 55.0),
}
UNITS_AT = (-0.1, 0.2, 0.5, 0.8, 1.1)
"""Places of the motor units along the line between the two electrodes."""


def density(peak_hz: float) -> Density:
    """Log-normal density with its top at `peak_hz`, 1 there; next to nothing below 12 Hz."""

    def shape(f: np.ndarray) -> np.ndarray:
        f = np.maximum(f, 1e-3)
        return np.exp(-0.5 * (np.log(f / peak_hz) / 0.75) ** 2) / (1 + (15 / f) ** 8)

    return shape


def mixing(sources: Sources, muscle: Muscle) -> np.ndarray:
    """How electrodes hear the motor units, shape (n_electrodes, n_units).

    Between air and the badly conducting skull the current of a muscle spreads
    in a sheet, where a dipole's potential falls as p.d / d^2 and not as
    p.d / d^3. Scaled so that, with all units equally strong, the electrode
    that hears most has power 1 at average reference.
    """
    one, two = (sources.position_m[sources.electrodes.index(e)] for e in muscle.between)
    places = [one + w * (two - one) + np.array(muscle.shift_m) for w in UNITS_AT]
    d = sources.position_m[:, None, :] - np.array(places)
    columns = d @ np.array(muscle.fibres) / (d**2).sum(axis=2)
    return columns / np.sqrt(np.diag(average_reference(columns @ columns.T)).max())


def units(rng: np.random.Generator, n_samples: int, rate_hz: float, peak_hz: float) -> np.ndarray:
    """Motor unit signals of power 1 in 30-45 Hz, shape (n_units, n_samples).

    Sparse impulses through the spectrum's shape: spiky in time, as trains of
    motor units are, yet with the same density as Gaussian noise.
    """
    chance = SPIKES_PER_S / rate_hz
    shape = (len(UNITS_AT), n_samples)
    white = (rng.random(shape) < chance) * rng.standard_normal(shape) / np.sqrt(chance)
    scale = band_power(density(peak_hz), *LEVEL_BAND_HZ)
    return shape_spectrum(white, rate_hz, lambda f: density(peak_hz)(f) / scale)


def simulate(
    rng: np.random.Generator,
    sources: Sources,
    name: str,
    activity: list[tuple[Span, float]],
    n_samples: int,
    rate_hz: float,
) -> np.ndarray:
    """One muscle in uV, shape (n_electrodes, n_samples).

    Parameters
    ----------
    name : str
        Key of `MUSCLES`.
    activity : list of (span, power)
        Power in 30-45 Hz (uV^2) at the electrode that hears most; overlapping
        spans add up.
    """
    muscle = MUSCLES[name]
    power = sum(level * gate([span], n_samples, rate_hz, 0.1) for span, level in activity)
    rows = units(rng, n_samples, rate_hz, muscle.peak_hz) * np.sqrt(power)
    return mixing(sources, muscle) @ rows
