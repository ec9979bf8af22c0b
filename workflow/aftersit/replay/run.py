"""One replay: values of the conditions, thresholds block by block, states."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.protocol import Condition, Protocol
from aftersit.replay import logic
from aftersit.replay.adaptive import adapted, step_db
from aftersit.replay.baseline import Threshold, baseline_for, threshold
from aftersit.replay.conditions import Track, gate_measure
from aftersit.replay.engine import moving_mean, recent_maximum, step_values
from aftersit.replay.grid import Grid
from aftersit.replay.settings import ReplaySettings
from aftersit.replay.spans import settled, touched
from aftersit.replay.timeline import (
    BAD,
    GATED,
    NO_REWARD,
    OUTSIDE,
    REWARD,
    UNKNOWN,
    WARM_UP,
    Timeline,
)


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
    mains_hz : float or None
        Mains frequency that is still in the signal, to be taken out causally.
    """

    samples: np.ndarray
    names: tuple[str, ...]
    rate_hz: float
    gaps_s: tuple[float, ...] = ()
    bad_spans: tuple[tuple[float, float], ...] = ()
    mains_hz: float | None = None

    @property
    def restarts_s(self) -> tuple[float, ...]:
        """When filters start anew."""
        return (*self.gaps_s, *(stop for _, stop in self.bad_spans))


@dataclass(frozen=True)
class Values:
    """Smoothed measures at each decision, NaN where they are not known.

    Attributes
    ----------
    grid : Grid
    value : ndarray, shape (n_conditions, n_rows)
    bad : ndarray of bool, shape (n_rows,)
        In a bad span.
    gated : ndarray of bool, shape (n_rows,)
        Held by the artefact gate.
    swung : ndarray of bool, shape (n_rows,)
        With such a time in the smoothing window: no ground for a threshold.
    """

    grid: Grid
    value: np.ndarray
    bad: np.ndarray
    gated: np.ndarray
    swung: np.ndarray


def condition_values(
    signal: Signal, tracks: Sequence[Track], protocol: Protocol, settings: ReplaySettings
) -> Values:
    """Run the causal engine and hide what is not known; tracks as the running conditions."""
    timing, gate = protocol.timing, protocol.artefact_gate
    grid = Grid(timing.update_s, signal.rate_hz, signal.samples.shape[1])
    measures = [m for track in tracks for m in track.measures]
    if gate:
        n = len(signal.names)
        measures.append(gate_measure(gate, n, signal.rate_hz, signal.mains_hz, settings))
    steps = step_values(signal.samples, measures, grid, signal.restarts_s)
    value = _per_condition(moving_mean(steps, timing.smoothing_steps), tracks)
    bad = touched(grid.times_s, np.append(grid.times_s[1:], grid.duration_s), signal.bad_spans)
    for row, track in zip(value, tracks, strict=True):
        needed_s = track.settle_s + timing.smoothing_s
        row[bad | ~settled(grid.times_s, signal.restarts_s, needed_s)] = np.nan
    gated = np.zeros(grid.n_rows, dtype=bool)
    if gate:
        hold = logic.steps_for(gate.hold_s, timing.update_s)
        gated = recent_maximum(steps[-1], hold) > gate.limit_uv
    swung = recent_maximum(gated.astype(float), timing.smoothing_steps - 1) > 0
    return Values(grid, value, bad, gated, swung)


def _per_condition(smoothed: np.ndarray, tracks: Sequence[Track]) -> np.ndarray:
    """Power of each condition, or the ratio of its two powers."""
    value, row = np.empty((len(tracks), smoothed.shape[1])), 0
    for i, track in enumerate(tracks):
        value[i] = smoothed[row]
        if track.reference is not None:
            with np.errstate(divide="ignore", invalid="ignore"):
                value[i] = smoothed[row] / smoothed[row + 1]
        row += len(track.measures)
    return value


def block_thresholds(
    values: Values,
    conditions: Sequence[Condition],
    practices: Sequence[Block],
    blocks: Sequence[Block],
    smoothing_s: float,
    settings: ReplaySettings,
) -> dict[int, list[Threshold]]:
    """Threshold of each condition in each practice block, by the block's index."""
    times, calm = values.grid.times_s, np.where(values.swung, np.nan, values.value)
    return {
        block.index: [
            threshold(c, row, times, baseline_for(blocks, block), smoothing_s, settings)
            for c, row in zip(conditions, calm, strict=True)
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
    time that is not known. An adaptive threshold learns in the warm-up as well, and
    not while the artefact gate is shut; it goes on from block to block as long as
    its start is the same; another baseline starts it anew.

    Parameters
    ----------
    conditions : sequence of Condition
        Those that `values` has, in its order.
    thresholds : dict
        As from `block_thresholds`; without the blocks that are not to be scored.
    """
    times, shape = values.grid.times_s, values.value.shape
    block_of, limit = np.zeros(len(times), dtype=int), np.full(shape, np.nan)
    state, met = np.full(len(times), OUTSIDE, dtype=np.int8), np.zeros(shape, dtype=bool)
    moving = _Moving(protocol.timing.update_s)
    for block in blocks:
        rows = rows_of(block, times)
        block_of[rows] = block.index
        if is_scored(thresholds.get(block.index)):
            for i, condition in enumerate(conditions):
                start, value = thresholds[block.index][i].value, values.value[i, rows]
                learns = np.where(values.gated[rows], np.nan, value)
                limit[i, rows] = moving.limits(condition, learns, start)
                met[i, rows] = logic.is_met(value, limit[i, rows], condition.direction)
            state[rows] = block_states(met[:, rows], _reasons(values, block, protocol), protocol)
    return Timeline(
        times_s=times,
        duration_s=values.grid.duration_s,
        block=block_of,
        state=state,
        names=tuple(c.name for c in conditions),
        directions=tuple(c.direction for c in conditions),
        value=values.value,
        threshold=limit,
        met=met,
        needed=protocol.needed,
        swung=values.swung,
    )


class _Moving:
    """Thresholds over the blocks of one replay; fixed ones stay what they are."""

    def __init__(self, update_s: float):
        self._update_s = update_s
        self._reached: dict[str, tuple[float, float]] = {}  # start and where it stands

    def limits(self, condition: Condition, value: np.ndarray, start: float) -> np.ndarray | float:
        """Threshold at each decision of the next block, shape (n_rows,)."""
        if not condition.is_adaptive:
            return start
        before, reached = self._reached.get(condition.name, (start, start))
        rule = condition.threshold.adaptive
        found = adapted(
            value,
            reached if before == start else start,
            condition.direction,
            rule.target_rate,
            step_db(rule, self._update_s),
        )
        self._reached[condition.name] = (start, float(found[-1]))
        return found[:-1]


def rows_of(block: Block, times_s: np.ndarray) -> slice:
    """Rows whose decision lies in a block."""
    first, stop = np.searchsorted(times_s, [block.start_s - 1e-9, block.stop_s - 1e-9])
    return slice(int(first), int(stop))


def is_scored(thresholds: list[Threshold] | None) -> bool:
    """Whether every condition has a threshold."""
    return thresholds is not None and all(t.value is not None for t in thresholds)


def _reasons(values: Values, block: Block, protocol: Protocol) -> np.ndarray:
    """For each decision of a scored block why nothing is decided, NO_REWARD where it is."""
    rows = rows_of(block, values.grid.times_s)
    warming = values.grid.times_s[rows] < block.start_s + protocol.timing.warm_up_s - 1e-9
    known = ~np.isnan(values.value[:, rows]).any(axis=0)
    return np.select(
        [values.bad[rows], ~known, warming, values.gated[rows]],
        [BAD, UNKNOWN, WARM_UP, GATED],
        NO_REWARD,
    ).astype(np.int8)


def block_states(met: np.ndarray, reasons: np.ndarray, protocol: Protocol) -> np.ndarray:
    """State codes of one scored block's decisions; shapes (n_conditions, n) and (n,)."""
    timing = protocol.timing
    onset = logic.steps_for(timing.onset_s, timing.update_s)
    release = logic.steps_for(timing.release_s, timing.update_s)
    held, states = logic.gate(met, protocol.needed), reasons.copy()
    for start, stop in logic.runs(reasons == NO_REWARD):
        if reasons[start] == NO_REWARD:
            rewarded = logic.reward(held[start:stop], onset, release)
            states[start:stop][rewarded] = REWARD
    return states
