"""Muscle's spatial pattern, learnt above the brain's rhythms and taken out of the fast ones.

Above 50 Hz the scalp hears little brain: in paralysed people power above 20 Hz
falls 10- to 200-fold (Whitham et al. 2007, Clin Neurophysiol 118:1877), with a
log-log slope of -2.3 to -4.6 between 20 and 60 Hz, while muscle spans 20-300 Hz
with peaks at 20-80 Hz (Muthukumaraswamy 2013, Front Hum Neurosci 7:138). So, in
densities per hertz,

    H = M + beta B + N,    L = rho M + B,

with H the covariance above 50 Hz, L that of 30-45 Hz, M muscle, B brain, N the
amplifiers' noise, alike at all electrodes. With beta as large as any published
spectrum allows, M is what stays positive of H - beta L - N. Its directions are
generalised eigenvectors against the cortex's own pattern C. How strong each
is at 30-45 Hz follows from its own slope inside the upper range (rho). The
filter keeps b / (b + rho mu) of each direction, the Wiener filter for
B = b C; it works above `crossover_hz` only, so that alpha and theta stay as they
were.

One filter holds for the whole sitting, so that baseline and practice are
measured alike.
"""

from dataclasses import dataclass

import numpy as np

from aftersit.head.sloreta import reference_basis
from aftersit.muscle.cortex import cortex_covariance, reduced
from aftersit.muscle.settings import MuscleSettings
from aftersit.muscle.windows import Range, Windows
from aftersit.quality import Carried, MusclePattern

FAST_HZ = (30.0, 45.0)
"""Where paralysed people's power is known best, and where fast protocols live."""


def upper_ranges(holds: Carried, settings: MuscleSettings) -> tuple[Range, Range] | None:
    """The two halves of what the recording carries above the brain; None when too little."""
    low, high = settings.upper_from_hz, min(holds.high_hz, settings.upper_to_hz)
    if high < low * settings.upper_least_ratio:
        return None
    middle = float(np.sqrt(low * high))
    return (low, middle), (middle, high)


def ranges_of(holds: Carried, settings: MuscleSettings) -> dict[str, Range]:
    """All ranges that the model and its evidence look at."""
    found = {"beta": (20.0, 30.0), "fast": FAST_HZ}
    halves = upper_ranges(holds, settings)
    return found | ({"upper-1": halves[0], "upper-2": halves[1]} if halves else {})


def upper(windows: Windows) -> np.ndarray:
    """Mean density of both upper ranges, shape (n_windows, n_good, n_good)."""
    return (windows.density["upper-1"] + windows.density["upper-2"]) / 2


def centre_hz(band_hz: Range) -> float:
    """Geometric middle."""
    return float(np.sqrt(band_hz[0] * band_hz[1]))


@dataclass(frozen=True)
class _Means:
    """Mean densities in the reduced basis, weighted by the muscle's strength."""

    fast: np.ndarray
    upper: np.ndarray
    halves: tuple[np.ndarray, np.ndarray]


def muscle_pattern(
    windows: Windows, usable: np.ndarray, good: tuple[str, ...], settings: MuscleSettings
) -> MusclePattern | None:
    """Learn the muscle's directions; None when the recording does not reach high enough.

    Parameters
    ----------
    windows : Windows
        With the ranges of `ranges_of`.
    usable : ndarray of bool, shape (n_windows,)
        Windows without bad spans.
    good : tuple of str
        Electrodes, the rows of the densities.
    """
    if "upper-1" not in windows.density or usable.sum() < settings.least_windows:
        return None
    means = _means(windows, usable, settings)
    cortex = reduced(cortex_covariance(good))
    cortex = cortex + settings.unheard_share * np.trace(cortex) / len(cortex) * np.eye(len(cortex))
    noise = max(float(np.linalg.eigvalsh(means.upper)[0]), 0.0)
    surplus = means.upper - noise * np.eye(len(cortex)) - settings.brain_ratio * means.fast
    strength, filters, patterns = _directions(surplus, cortex)
    slope = _slopes(filters, means, noise, windows, settings)
    ratio = (centre_hz(_whole(windows)) / centre_hz(FAST_HZ)) ** slope
    brain = _brain_level(_along(filters, means.fast), ratio * strength)
    kept = brain / (brain + ratio * strength)
    told = np.flatnonzero(kept < settings.least_kept)[::-1]
    basis = reference_basis(len(good))
    return MusclePattern(
        crossover_hz=settings.crossover_hz,
        noise_density=noise,
        filters=_rows(filters.T[told] @ basis),
        patterns=_rows(patterns.T[told] @ basis),
        kept=tuple(kept[told].tolist()),
        slopes=tuple(slope[told].tolist()),
    )


def _whole(windows: Windows) -> Range:
    return windows.ranges["upper-1"][0], windows.ranges["upper-2"][1]


def _means(windows: Windows, usable: np.ndarray, settings: MuscleSettings) -> _Means:
    """Strong windows count more, up to a quantile: the pattern of muscle when it is there."""
    power = np.trace(upper(windows), axis1=1, axis2=2)[usable]
    weight = np.minimum(power, np.quantile(power, settings.weight_quantile))
    weight = weight / weight.sum() if weight.sum() > 0 else np.full(power.size, 1 / power.size)

    def mean(name: str) -> np.ndarray:
        return reduced(np.tensordot(weight, windows.density[name][usable], axes=1))

    halves = mean("upper-1"), mean("upper-2")
    return _Means(mean("fast"), (halves[0] + halves[1]) / 2, halves)


def _directions(
    surplus: np.ndarray, cortex: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Generalised eigenvalues (not below 0), filters V with V' C V = 1, patterns C V."""
    root = np.linalg.cholesky(cortex)
    inverse = np.linalg.inv(root)
    values, vectors = np.linalg.eigh(inverse @ surplus @ inverse.T)
    vectors = vectors * np.sign(vectors[np.abs(vectors).argmax(axis=0), np.arange(len(values))])
    return np.maximum(values, 0), inverse.T @ vectors, root @ vectors


def _along(filters: np.ndarray, covariance: np.ndarray) -> np.ndarray:
    """Power of a covariance along each filter."""
    return (filters * (covariance @ filters)).sum(axis=0)


def _slopes(
    filters: np.ndarray,
    means: _Means,
    noise: float,
    windows: Windows,
    settings: MuscleSettings,
) -> np.ndarray:
    """Fall of each direction's density with frequency, as a power, within the set limits."""
    centres = [centre_hz(windows.ranges[name]) for name in ("upper-1", "upper-2")]
    noise_along = noise * (filters**2).sum(axis=0)
    brain = settings.brain_ratio * _along(filters, means.fast)
    step = centres[1] / centres[0]
    # The brain's own slope shares its part out between the two halves.
    tilt = step ** (settings.brain_slope / 2)
    lower, higher = (
        np.maximum(_along(filters, half) - noise_along - brain * part, 1e-12)
        for half, part in zip(means.halves, (tilt, 1 / tilt), strict=True)
    )
    slope = np.log(lower / higher) / np.log(step)
    if step < settings.slope_least_step:
        slope = np.full_like(slope, settings.usual_slope)
    return np.clip(slope, *settings.slope_limits)


def _brain_level(fast: np.ndarray, muscle: np.ndarray) -> float:
    """The brain's level in 30-45 Hz: median over directions of what muscle does not explain."""
    return float(np.median(np.maximum(fast - muscle, 0.1 * fast)))


def _rows(matrix: np.ndarray) -> tuple[tuple[float, ...], ...]:
    return tuple(map(tuple, matrix.tolist()))


def fast_filter(pattern: MusclePattern | None, n_good: int) -> np.ndarray:
    """What is kept of the signal above the crossover, shape (n_good, n_good)."""
    filtered = np.eye(n_good) - 1 / n_good
    if pattern is None or not pattern.kept:
        return filtered
    away = 1 - np.array(pattern.kept)
    return filtered - (np.array(pattern.patterns).T * away) @ np.array(pattern.filters)
