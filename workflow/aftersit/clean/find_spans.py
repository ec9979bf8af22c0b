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
    runs["pop"] = _renumbered(spans.window_runs(flags, size), sitting, good)
    runs["mains"] = _mains_runs(sitting, good, mains_hz)
    runs["electrode"] = _electrode_runs(sitting, found)
    return _to_spans(sitting, runs)


def spans_after(cleaned: np.ndarray, sitting: Sitting, good: list[str]) -> list[BadSpan]:
    """Movement: what swings far beyond the usual once eyes are out."""
    size, smooth = round(SWING_S * sitting.rate_hz), round(spans.JUMP_S * sitting.rate_hz)
    swing = spans.swings(cleaned, size, smooth)
    limits = sitting.settings.spans
    beyond = spans.beyond_usual(swing, limits)
    together = beyond.mean(axis=0) >= limits.movement_electrodes
    runs = {
        "movement": [(EVERYWHERE, *run[1:]) for run in spans.window_runs(together[None], size)],
        "electrode": _renumbered(spans.window_runs(beyond & ~together, size), sitting, good),
    }
    return _to_spans(sitting, runs)


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
    amplitude, size = mains.residual_amplitude(sitting.x, sitting.rate_hz, mains_hz)
    amplitude = amplitude[sitting.rows(good)]
    beyond = amplitude > sitting.settings.mains.burst_uv
    beyond &= amplitude > sitting.settings.mains.burst_factor * np.median(amplitude)
    return _renumbered(spans.window_runs(beyond, size), sitting, good)


def _electrode_runs(sitting: Sitting, found: Findings) -> list[spans.Run]:
    """Good electrodes that were noisy in two windows and more in a row."""
    size = round(sitting.settings.electrodes.window_s * sitting.rate_hz)
    wanted = set(sitting.rows(found.good).tolist())
    runs = spans.window_runs(found.bad_windows.T, size)
    return [run for run in runs if run[0] in wanted and run[2] - run[1] >= 2 * size]


def _to_spans(sitting: Sitting, runs: dict[SpanReason, list[spans.Run]]) -> list[BadSpan]:
    guard_s = sitting.settings.spans.guard_s
    return [
        span
        for reason, some in runs.items()
        for span in spans.to_spans(
            some, sitting.names, sitting.rate_hz, sitting.n_samples, reason, guard_s
        )
    ]
