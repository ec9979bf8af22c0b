"""One sitting on the yardstick, from the values that its replay has left."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from aftersit.blocks import Block
from aftersit.insight.longrun import compare, share_interval
from aftersit.insight.segments import rewarded, segment_means, steps_in
from aftersit.insight.settings import InsightSettings
from aftersit.protocol import Protocol
from aftersit.record import Record
from aftersit.replay.baseline import baseline_for
from aftersit.replay.case import practices_of
from aftersit.replay.grid import Grid
from aftersit.replay.run import Values, block_thresholds, is_scored, rows_of, score
from aftersit.replay.settings import ReplaySettings
from aftersit.replay.summary import replay_result
from aftersit.replay.timeline import Timeline


@dataclass(frozen=True)
class Level:
    """A condition's mean power in practice over its baseline, in dB, with a 95 % interval.

    The interval is None where practice or baseline is too short to say.
    """

    db: float
    low_db: float | None
    high_db: float | None


@dataclass(frozen=True)
class Measured:
    """A sitting on the yardstick; shares of known time, `low` and `high` a 95 % interval."""

    share: float
    low: float | None
    high: float | None
    bouts: int
    longest_s: float | None
    known_s: float
    levels: dict[str, Level]


def measure(
    record: Record,
    table: pd.DataFrame,
    blocks: Sequence[Block],
    used: Protocol,
    settings: ReplaySettings,
) -> Measured | None:
    """Measure a sitting; None where no block can be scored.

    Parameters
    ----------
    record : Record
        Of a replay with the same conditions, whatever their thresholds were.
    table : DataFrame
        Its cleaned timeline, columns as in `Timeline.table`.
    used : Protocol
        The yardstick, see `rules.yardstick`.
    """
    values = _values(record, table, used)
    smoothing_s = used.timing.smoothing_s
    practices = practices_of(blocks, used.name)
    found = block_thresholds(values, used.conditions, practices, blocks, smoothing_s, settings)
    timeline = score(values, used, used.conditions, blocks, found)
    scored = [b for b in practices if is_scored(found[b.index])]
    result = replay_result(timeline, blocks, used.conditions, found, settings.insight)
    if result.in_target_share is None:
        return None
    low, high = _interval(timeline, scored, settings.insight)
    base = {b.index: baseline_for(blocks, b) for b in scored}
    return Measured(
        share=result.in_target_share,
        low=low,
        high=high,
        bouts=result.bouts_total,
        longest_s=result.longest_bout_s,
        known_s=float(timeline.row_s[timeline.known].sum()),
        levels={
            c.name: _level(timeline, i, scored, base, settings.insight)
            for i, c in enumerate(used.conditions)
        },
    )


def _values(record: Record, table: pd.DataFrame, used: Protocol) -> Values:
    quality = record.quality
    n_samples = round(quality.duration_s * quality.rate_hz)
    grid = Grid(used.timing.update_s, quality.rate_hz, n_samples)
    columns = [table[f"{c.name}_value"].to_numpy(float) for c in used.conditions]
    state, swung = table["state"].to_numpy(), table["swung"].to_numpy(float) == 1
    return Values(grid, np.array(columns), bad=state == "bad", gated=state == "gated", swung=swung)


def _interval(
    timeline: Timeline, scored: Sequence[Block], settings: InsightSettings
) -> tuple[float | None, float | None]:
    length = steps_in(settings.segment_s, timeline)
    shares = [segment_means(rewarded(timeline, b), length, settings.segment_known) for b in scored]
    together = np.concatenate(shares)
    if len(together) < max(settings.segments_min, settings.share_cosines + 1):
        return None, None
    return share_interval(together, settings.share_cosines)


def _level(
    timeline: Timeline,
    i: int,
    scored: Sequence[Block],
    base: dict[int, Block],
    settings: InsightSettings,
) -> Level:
    """Power in practice over that in the baseline, each as the mean of its segments."""
    length = steps_in(settings.segment_s, timeline)

    def segments(block: Block) -> np.ndarray:
        value = timeline.value[i, rows_of(block, timeline.times_s)]
        means = segment_means(value, length, settings.segment_known)
        return 10 * np.log10(means[means > 0])

    practice = np.concatenate([segments(b) for b in scored])
    baseline = np.concatenate([segments(b) for b in dict.fromkeys(base.values())])
    if not len(practice) or not len(baseline):
        return Level(float("nan"), None, None)
    if min(len(practice), len(baseline)) <= settings.change_cosines:
        return Level(float(practice.mean() - baseline.mean()), None, None)
    found = compare(baseline, practice, settings.change_cosines)
    return Level(float(found.change), float(found.low), float(found.high))
