"""Bad spans: seconds that can't be used, and why."""

from collections.abc import Iterable, Sequence

import numpy as np
from scipy import ndimage

from aftersit.clean.settings import SpanSettings
from aftersit.clean.windows import windows_to_end
from aftersit.quality import BadSpan, SpanReason

JUMP_S, JUMP_WINDOW_S = 0.04, 0.25
"""A pop is over within 40 ms, a blink takes twice as long to rise."""

ECHO = 0.5
"""A smaller jump than this part of the largest comes from predicting with that electrode."""

Run = tuple[int, int, int]
"""Row, first sample, sample after the last."""


def constant_runs(x: np.ndarray, shortest: int) -> list[Run]:
    """Runs of one and the same value, at least `shortest` samples long."""
    return [
        (row, start, stop + 1)
        for row, values in enumerate(x)
        for start, stop in _true_runs(np.diff(values) == 0)
        if stop + 1 - start >= shortest
    ]


def clipped_runs(x: np.ndarray, shortest: int, constant: int) -> list[Run]:
    """Short runs at a row's highest or lowest value: the amplifier was at its end.

    A single run can be chance; a rail is met again and again, so at least
    three runs at the same extreme count. Runs of `constant` samples and more
    have their own reason.
    """
    runs = []
    for row, values in enumerate(x):
        for extreme in (values.min(), values.max()):
            at = values == extreme
            found = [r for r in _true_runs(at) if shortest <= r[1] - r[0] < constant]
            if len(found) >= 3:
                runs += [(row, start, stop) for start, stop in found]
    return runs


def _true_runs(flags: np.ndarray) -> Iterable[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)


def sort_constant(runs: list[Run], stopped: np.ndarray) -> list[tuple[Run, SpanReason]]:
    """Reason of each constant run: `dropout` where most electrodes stop inside the recording.

    Parameters
    ----------
    runs : list of Run
        From `constant_runs`.
    stopped : ndarray of bool, shape (n_samples,)
        Samples at which most electrodes stand still.
    """
    inside = np.zeros(stopped.size, bool)
    for start, stop in _true_runs(stopped):
        inside[start:stop] = start > 0 and stop < stopped.size
    return [(run, "dropout" if inside[(run[1] + run[2]) // 2] else "constant") for run in runs]


def grown(strong: np.ndarray, weak: np.ndarray) -> np.ndarray:
    """Strong signs, and weak ones in the windows beside them, which an event fills in part.

    Parameters
    ----------
    strong, weak : ndarray of bool, shape (n_rows, n_windows)
    """
    beside = np.zeros_like(strong)
    beside[:, 1:] |= strong[:, :-1]
    beside[:, :-1] |= strong[:, 1:]
    return strong | (beside & weak)


def swings(x: np.ndarray, hop: int, smooth: int = 1) -> np.ndarray:
    """Swing (half of peak to peak) in windows of two hops, one a hop.

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_samples)
        Signal.
    hop : int
        Samples from one window to the next.
    smooth : int
        Length of a moving mean before: keeps slow waves and loses muscle.

    Returns
    -------
    ndarray, shape (n_rows, n_windows)
        Unit of the signal; its blocks of one hop are as in `windows_to_end`.
    """
    n_blocks = -(-x.shape[1] // hop)
    out = np.empty((len(x), max(n_blocks - 1, 1)))
    for row, target in zip(x, out, strict=True):
        if smooth > 1:
            row = ndimage.uniform_filter1d(row, smooth)
        cut = windows_to_end(row, hop)
        high, low = cut.max(axis=1), cut.min(axis=1)
        if n_blocks > 1:
            high, low = np.maximum(high[1:], high[:-1]), np.minimum(low[1:], low[:-1])
        target[:] = (high - low) / 2
    return out


def beyond_usual(swing: np.ndarray, settings: SpanSettings) -> np.ndarray:
    """Where an electrode swings far beyond its usual, or grossly; shape of `swing`."""
    usual = np.median(swing, axis=1, keepdims=True)
    beyond = (swing > settings.movement_factor * usual) & (swing > settings.movement_uv)
    return beyond | (swing > settings.gross_uv)


def jumps(
    combinations: np.ndarray, x: np.ndarray, rows: np.ndarray, rate_hz: float
) -> tuple[np.ndarray, int]:
    """Largest change from one mean of 40 ms to the next, in windows of 0.25 s.

    The means keep steps and lose muscle.

    Parameters
    ----------
    combinations : ndarray, shape (n, n)
        What is looked at: `combinations @ x[rows]`, one row at a time.
    x : ndarray, shape (n_rows, n_samples)
        Signal, uV.
    rows : ndarray of int, shape (n,)
        Rows that take part.
    rate_hz : float
        Sampling rate.

    Returns
    -------
    jump : ndarray, shape (n, n_windows)
        uV; windows as in `windows_to_end`.
    size : int
        Samples in a window.
    """
    lag = max(round(JUMP_S * rate_hz), 1)
    size = max(round(JUMP_WINDOW_S * rate_hz), lag + 1)
    out = np.empty((len(combinations), -(-x.shape[1] // size)))
    weights = np.zeros((len(combinations), len(x)), x.dtype)
    weights[:, rows] = combinations
    step = np.zeros(x.shape[1])
    for combination, target in zip(weights, out, strict=True):
        total = np.cumsum(combination @ x, dtype=float)
        mean = (total[lag:] - total[:-lag]) / lag
        np.abs(mean[lag:] - mean[:-lag], out=step[lag:-lag])
        target[:] = windows_to_end(step, size).max(axis=1)
    return out, size


def pops(jump: np.ndarray, settings: SpanSettings) -> np.ndarray:
    """Where a row jumps far beyond its usual and is no echo of another; shape of `jump`."""
    usual = np.median(jump, axis=1, keepdims=True)
    own = jump > ECHO * jump.max(axis=0)
    return own & (jump > settings.pop_factor * usual) & (jump > settings.pop_uv)


def to_spans(
    runs: Iterable[Run],
    names: list[str],
    rate_hz: float,
    n_samples: int,
    reason: SpanReason,
    guard_s: float,
) -> list[BadSpan]:
    """Runs with their guard as spans; runs that touch become one, their electrodes joined."""
    guard = round(guard_s * rate_hz)
    spans: list[tuple[int, int, set[int]]] = []
    for row, start, stop in sorted(runs, key=lambda r: (r[1], r[2], r[0])):
        start, stop = max(start - guard, 0), min(stop + guard, n_samples)
        if spans and start <= spans[-1][1]:
            first, last, rows = spans[-1]
            spans[-1] = (first, max(last, stop), rows | {row})
        else:
            spans.append((start, stop, {row}))
    return [
        BadSpan(
            start_s=round(start / rate_hz, 6),
            stop_s=round(stop / rate_hz, 6),
            reason=reason,
            electrodes=tuple(names[row] for row in sorted(rows) if row >= 0),
        )
        for start, stop, rows in spans
    ]


def joined(spans: Iterable[BadSpan], order: Sequence[str]) -> list[BadSpan]:
    """Spans of the same reason that touch become one; sorted by time.

    Parameters
    ----------
    spans : iterable of BadSpan
        In any order.
    order : sequence of str
        Electrodes, in the order in which a span names them.
    """
    out: list[BadSpan] = []
    for span in sorted(spans, key=lambda s: (s.reason, s.start_s, s.stop_s)):
        last = out[-1] if out else None
        if last and last.reason == span.reason and span.start_s <= last.stop_s:
            both = {*last.electrodes, *span.electrodes}
            out[-1] = BadSpan(
                start_s=last.start_s,
                stop_s=max(last.stop_s, span.stop_s),
                reason=span.reason,
                electrodes=tuple(name for name in order if name in both),
            )
        else:
            out.append(span)
    return sorted(out, key=lambda s: (s.start_s, s.stop_s, s.reason))


def window_runs(flags: np.ndarray, size: int) -> list[Run]:
    """Runs of flagged windows in samples, for flags of shape (n_rows, n_windows).

    The last window may end after the recording does; `to_spans` cuts it off.
    """
    return [
        (row, start * size, stop * size)
        for row, line in enumerate(flags)
        for start, stop in _true_runs(line)
    ]


def bad_samples(spans: Iterable[BadSpan], rate_hz: float, n_samples: int) -> np.ndarray:
    """Samples inside any span, shape (n_samples,)."""
    bad = np.zeros(n_samples, bool)
    for span in spans:
        bad[round(span.start_s * rate_hz) : round(span.stop_s * rate_hz)] = True
    return bad
