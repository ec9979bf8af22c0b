"""All bad spans of a sitting: those seen before components are fitted, and those after."""

import numpy as np

from aftersit.clean import mains, spans
from aftersit.clean.electrodes import Findings
from aftersit.clean.measure import pop_flags
from aftersit.clean.sitting import Sitting
from aftersit.quality import BadSpan, SpanReason

EVERYWHERE = -1
"""Row of a run that belongs to no single electrode."""
SWING_S = 0.5
BESIDE_HZ, BESIDE_FACTOR = (-13.0, -10.0, -7.0, 7.0, 10.0, 13.0), 4.0
"""Where to look beside the mains frequency, and how far a burst must stand above that."""


def spans_before(
    sitting: Sitting, found: Findings, typical: np.ndarray, mains_hz: float | None
) -> list[BadSpan]:
    """Constant runs, dropouts, clipping, pops, mains bursts and electrodes bad for a while."""
    good = found.good
    wanted = set(sitting.rows(good).tolist())
    runs: dict[SpanReason, list[spans.Run]] = {"constant": [], "dropout": []}
    for run, reason in spans.sort_constant(sitting.constant, sitting.stopped):
        if run[0] in wanted:
            runs[reason].append(run)
    runs["clipping"] = [run for run in sitting.clipped if run[0] in wanted]
    flags, size = pop_flags(sitting, good, typical)
    runs["pop"], together = _alone_and_together(flags, size, sitting, good)
    runs["mains"] = _mains_runs(sitting, good, mains_hz)
    runs["electrode"], noisy_together = _electrode_runs(sitting, found)
    runs["movement"] = together + noisy_together
    return _to_spans(sitting, runs)


def spans_after(cleaned: np.ndarray, sitting: Sitting, good: list[str]) -> list[BadSpan]:
    """Movement: what swings far beyond the usual once eyes are out."""
    size, smooth = round(SWING_S * sitting.rate_hz), round(spans.JUMP_S * sitting.rate_hz)
    swing = spans.swings(cleaned, size, smooth)
    limits = sitting.settings.spans
    beyond = spans.beyond_usual(swing, limits)
    alone, together = _alone_and_together(beyond, size, sitting, good)
    return _to_spans(sitting, {"movement": together, "electrode": alone})


def _alone_and_together(
    flags: np.ndarray, size: int, sitting: Sitting, good: list[str]
) -> tuple[list[spans.Run], list[spans.Run]]:
    """Runs of single electrodes, and runs in which so many join that the head moved."""
    together = flags.mean(axis=0) >= sitting.settings.spans.movement_electrodes
    alone = spans.window_runs(flags & ~together, size)
    everywhere = [(EVERYWHERE, *run[1:]) for run in spans.window_runs(together[None], size)]
    return _renumbered(alone, sitting, good), everywhere


def gross_spans(sitting: Sitting, good: list[str]) -> list[BadSpan]:
    """Swings that the component fit should not see; no part of the account."""
    size = round(SWING_S * sitting.rate_hz)
    swing = spans.swings(sitting.x, size)[sitting.rows(good)]
    gross = np.quantile(swing, 0.75, axis=0) > sitting.settings.spans.gross_uv
    return _to_spans(sitting, {"movement": spans.window_runs(gross[None], size)})


def _renumbered(runs: list[spans.Run], sitting: Sitting, good: list[str]) -> list[spans.Run]:
    """Rows of the good electrodes -> rows of the sitting."""
    rows = sitting.rows(good)
    return [(int(rows[row]), start, stop) for row, start, stop in runs]


def _mains_runs(sitting: Sitting, good: list[str], mains_hz: float | None) -> list[spans.Run]:
    if mains_hz is None:
        return []
    rows = sitting.rows(good)
    x, rate_hz = sitting.x, sitting.rate_hz
    amplitude, size = mains.residual_amplitude(x, rate_hz, mains_hz)
    amplitude = amplitude[rows]
    beyond = amplitude > sitting.settings.mains.burst_uv
    beyond &= amplitude > sitting.settings.mains.burst_factor * np.median(amplitude)
    for row in np.flatnonzero(beyond.any(axis=1)):
        beside = _beside(x[rows[row]][None], rate_hz, mains_hz)
        beyond[row] &= amplitude[row] > BESIDE_FACTOR * beside
    return _renumbered(spans.window_runs(beyond, size), sitting, good)


def _beside(x: np.ndarray, rate_hz: float, mains_hz: float) -> np.ndarray:
    """Typical amplitude near the mains frequency: a tense muscle is as strong there."""
    at_hz = [mains_hz + away for away in BESIDE_HZ if mains_hz + away < rate_hz / 2]
    powers = [mains.residual_amplitude(x, rate_hz, f)[0][0] ** 2 for f in at_hz]
    return np.sqrt(np.mean(powers, axis=0))


def _electrode_runs(sitting: Sitting, found: Findings) -> tuple[list[spans.Run], list[spans.Run]]:
    """Good electrodes that were noisy in two windows and more in a row; and many at once."""
    size = round(sitting.settings.electrodes.window_s * sitting.rate_hz)
    flags = found.bad_windows.T[sitting.rows(found.good)]
    alone, together = _alone_and_together(flags, size, sitting, found.good)
    return [run for run in alone if run[2] - run[1] >= 2 * size], together


def _to_spans(sitting: Sitting, runs: dict[SpanReason, list[spans.Run]]) -> list[BadSpan]:
    guard_s = sitting.settings.spans.guard_s
    return [
        span
        for reason, some in runs.items()
        for span in spans.to_spans(
            some, sitting.names, sitting.rate_hz, sitting.n_samples, reason, guard_s
        )
    ]
