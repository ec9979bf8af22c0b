"""Faults put into recordings on purpose, at stated sizes."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import signal

from aftersit.electrodes import STANDARD_19
from demo_clinic import faults

PAIRS = (("Fp1", "Fp2"), ("F7", "F8"), ("F3", "F4"), ("T7", "T8"), ("C3", "C4"), ("P7", "P8"))
PAIRS += (("P3", "P4"), ("O1", "O2"))
NEAR = (("Fp1", "Fp2"), ("F3", "Fz"), ("Fz", "F4"), ("C3", "Cz"), ("T7", "C3"), ("C4", "T8"))
NEAR += (("P3", "Pz"), ("Pz", "P4"), ("P7", "O1"), ("P8", "O2"), ("O1", "O2"), ("F7", "T7"))
POPS_PER_MINUTE = 6.0
ADDED = ("noisy", "popping")
"""Faults that come on top of an electrode's signal."""
LATER_FROM = 0.6
"""Faults that come late begin after this part of the recording."""


@dataclass(frozen=True)
class Bad:
    """An electrode fault.

    Attributes
    ----------
    kind : str
        What is wrong, as the account calls it.
    what : str
        The fault in words, with its size.
    electrodes : tuple of str
        Those that it touches.
    make : callable
        (x, rows, rate_hz, rng) -> x with the fault.
    """

    kind: str
    what: str
    electrodes: tuple[str, ...]
    make: Callable[[np.ndarray, list[int], float, np.random.Generator], np.ndarray]

    def into(
        self, x: np.ndarray, rate_hz: float, seed: int, high_hz: float | None = None
    ) -> np.ndarray:
        """A copy of (19, n_samples) uV with the fault, behind the recorder's low-pass."""
        rows = [STANDARD_19.index(name) for name in self.electrodes]
        bad = self.make(x.copy(), rows, rate_hz, np.random.default_rng(seed))
        if high_hz is None or self.kind not in ADDED:
            return bad
        sos = signal.butter(4, high_hz, "lowpass", fs=rate_hz, output="sos")
        bad[rows] = x[rows] + signal.sosfilt(sos, bad[rows] - x[rows])
        return bad


def own_size_uv(x: np.ndarray, row: int, rate_hz: float) -> float:
    """Usual size of an electrode: 1-20 Hz, average reference, median over seconds."""
    own = _slow(x[row] - x.mean(axis=0), rate_hz)
    size = round(rate_hz)
    cut = own[: own.size // size * size].reshape(-1, size)
    return float(np.sqrt(np.median((cut**2).mean(axis=1))))


def _late(n: int) -> slice:
    return slice(round(LATER_FROM * n), n)


def dead(noise_uv: float, late: bool = False):
    """Hears nothing but the amplifier's noise; with 0, one and the same value."""

    def make(x, rows, rate_hz, rng):
        part = _late(x.shape[1]) if late else slice(None)
        x[rows, part] = noise_uv * rng.standard_normal(x[rows, part].shape)
        return x

    return make


def contact_noise(times: float, late: bool = False):
    """Rough noise, so many times the electrode's own size (1-20 Hz, root mean square)."""

    def make(x, rows, rate_hz, rng):
        for row in rows:
            noise = rough_noise(rng, x.shape[1], rate_hz)
            noise *= times * own_size_uv(x, row, rate_hz)
            part = _late(x.shape[1]) if late else slice(None)
            x[row, part] += noise[part]
        return x

    return make


def rough_noise(rng: np.random.Generator, n_samples: int, rate_hz: float) -> np.ndarray:
    """A bad contact's noise with a root mean square of 1 in 1-20 Hz."""
    noise = faults.bad_contact(rng, n_samples, rate_hz, 1.0)
    return noise / _slow(noise, rate_hz).std()


def _slow(row: np.ndarray, rate_hz: float) -> np.ndarray:
    sos = signal.butter(4, (1.0, 20.0), "bandpass", fs=rate_hz, output="sos")
    return signal.sosfiltfilt(sos, row - row.mean())


def wandering(size_uv: float):
    """A random walk of this standard deviation within 5 s, as of a drying contact."""

    def make(x, rows, rate_hz, rng):
        for row in rows:
            walk = np.cumsum(rng.standard_normal(x.shape[1]))
            size = round(5 * rate_hz)
            cut = walk[: walk.size // size * size].reshape(-1, size)
            x[row] += walk * size_uv / np.median(cut.std(axis=1))
        return x

    return make


def popping(size_uv: float):
    """Jumps of this size, either way, that sink back within seconds."""

    def make(x, rows, rate_hz, rng):
        seconds = x.shape[1] / rate_hz
        for row in rows:
            for at in pop_times(rng, seconds, POPS_PER_MINUTE):
                size = size_uv * rng.choice([-1, 1])
                x[row] += faults.pop(x.shape[1], rate_hz, at, size)
        return x

    return make


def pop_times(rng: np.random.Generator, seconds: float, per_minute: float) -> np.ndarray:
    """Times in s, scattered evenly, none in the first and last second."""
    n = max(round(per_minute * seconds / 60), 1)
    slots = np.linspace(1, seconds - 1, n + 1)
    return slots[:-1] + rng.uniform(0.1, 0.9, n) * np.diff(slots)


def bridged(noise_uv: float):
    """Gel joins two electrodes: both have their mean, each with so much white noise."""

    def make(x, rows, rate_hz, rng):
        x[rows] = x[rows].mean(axis=0) + noise_uv * rng.standard_normal((len(rows), x.shape[1]))
        return x

    return make


def exchanged(x, rows, rate_hz, rng):
    """Two plugs in each other's place."""
    x[rows] = x[rows[::-1]]
    return x


def electrode_faults(rng: np.random.Generator) -> list[Bad]:
    """One of each kind and size, at electrodes drawn anew."""

    def one() -> tuple[str, ...]:
        return (str(rng.choice(STANDARD_19)),)

    def near() -> tuple[str, ...]:
        return NEAR[int(rng.integers(len(NEAR)))]

    made = [Bad("flat", "constant", one(), dead(0.0))]
    made += [Bad("flat", f"amplifier noise {u} uV", one(), dead(u)) for u in (0.1, 0.5)]
    made += [Bad("flat", "dead for the last 40 %", one(), dead(0.1, late=True))]
    made += [
        Bad("noisy", f"{times:g} x its own size", one(), contact_noise(times))
        for times in (0.5, 1.0, 2.0, 5.0, 20.0)
    ]
    made += [Bad("noisy", "3 x for the last 40 %", one(), contact_noise(3.0, late=True))]
    made += [Bad("drifting", f"{uv} uV in 5 s", one(), wandering(uv)) for uv in (50, 100, 200, 400)]
    made += [Bad("popping", f"{uv} uV pops", one(), popping(uv)) for uv in (50, 100, 200)]
    made += [Bad("bridged", f"noise {uv} uV", near(), bridged(uv)) for uv in (0.1, 0.3)]
    made += [Bad("swapped", "-".join(pair), pair, exchanged) for pair in PAIRS]
    return made
