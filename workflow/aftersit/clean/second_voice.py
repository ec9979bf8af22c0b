"""Eyes recognised by what they are: a second voice beside the network's labels."""

from dataclasses import dataclass

import numpy as np
from scipy import signal

from aftersit.clean.filters import mean_power
from aftersit.clean.settings import ComponentSettings
from aftersit.quality import Component

FRONTAL = ("Fp1", "Fp2", "F7", "F8")
BROW = ("Fp1", "Fp2")
SIDES = ("F7", "F8")
SLOW_HZ, TOTAL_HZ = 4.0, 30.0


@dataclass(frozen=True)
class Voice:
    """Whether this voice claims a component, and how strongly (a correlation)."""

    label: Component
    speaks: bool
    strength: float


def eye_voice(
    mixing: np.ndarray,
    activations: np.ndarray,
    x: np.ndarray,
    eog: np.ndarray,
    names: list[str],
    rate_hz: float,
    settings: ComponentSettings,
) -> list[Voice]:
    """Blinks and eye movements: slow, and frontal and alike to what the brow sees.

    The map's squares must lie at Fp1, Fp2, F7 and F8, most of the power below
    30 Hz must lie below 4 Hz, and the activation must follow the mean of Fp1
    and Fp2 (blinks) or the difference of F8 and F7 (sideways movements). What
    follows an EOG channel need not be frontal.
    """
    frontal = _share(mixing, [n in FRONTAL for n in names])
    slow = _slow_share(activations, rate_hz)
    follows = np.maximum(
        _correlation(activations, _mean(x, names, BROW, (1, 1))),
        _correlation(activations, _mean(x, names, SIDES, (-1, 1))),
    )
    claims = (frontal > settings.eye_frontal) & (slow > settings.eye_slow)
    claims &= follows > settings.eye_correlation
    for trace in eog:
        watched = _correlation(activations, trace)
        claims |= (watched > settings.eye_correlation) & (slow > settings.eye_slow)
        follows = np.maximum(follows, watched)
    return [Voice("eye", bool(c), float(r)) for c, r in zip(claims, follows, strict=True)]


def _share(mixing: np.ndarray, rows: list[bool]) -> np.ndarray:
    squares = mixing**2
    return squares[rows].sum(axis=0) / squares.sum(axis=0)


def _slow_share(activations: np.ndarray, rate_hz: float) -> np.ndarray:
    """Part of the power below 30 Hz that is below 4 Hz; only the ratio of powers counts."""
    size = min(round(2 * rate_hz), activations.shape[1])
    power = mean_power(activations, signal.get_window("hann", size), size - size // 2)
    frequencies = np.fft.rfftfreq(size, 1 / rate_hz)
    power[:, 0] /= 2  # 0 Hz has no mirror image
    whole = power[:, frequencies < TOTAL_HZ].sum(axis=1)
    return power[:, frequencies < SLOW_HZ].sum(axis=1) / (whole + 1e-30)


def _mean(
    x: np.ndarray, names: list[str], wanted: tuple[str, ...], signs: tuple[int, ...]
) -> np.ndarray | None:
    rows = [sign * x[names.index(n)] for n, sign in zip(wanted, signs, strict=True) if n in names]
    return np.mean(rows, axis=0) if rows else None


def _correlation(activations: np.ndarray, trace: np.ndarray | None) -> np.ndarray:
    """Magnitude of each row's correlation with a trace; 0 without one."""
    if trace is None or not trace.std() > 0:
        return np.zeros(len(activations))
    centred = activations - activations.mean(axis=1, keepdims=True)
    trace = trace - trace.mean()
    norm = np.sqrt((centred**2).sum(axis=1) * (trace**2).sum())
    return np.abs(centred @ trace) / (norm + 1e-30)
