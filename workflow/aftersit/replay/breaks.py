"""What changed over a break: means of segments before and after. A change, not a cause.

Neighbouring decisions of a smoothed measure depend on each other, so that they
are no sample to test with; means of segments of several seconds are nearly
independent. The practice blocks on either side of the break are cut into
segments from their start; a segment counts when enough of it is known. The
interval is Welch's (Welch 1947, Biometrika 34:28) over the segments' means.
"""

from collections.abc import Sequence

import numpy as np
from scipy import special

from aftersit.blocks import Block
from aftersit.record import BlockResult, BreakResult, Change
from aftersit.replay.run import rows_of
from aftersit.replay.settings import ReplaySettings
from aftersit.replay.timeline import NO_REWARD, REWARD, Timeline
from aftersit.sheet import Kind


def segment_means(values: np.ndarray, length: int, needed: float) -> np.ndarray:
    """Means of whole segments of `length` values; NaN is unknown.

    Parameters
    ----------
    values : ndarray, shape (n,)
    needed : float
        Share of a segment that must be known.
    """
    whole = values[: len(values) // length * length].reshape(-1, length)
    known = np.isfinite(whole)
    counts = known.sum(axis=1)
    enough = counts >= needed * length
    return np.where(known, whole, 0.0).sum(axis=1)[enough] / counts[enough]


def welch_interval(
    before: np.ndarray, after: np.ndarray, confidence: float = 0.95
) -> tuple[float, float]:
    """Interval of mean(after) - mean(before), variances not taken as equal."""
    a = after.var(ddof=1) / len(after)
    b = before.var(ddof=1) / len(before)
    change, error = after.mean() - before.mean(), np.sqrt(a + b)
    if error == 0:
        return float(change), float(change)
    freedom = (a + b) ** 2 / (a**2 / (len(after) - 1) + b**2 / (len(before) - 1))
    half = special.stdtrit(freedom, (1 + confidence) / 2) * error
    return float(change - half), float(change + half)


def change(name: str, before: np.ndarray, after: np.ndarray, segments_min: int) -> Change:
    """Compare segment means in dB; the interval needs enough segments on both sides."""
    low = high = None
    if min(len(before), len(after)) >= segments_min:
        low, high = welch_interval(before, after)
    both = len(before) and len(after)
    return Change(
        condition=name,
        before_db=float(before.mean()) if len(before) else None,
        after_db=float(after.mean()) if len(after) else None,
        change_db=float(after.mean() - before.mean()) if both else None,
        low_db=low,
        high_db=high,
    )


def break_results(
    timeline: Timeline,
    blocks: Sequence[Block],
    results: Sequence[BlockResult],
    settings: ReplaySettings,
) -> tuple[BreakResult, ...]:
    """Every break with a scored practice block on both sides, only breaks between."""
    found = []
    for position, block in enumerate(blocks):
        before = _neighbour(results[:position][::-1])
        after = _neighbour(results[position + 1 :])
        if block.kind is Kind.BREAK and before and after:
            found.append(_break_result(timeline, block, blocks, before, after, settings))
    return tuple(found)


def _neighbour(results: Sequence[BlockResult]) -> BlockResult | None:
    nearest = next((r for r in results if r.kind is not Kind.BREAK), None)
    return nearest if nearest and nearest.scored else None


def _break_result(
    timeline: Timeline,
    block: Block,
    blocks: Sequence[Block],
    before: BlockResult,
    after: BlockResult,
    settings: ReplaySettings,
) -> BreakResult:
    sides = [next(b for b in blocks if b.index == r.index) for r in (before, after)]
    return BreakResult(
        block=block.index,
        start_s=block.start_s,
        stop_s=block.stop_s,
        before_block=before.index,
        after_block=after.index,
        in_target_before=before.in_target_share,
        in_target_after=after.in_target_share,
        changes=tuple(
            change(name, *_segments(timeline, i, sides, settings), settings.segments_min)
            for i, name in enumerate(timeline.names)
        ),
    )


def _segments(
    timeline: Timeline, condition: int, sides: Sequence[Block], settings: ReplaySettings
) -> list[np.ndarray]:
    """Segment means on both sides, in dB over the threshold of the first."""
    step_s = timeline.times_s[1] - timeline.times_s[0]
    length = max(1, round(settings.segment_s / step_s))
    rows = [rows_of(block, timeline.times_s) for block in sides]
    threshold = timeline.threshold[condition, rows[0].start]
    means = []
    for side in rows:
        known = np.isin(timeline.state[side], (NO_REWARD, REWARD))
        value = np.where(known, timeline.value[condition, side], np.nan)
        with np.errstate(divide="ignore"):
            db = 10 * np.log10(value / threshold)
        means.append(segment_means(db, length, settings.segment_known))
    return means
