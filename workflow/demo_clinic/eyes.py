"""Blinks, eye movements and the slow rolling eyes of drowsiness."""

import numpy as np

from demo_clinic.noise import slow_noise
from demo_clinic.sources import Sources
from demo_clinic.spans import Span

EYE_BELOW_FP_M = np.array([0.0, -0.025, -0.045])
"""From Fp1 or Fp2 to the eye's middle: back and down; of usual head sizes, no source."""
UP = np.array([0.0, 0.5, 0.87])
RIGHT = np.array([1.0, 0.0, 0.0])


def topography(sources: Sources, direction: np.ndarray, at: tuple[str, ...]) -> np.ndarray:
    """Potential of two eye dipoles, shape (n_electrodes,); its mean over `at` is 1 (or -1 left).

    Both eyes stand as current dipoles in a homogeneous conductor, p.d / d^3:
    enough for a frontal topography, blind to skull and orbit.
    """
    total = np.zeros(len(sources.electrodes))
    for name in ("Fp1", "Fp2"):
        eye = sources.position_m[sources.electrodes.index(name)] + EYE_BELOW_FP_M
        d = sources.position_m - eye
        total += d @ direction / np.linalg.norm(d, axis=1) ** 3
    rows = [sources.electrodes.index(name) for name in at]
    return total / np.abs(total[rows].mean())


def blink_times(rng: np.random.Generator, spans: list[tuple[Span, float]]) -> np.ndarray:
    """Times in s, for (span, blinks per minute); never closer than 0.6 s."""
    times = []
    for (start, stop), per_minute in spans:
        at = start
        while per_minute and (at := at + 0.6 + rng.exponential(60 / per_minute - 0.6)) < stop - 0.6:
            times.append(at)
    return np.round(times, 3)


def blink_trace(
    rng: np.random.Generator, times_s: np.ndarray, n_samples: int, rate_hz: float, size_uv: float
) -> np.ndarray:
    """Lid signal in uV at Fp1/Fp2: quick up, slower down, about 0.35 s long."""
    t = np.arange(int(0.6 * rate_hz)) / rate_hz
    shape = np.where(
        t < 0.12, np.sin(np.pi / 2 * t / 0.12) ** 2, np.exp(-(((t - 0.12) / 0.11) ** 2))
    )
    trace = np.zeros(n_samples)
    for start in np.round(times_s * rate_hz).astype(int):
        part = slice(start, min(start + t.size, n_samples))
        trace[part] += size_uv * rng.uniform(0.7, 1.3) * shape[: part.stop - start]
    return trace


def saccade_trace(
    rng: np.random.Generator, gate: np.ndarray, rate_hz: float, size_uv: float, per_minute: float
) -> np.ndarray:
    """Gaze in uV at F8: steps that the recorder's high-pass lets sink back within a second."""
    steps = rng.random(gate.size) < per_minute / 60 / rate_hz
    jumps = steps * gate * rng.normal(0, size_uv, gate.size)
    n = int(4 * rate_hz)
    decay = np.exp(-np.arange(n) / rate_hz) * np.minimum(np.arange(n) / (0.04 * rate_hz), 1)
    return convolve_sparse(jumps, decay)


def rolling_trace(
    rng: np.random.Generator, gate: np.ndarray, rate_hz: float, size_uv: float
) -> np.ndarray:
    """Slow rolling eyes, 0.2-0.4 Hz from side to side, in uV at F8."""
    wander = slow_noise(rng, 1, gate.size, rate_hz, 0.1)[0]
    phase = 2 * np.pi * np.cumsum(0.3 + 0.05 * np.tanh(wander)) / rate_hz
    return size_uv * gate * np.sin(phase)


def convolve_sparse(impulses: np.ndarray, kernel: np.ndarray) -> np.ndarray:
    """Convolution of a train with few impulses, cut to its length."""
    out = np.zeros(impulses.size + kernel.size)
    for at in np.flatnonzero(impulses):
        out[at : at + kernel.size] += impulses[at] * kernel
    return out[: impulses.size]
