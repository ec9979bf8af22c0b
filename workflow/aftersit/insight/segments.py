"""Short stretches of a block, whose means are what comparisons are made of."""

import numpy as np

from aftersit.blocks import Block
from aftersit.replay.run import rows_of
from aftersit.replay.timeline import REWARD, Timeline


def segment_means(values: np.ndarray, length: int, needed: float) -> np.ndarray:
    """Means of whole segments of `length` values; NaN is unknown.

    Parameters
    ----------
    values : ndarray, shape (..., n)
        All rows must be known at the same places.
    needed : float
        Share of a segment that must be known; others are passed over.

    Returns
    -------
    ndarray, shape (..., n_segments)
    """
    count = values.shape[-1] // length
    whole = values[..., : count * length].reshape(*values.shape[:-1], count, length)
    known = np.isfinite(whole)
    counts = known.sum(axis=-1)
    enough = (counts >= needed * length).all(axis=tuple(range(counts.ndim - 1)))
    totals = np.where(known, whole, 0.0).sum(axis=-1)
    return totals[..., enough] / counts[..., enough]


def steps_in(segment_s: float, timeline: Timeline) -> int:
    """Decisions in a segment."""
    return max(1, round(segment_s / float(timeline.times_s[1] - timeline.times_s[0])))


def known_db(timeline: Timeline, condition: int, block: Block, over: float | None) -> np.ndarray:
    """A condition's level at each decision of a block, in dB; NaN where it is not known.

    Over `over`, or over the threshold that each decision was compared with.
    """
    rows = rows_of(block, timeline.times_s)
    value = np.where(timeline.known[rows], timeline.value[condition, rows], np.nan)
    base = timeline.threshold[condition, rows] if over is None else over
    with np.errstate(divide="ignore", invalid="ignore"):
        return 10 * np.log10(value / base)


def rewarded(timeline: Timeline, block: Block) -> np.ndarray:
    """1 where a block's decision is rewarded, 0 where it is not, NaN where it is not known."""
    rows = rows_of(block, timeline.times_s)
    return np.where(timeline.known[rows], (timeline.state[rows] == REWARD) * 1.0, np.nan)
