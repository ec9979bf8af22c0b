"""Checks of the signal itself: finite, in volts, alive, without constant runs.

Row by row, so that no copy of a long recording is made.
"""

from collections.abc import Sequence

import numpy as np

from aftersit.intake.problems import EXPORT_AGAIN, Note, Problem
from aftersit.intake.settings import IntakeSettings

MICRO = 1e-6
_LARGEST = 1e18
"""Squares and sums of smaller numbers fit into single precision (3e38)."""
_HIGHEST_V = 10.0
"""Amplifiers with the widest inputs saturate below 1 V (common practice, no source)."""
_ROUNDING_V = 1e-13
"""Standard deviations below this are rounding errors of a constant."""


def window_sd_v(signal: np.ndarray, rate_hz: float) -> np.ndarray:
    """Standard deviation of each electrode in windows of 1 s.

    Parameters
    ----------
    signal : ndarray, shape (n_electrodes, n_samples)
        In volts.

    Returns
    -------
    ndarray, shape (n_electrodes, n_windows)
        In volts. Windows keep drift and offset out.
    """
    length = min(max(round(rate_hz), 2), signal.shape[1])
    count = signal.shape[1] // length
    rows = [row[: count * length].reshape(count, length).std(axis=1) for row in signal]
    return np.array(rows).reshape(len(signal), count)


def flat_electrodes(names: list[str], sd_v: np.ndarray, settings: IntakeSettings) -> list[str]:
    """Electrodes without a signal in at least half of all windows."""
    return [
        name
        for name, sd in zip(names, np.median(sd_v, axis=1), strict=True)
        if sd < settings.flat_uv * MICRO
    ]


def amplitude_problem(sd_v: np.ndarray, settings: IntakeSettings) -> Problem | None:
    """Whether the numbers can be scalp EEG in volts.

    Parameters
    ----------
    sd_v : ndarray, shape (n_electrodes, n_windows)
        Electrodes that do not change at all say nothing about the unit.
    """
    sizes = np.median(sd_v, axis=1)
    low, high = settings.min_amplitude_uv, settings.max_amplitude_uv
    moving = sizes[sizes > _ROUNDING_V]
    size_uv = float(np.median(moving)) / MICRO if len(moving) else 0.0
    if not size_uv or low <= size_uv <= high:
        return None
    way, code = ("large", "too-large") if size_uv > high else ("small", "too-small")
    return Problem(
        f"amplitude-{code}",
        "recording",
        f"the typical size of the signal is {_in_words(size_uv)}; scalp EEG lies between "
        f"{low:g} and {high:g} µV, so the unit in the file is probably wrong, "
        f"for example 1000 times too {way}",
        "check the unit (µV, mV) in the export settings and export the recording again",
    )


def _in_words(size_uv: float) -> str:
    for factor, unit in ((1e6, "V"), (1e3, "mV"), (0.1, "µV")):
        if size_uv >= factor:
            return f"{size_uv / max(factor, 1.0):.3g} {unit}"
    return f"{size_uv * 1000:.3g} nV"


def not_finite_problem(signal: np.ndarray) -> Problem | None:
    """Samples that are no numbers, or too large to reckon with in single precision."""
    bad = sum(int(np.count_nonzero(~(np.abs(row) < _LARGEST))) for row in signal)
    if not bad:
        return None
    found = f"{bad} sample(s) are no finite numbers"
    return Problem("not-finite", "recording", found, EXPORT_AGAIN)


def impossible_problem(signal: np.ndarray) -> Problem | None:
    """Samples that no amplifier gives, in a recording whose unit is right."""
    bad = sum(int(np.count_nonzero(np.abs(row) > _HIGHEST_V)) for row in signal)
    if not bad:
        return None
    found = f"{bad} sample(s) of electrodes are beyond {_HIGHEST_V:g} V, so the file is damaged"
    return Problem("impossible-values", "recording", found, EXPORT_AGAIN)


def constant_tail_s(signal: np.ndarray, rate_hz: float) -> float:
    """Seconds at the end in which no electrode changes (a recorder that padded its file)."""
    moves = np.flatnonzero((signal[:, 1:] != signal[:, :-1]).any(axis=0))
    last = moves[-1] + 1 if len(moves) else 0
    still = signal.shape[1] - 1 - last
    return still / rate_hz


def constant_seconds(signal: Sequence[np.ndarray], rate_hz: float, at_least_s: float) -> np.ndarray:
    """Seconds that each electrode spends in runs of one and the same value.

    Parameters
    ----------
    signal : sequence of ndarray, shape (n_samples,)
        One for each electrode.
    at_least_s : float
        Shorter runs do not count.

    Returns
    -------
    ndarray, shape (n_electrodes,)
    """
    totals = np.zeros(len(signal))
    for row, values in enumerate(signal):
        edges = np.flatnonzero(np.diff(values)) + 1
        runs = np.diff(np.concatenate([[0], edges, [len(values)]])) / rate_hz
        totals[row] = runs[runs >= at_least_s].sum()
    return totals


def tail_note(signal: np.ndarray, tail_s: float) -> Note:
    """A note of the constant tail."""
    what = "exact zeros" if not signal[:, -1].any() else "one constant value"
    return Note("constant-tail", f"the last {tail_s:.1f} s of the recording are {what}")
