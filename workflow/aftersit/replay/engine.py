"""The causal engine: from samples to the smoothed power of each measure.

Samples are gathered into internal frames of a fixed number of update steps.
All arithmetic happens inside frames whose limits depend on the grid alone, so
that the result has the same bits however the samples arrive; and no operation
mixes a sample into an earlier one, so that later samples never change earlier
output. Running sums over the whole recording are avoided for that reason.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from aftersit.replay.filters import CausalFilter
from aftersit.replay.grid import Grid, samples_before

FRAME_STEPS = 128  # few calls, and short enough to stay in the processor's cache


@dataclass(frozen=True)
class Measure:
    """Power of a band as a quadratic form of the filtered signal, or its largest swing.

    Attributes
    ----------
    sos : ndarray, shape (n_sections, 6)
        The band-pass.
    root : ndarray, shape (n_rows, n_channels)
        Power at a sample is the sum of squares of `root` times the filtered channels.
    peak : bool
        The largest absolute value of `root` times the filtered channels instead.
    """

    sos: np.ndarray
    root: np.ndarray
    peak: bool = False


def quadratic_root(matrix: np.ndarray) -> np.ndarray:
    """`root` with root' root = A' matrix A, where A takes the average reference.

    Parameters
    ----------
    matrix : ndarray, shape (n_channels, n_channels)
        Symmetric, no negative eigenvalue beyond rounding.

    Returns
    -------
    ndarray, shape (n_kept, n_channels)
        One row for each eigenvalue above rounding.
    """
    values, vectors = np.linalg.eigh((matrix + matrix.T) / 2)
    kept = values > len(values) * np.finfo(float).eps * np.abs(values).max(initial=0)
    root = np.sqrt(values[kept])[:, np.newaxis] * vectors[:, kept].T
    return root - root.mean(axis=1, keepdims=True)


def each_electrode(n_channels: int, per_volt: float) -> np.ndarray:
    """`root` that gives every channel, average reference, shape (n_channels, n_channels)."""
    return (np.eye(n_channels) - 1 / n_channels) * per_volt


class PowerStream:
    """Mean power (or peak) of each measure in each update step, from samples as they come.

    Parameters
    ----------
    measures : sequence of Measure
        What to compute.
    rate_hz, update_s : float
        Sampling rate and length of a step.
    restarts_s : sequence of float
        Times at which all filters start anew (after gaps and bad spans).
    """

    def __init__(
        self,
        measures: Sequence[Measure],
        rate_hz: float,
        update_s: float,
        restarts_s: Sequence[float] = (),
    ):
        self._grid = Grid(update_s, rate_hz, 0)
        self._measures = measures
        self._filters = [CausalFilter(m.sos) for m in measures]
        self._restarts = samples_before(np.asarray(sorted(restarts_s), dtype=float), rate_hz)
        self._waiting: list[np.ndarray] = []
        self._n_waiting = 0
        self._frame = 0

    def push(self, samples: np.ndarray) -> np.ndarray:
        """Take the next samples; return the steps of the frames that they complete.

        Parameters
        ----------
        samples : ndarray, shape (n_channels, n_samples)
            In volts, any reference.

        Returns
        -------
        ndarray, shape (n_measures, n_steps)
            Mean power in the square of the unit that `root` makes, or peak in that unit.
        """
        if samples.shape[1]:
            self._waiting.append(samples)
        self._n_waiting += samples.shape[1]
        done = [np.empty((len(self._measures), 0))]
        if self._n_waiting >= self._limits()[-1]:
            whole = self._gathered()
            while whole.shape[1] >= (width := self._limits()[-1]):
                done.append(self._process(whole[:, :width]))
                whole = whole[:, width:]
            self._waiting = [whole] if whole.shape[1] else []
            self._n_waiting = whole.shape[1]
        return np.concatenate(done, axis=1)

    def finish(self) -> np.ndarray:
        """Return the complete steps of the frame that was begun; see `push`."""
        limits = self._limits()
        complete = int(np.searchsorted(limits, self._n_waiting, side="right")) - 1
        if complete < 1:
            return np.empty((len(self._measures), 0))
        whole = self._gathered()
        # The frame keeps its shape, so that products are made in the same way.
        padded = np.pad(whole, ((0, 0), (0, limits[-1] - whole.shape[1])))
        return self._process(padded)[:, :complete]

    def _gathered(self) -> np.ndarray:
        """All waiting samples; a whole recording that came at once is not copied."""
        if len(self._waiting) == 1:
            return self._waiting[0]
        return np.concatenate(self._waiting, axis=1)

    def _limits(self) -> np.ndarray:
        """First samples of the current frame's steps and its end, from the frame's start."""
        first = self._frame * FRAME_STEPS
        samples = self._grid.first_sample(np.arange(first, first + FRAME_STEPS + 1))
        return samples - samples[0]

    def _process(self, frame: np.ndarray) -> np.ndarray:
        limits = self._limits()
        start = int(self._grid.first_sample(self._frame * FRAME_STEPS))
        frame = np.ascontiguousarray(frame)
        inside = (self._restarts > start) & (self._restarts < start + limits[-1])
        cuts = [0, *(self._restarts[inside] - start).tolist(), int(limits[-1])]
        fresh = bool(np.isin(start, self._restarts))
        counts = np.diff(limits)
        steps = np.empty((len(self._measures), FRAME_STEPS))
        for i, (measure, band) in enumerate(zip(self._measures, self._filters, strict=True)):
            filtered = _filter_pieces(band, measure.root @ frame, cuts, fresh)
            if measure.peak:
                steps[i] = np.maximum.reduceat(np.abs(filtered).max(axis=0), limits[:-1])
            else:
                power = np.einsum("ij,ij->j", filtered, filtered)
                steps[i] = np.add.reduceat(power, limits[:-1]) / counts
        self._frame += 1
        return steps


def _filter_pieces(
    band: CausalFilter, rows: np.ndarray, cuts: list[int], fresh: bool
) -> np.ndarray:
    """Filter the pieces between cuts, starting anew at each inner cut, and at 0 when `fresh`."""
    pieces = []
    for number, (a, b) in enumerate(pairwise(cuts)):
        if number or fresh:
            band.restart()
        pieces.append(band(rows[:, a:b]))
    return pieces[0] if len(pieces) == 1 else np.concatenate(pieces, axis=1)


def moving_mean(steps: np.ndarray, length: int) -> np.ndarray:
    """Mean of each step and the `length` - 1 before it, along the last axis.

    Summed anew for each step in a fixed order, not as a running sum: rounding,
    and a NaN, must not travel beyond the window. The first `length` - 1 are NaN.
    """
    mean = np.full(steps.shape, np.nan)
    if steps.shape[-1] >= length:
        count = steps.shape[-1] - length + 1
        total = steps[..., :count].copy()
        for k in range(1, length):
            total += steps[..., k : k + count]
        mean[..., length - 1 :] = total / length
    return mean


def recent_maximum(steps: np.ndarray, before: int) -> np.ndarray:
    """Largest of each step and the `before` steps ahead of it; NaN counts as nothing."""
    found = np.where(np.isnan(steps), -np.inf, steps)
    largest = found.copy()
    for k in range(1, min(before, len(steps) - 1) + 1):
        np.maximum(largest[k:], found[:-k], out=largest[k:])
    return largest


def step_values(
    samples: np.ndarray, measures: Sequence[Measure], grid: Grid, restarts_s: Sequence[float] = ()
) -> np.ndarray:
    """What the step that ends at each decision of the grid holds, shape (n_measures, n_rows).

    NaN at the first decision, which has seen nothing.
    """
    stream = PowerStream(measures, grid.rate_hz, grid.update_s, restarts_s)
    steps = np.concatenate([stream.push(samples), stream.finish()], axis=1)
    before_first = np.full((len(measures), 1), np.nan)
    return np.concatenate([before_first, steps], axis=1)[:, : grid.n_rows]
