"""The heart's field: its beats found, with an ECG channel or without, and taken out.

Seen from the scalp the heart is far away, so its potential falls off evenly from
one side of the head to the other. Among all spatial filters that pass such a
gradient, the one that passes least of anything else is the minimum variance one
(van Veen et al. 1997, IEEE Trans Biomed Eng 44:867); what it hears beats regularly,
or there is no heart to be found.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import signal

from aftersit.clean import filters
from aftersit.clean.settings import HeartSettings
from aftersit.sphere import on_unit_sphere

BEAT_HZ = (8.0, 30.0)
"""Where the R wave is strong and slow EEG is not."""
SEARCH_RATE_HZ, SEARCH_S = 100.0, 300.0
N_DIRECTIONS = 30
SHORTEST_S = 0.4
"""Between two beats (150 a minute)."""
BEFORE_S, AFTER_S, TAPER_S = 0.25, 0.5, 0.05
"""Of a beat's R wave, P to T; at its ends the field is led down to nothing."""
NEAR_S = 0.06
STANDS_OUT = 2.5
"""Standard deviations from which a peak may be a beat."""


@dataclass(frozen=True)
class Heart:
    """Beats and what electrodes hear of one.

    Attributes
    ----------
    source : str
        Where the beats were found, `ecg` or `eeg`.
    at : ndarray of int, shape (n_beats,)
        Samples of the R waves.
    field_uv : ndarray, shape (n_electrodes, n_samples)
        Mean beat, from `BEFORE_S` before the R wave on.
    """

    source: Literal["ecg", "eeg"]
    at: np.ndarray
    field_uv: np.ndarray

    @property
    def size_uv(self) -> float:
        """Peak to peak at the electrode that hears most, average reference."""
        return float(np.ptp(self.field_uv - self.field_uv.mean(axis=0), axis=1).max())


def find_heart(
    x: np.ndarray,
    names: list[str],
    rate_hz: float,
    ecg: np.ndarray | None,
    usable: np.ndarray,
    settings: HeartSettings,
) -> Heart | None:
    """Find the heartbeat; None where there is none to be heard.

    Parameters
    ----------
    x : ndarray, shape (n_electrodes, n_samples)
        High-passed signal, uV, any reference.
    names : list of str
        The electrodes.
    rate_hz : float
        Sampling rate.
    ecg : ndarray, shape (n_samples,) | None
        ECG channel.
    usable : ndarray of bool, shape (n_samples,)
        Samples to learn from.
    settings : HeartSettings
        What counts as a heartbeat.
    """
    if len(names) < settings.fewest_electrodes:
        return None
    for source, find in (("ecg", _beats_of_ecg), ("eeg", _beats_of_eeg)):
        at = find(x, names, rate_hz, ecg, usable, settings)
        heart = None if at is None else _mean_beat(source, x, at, rate_hz, usable, settings)
        if heart is not None:
            return heart
    return None


def remove_heart(x: np.ndarray, rows: np.ndarray, rate_hz: float, heart: Heart) -> None:
    """Subtract the mean beat at each beat from the rows that it was found in, in place."""
    before, length = round(BEFORE_S * rate_hz), heart.field_uv.shape[1]
    for at in heart.at:
        start, stop = at - before, at - before + length
        first, last = max(start, 0), min(stop, x.shape[1])
        x[rows, first:last] -= heart.field_uv[:, first - start : last - start]


def _beats_of_ecg(x, names, rate_hz, ecg, usable, settings: HeartSettings) -> np.ndarray | None:
    if ecg is None or not ecg.std() > 0:
        return None
    lead = filters.band_pass(ecg[None], rate_hz, *BEAT_HZ, order=2)[0]
    return _beats(lead / lead.std(), rate_hz, settings)


def _beats_of_eeg(x, names, rate_hz, ecg, usable, settings: HeartSettings) -> np.ndarray | None:
    """Beats in what a gradient's filter hears, then in what the beats' own field's filter hears."""
    slow, slow_hz = filters.decimated(x - x.mean(axis=0), rate_hz, SEARCH_RATE_HZ)
    y = filters.band_pass(slow, slow_hz, *BEAT_HZ, order=2)
    fine = usable[:: round(rate_hz / slow_hz)][: y.shape[1]]
    covariance = y[:, fine] @ y[:, fine].T / max(fine.sum(), 1)
    covariance += 1e-3 * np.trace(covariance) / len(y) * np.eye(len(y))
    gradients = np.linalg.solve(covariance, _gradients(names))
    part = y[:, fine][:, : round(SEARCH_S * slow_hz)]
    best = max(
        (w @ part for w in _directions() @ gradients.T),
        key=lambda trace: _regularity(_peaks(trace / trace.std(), slow_hz), slow_hz),
    )
    first = _beats(best / best.std(), slow_hz, settings)
    if first is None:
        return None
    field = _around(part, first, slow_hz)
    heard = np.linalg.solve(covariance, field[:, np.argmax((field**2).sum(axis=0))]) @ y
    at = _beats(heard / heard[fine].std(), slow_hz, settings)
    return None if at is None else np.round(at * (rate_hz / slow_hz)).astype(int)


def _gradients(names: list[str]) -> np.ndarray:
    """Potentials that fall off evenly rightwards, forwards, upwards; shape (n, 3)."""
    places = on_unit_sphere(names)
    return places - places.mean(axis=0)


def _directions() -> np.ndarray:
    """Spread over half a sphere by the golden angle, shape (n, 3); the sign is free."""
    k = np.arange(N_DIRECTIONS) + 0.5
    up, turn = 1 - k / N_DIRECTIONS, np.pi * (1 + 5**0.5) * k
    flat = np.sqrt(1 - up**2)
    return np.stack([flat * np.cos(turn), flat * np.sin(turn), up], axis=1)


def _beats(trace: np.ndarray, rate_hz: float, settings: HeartSettings) -> np.ndarray | None:
    """Beats of a trace of variance 1; None where it does not beat."""
    at = _peaks(trace, rate_hz)
    beats = at.size >= settings.fewest_beats and _regularity(at, rate_hz) >= settings.regular
    return at if beats else None


def _peaks(trace: np.ndarray, rate_hz: float) -> np.ndarray:
    """The larger peaks of the side that beats more regularly."""
    distance = round(SHORTEST_S * rate_hz)
    both = [signal.find_peaks(s * trace, STANDS_OUT, distance=distance)[0] for s in (1, -1)]
    return max(both, key=lambda at: _regularity(at, rate_hz))


def _regularity(at: np.ndarray, rate_hz: float) -> float:
    """Share of the intervals within 15 % of their median."""
    if at.size < 10:
        return 0.0
    intervals = np.diff(at) / rate_hz
    usual = np.median(intervals)
    return float(np.mean(np.abs(intervals - usual) < 0.15 * usual))


def _around(y: np.ndarray, at: np.ndarray, rate_hz: float) -> np.ndarray:
    """Mean of what surrounds the beats."""
    near = round(NEAR_S * rate_hz)
    inside = at[(at >= near) & (at < y.shape[1] - near)]
    return np.mean([y[:, a - near : a + near + 1] for a in inside], axis=0)


def _mean_beat(
    source, x: np.ndarray, at: np.ndarray, rate_hz: float, usable: np.ndarray, settings
) -> Heart | None:
    """The mean over undisturbed beats, if it is more than chance gives."""
    before = round(BEFORE_S * rate_hz)
    usual = np.median(np.diff(at))
    length = round(min(BEFORE_S + AFTER_S, 0.95 * usual / rate_hz) * rate_hz)
    whole = at[(at >= before) & (at - before + length <= x.shape[1])] - before
    fine = [start for start in whole if usable[start : start + length].all()]
    if len(fine) < settings.fewest_beats:
        return None
    field = np.zeros((len(x), length))
    for start in fine:
        field += x[:, start : start + length]
    field /= len(fine)
    level = field - field.mean(axis=0)
    reference = x.mean(axis=0)
    chance = np.array([(row - reference)[usable].var() for row in x]) / len(fine)
    if not ((level**2).mean(axis=1) / chance).max() > settings.over_chance:
        return None
    return Heart(source, at, field * _taper(length, rate_hz))


def _taper(length: int, rate_hz: float) -> np.ndarray:
    ramp = round(TAPER_S * rate_hz)
    rise = np.sin(np.pi / 2 * (np.arange(ramp) + 0.5) / ramp) ** 2
    return np.concatenate([rise, np.ones(length - 2 * ramp), rise[::-1]])
