"""All bad spans of a sitting: those seen before components are fitted, and those after."""

import numpy as np

from aftersit.clean import spans
from aftersit.clean.electrodes import Findings
from aftersit.clean.measure import jumps_alone
from aftersit.clean.sitting import Sitting
from aftersit.clean.windows import in_both_windows
from aftersit.quality import BadSpan, SpanReason

EVERYWHERE = -1
"""Row of a run that belongs to no single electrode."""
SWING_S, SMOOTH_S = 0.5, 0.1
"""A mean over 0.1 s has no alpha left; what is fast in a movement shows in single electrodes."""


def spans_before(sitting: Sitting, found: Findings, typical: np.ndarray) -> list[BadSpan]:
    """Constant runs, dropouts, clipping, pops, mains bursts and electrodes bad for a while."""
    good = found.good
    wanted = set(sitting.rows(good).tolist())
    runs: dict[SpanReason, list[spans.Run]] = {"constant": [], "dropout": []}
    for run, reason in spans.sort_constant(sitting.constant, sitting.stopped):
        if run[0] in wanted:
            runs[reason].append(run)
    runs["clipping"] = [run for run in sitting.clipped if run[0] in wanted]
    jump, size = jumps_alone(sitting, good, typical)
    flags = spans.pops(jump, sitting.settings.spans)
    runs["pop"], together = _alone_and_together(flags, size, sitting, good)
    runs["mains"] = [run for run in sitting.mains_bursts if run[0] in wanted]
    runs["electrode"], noisy_together = _electrode_runs(sitting, found)
    runs["movement"] = together + noisy_together
    return _to_spans(sitting, runs)


def spans_after(cleaned: np.ndarray, sitting: Sitting, good: list[str]) -> list[BadSpan]:
    """Movement: what swings far beyond the usual once eyes are out."""
    hop, smooth = round(SWING_S * sitting.rate_hz / 2), round(SMOOTH_S * sitting.rate_hz)
    swing = spans.swings(cleaned, hop, smooth)
    limits = sitting.settings.spans
    beyond = in_both_windows(spans.beyond_usual(swing, limits))
    alone, together = _alone_and_together(beyond, hop, sitting, good)
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
    hop = round(SWING_S * sitting.rate_hz / 2)
    swing = spans.swings(sitting.x, hop)[sitting.rows(good)]
    gross = np.quantile(swing, 0.75, axis=0) > sitting.settings.spans.gross_uv
    gross = in_both_windows(gross[None])
    return _to_spans(sitting, {"movement": spans.window_runs(gross, hop)})


def _renumbered(runs: list[spans.Run], sitting: Sitting, good: list[str]) -> list[spans.Run]:
    """Rows of the good electrodes -> rows of the sitting."""
    rows = sitting.rows(good)
    return [(int(rows[row]), start, stop) for row, start, stop in runs]


def _electrode_runs(sitting: Sitting, found: Findings) -> tuple[list[spans.Run], list[spans.Run]]:
    """Good electrodes that were bad for a while; and many at once."""
    flags = found.bad_blocks[sitting.rows(found.good)]
    return _alone_and_together(flags, sitting.hop, sitting, found.good)


def _to_spans(sitting: Sitting, runs: dict[SpanReason, list[spans.Run]]) -> list[BadSpan]:
    guard_s = sitting.settings.spans.guard_s
    return [
        span
        for reason, some in runs.items()
        for span in spans.to_spans(
            some, sitting.names, sitting.rate_hz, sitting.n_samples, reason, guard_s
        )
    ]
