"""One replay: values of the conditions, thresholds block by block, states."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.protocol import Condition, Protocol, Timing
from aftersit.replay import logic
from aftersit.replay.baseline import Threshold, baseline_for, threshold
from aftersit.replay.engine import Measure, smoothed_power
from aftersit.replay.grid import Grid
from aftersit.replay.settings import ReplaySettings
from aftersit.replay.spans import settled, touched
from aftersit.replay.timeline import BAD, NO_REWARD, OUTSIDE, REWARD, UNKNOWN, Timeline


@dataclass(frozen=True)
class Signal:
    """What a replay runs over.

    Attributes
    ----------
    samples : ndarray, shape (n_channels, n_samples)
        In volts, any reference.
    names : tuple of str
        Electrodes, in the order of the rows.
    rate_hz : float
    gaps_s : tuple of float
        Times at which recording went on after a gap.
    bad_spans : tuple of (float, float)
        Disjoint, rising; empty for the uncleaned replay.
    """

    samples: np.ndarray
    names: tuple[str, ...]
    rate_hz: float
    gaps_s: tuple[float, ...] = ()
    bad_spans: tuple[tuple[float, float], ...] = ()

    @property
    def restarts_s(self) -> tuple[float, ...]:
        """When filters start anew."""
        return (*self.gaps_s, *(stop for _, stop in self.bad_spans))


@dataclass(frozen=True)
class Values:
    """Smoothed power at each decision, NaN where it is not known.

    Attributes
    ----------
    grid : Grid
    value : ndarray, shape (n_conditions, n_rows)
    bad : ndarray of bool, shape (n_rows,)
    """

    grid: Grid
    value: np.ndarray
    bad: np.ndarray


def condition_values(
    signal: Signal,
    measures: Sequence[Measure],
    unknown_s: Sequence[float],
    timing: Timing,
) -> Values:
    """Run the causal engine and hide what is not known.

    Parameters
    ----------
    unknown_s : sequence of float
        For each measure, how long nothing is known after a start.
    """
    grid = Grid(timing.update_s, signal.rate_hz, signal.samples.shape[1])
    times = grid.times_s
    bad = touched(times, np.append(times[1:], grid.duration_s), signal.bad_spans)
    value = smoothed_power(
        signal.samples, measures, grid, timing.smoothing_steps, signal.restarts_s
    )
    for row, needed in zip(value, unknown_s, strict=True):
        row[bad | ~settled(times, signal.restarts_s, needed)] = np.nan
    return Values(grid, value, bad)


def block_thresholds(
    values: Values,
    conditions: Sequence[Condition],
    practices: Sequence[Block],
    blocks: Sequence[Block],
    smoothing_s: float,
    settings: ReplaySettings,
) -> dict[int, list[Threshold]]:
    """Threshold of each condition in each practice block, by the block's index."""
    times = values.grid.times_s
    return {
        block.index: [
            threshold(c, row, times, baseline_for(blocks, block), smoothing_s, settings)
            for c, row in zip(conditions, values.value, strict=True)
        ]
        for block in practices
    }


def score(
    values: Values,
    protocol: Protocol,
    conditions: Sequence[Condition],
    blocks: Sequence[Block],
    thresholds: dict[int, list[Threshold]],
) -> Timeline:
    """States of every decision.

    A block is scored when all its thresholds are there; nothing else ever
    rewards. The reward starts anew at a scored block's start and after every
    time that is not known.

    Parameters
    ----------
    conditions : sequence of Condition
        Those that `values` has, in its order.
    thresholds : dict
        As from `block_thresholds`; without the blocks that are not to be scored.
    """
    times = values.grid.times_s
    block_of, limit = np.zeros(len(times), dtype=int), np.full(values.value.shape, np.nan)
    state = np.full(len(times), OUTSIDE, dtype=np.int8)
    met = np.zeros(values.value.shape, dtype=bool)
    for block in blocks:
        rows = rows_of(block, times)
        block_of[rows] = block.index
        if is_scored(thresholds.get(block.index)):
            limit[:, rows] = [[t.value] for t in thresholds[block.index]]
            for i, condition in enumerate(conditions):
                met[i, rows] = logic.is_met(
                    values.value[i, rows], limit[i, rows], condition.direction
                )
            known = ~np.isnan(values.value[:, rows]).any(axis=0)
            state[rows] = block_states(met[:, rows], known, values.bad[rows], protocol)
    names = tuple(c.name for c in conditions)
    return Timeline(times, values.grid.duration_s, block_of, state, names, values.value, limit, met)


def rows_of(block: Block, times_s: np.ndarray) -> slice:
    """Rows whose decision lies in a block."""
    first, stop = np.searchsorted(times_s, [block.start_s - 1e-9, block.stop_s - 1e-9])
    return slice(int(first), int(stop))


def is_scored(thresholds: list[Threshold] | None) -> bool:
    """Whether every condition has a threshold."""
    return thresholds is not None and all(t.value is not None for t in thresholds)


def block_states(
    met: np.ndarray, known: np.ndarray, bad: np.ndarray, protocol: Protocol
) -> np.ndarray:
    """State codes of one scored block's decisions; shapes (n_conditions, n), (n,), (n,)."""
    timing = protocol.timing
    onset = logic.steps_for(timing.onset_s, timing.update_s)
    release = logic.steps_for(timing.release_s, timing.update_s)
    states = np.where(bad, BAD, UNKNOWN).astype(np.int8)
    held = logic.gate(met, len(met))
    scorable = known & ~bad
    for start, stop in logic.runs(scorable):
        if scorable[start]:
            rewarded = logic.reward(held[start:stop], onset, release)
            states[start:stop] = np.where(rewarded, REWARD, NO_REWARD)
    return states
