"""What a timeline says about each block: seconds by state, bouts, lapses, conditions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.insight.longrun import share_interval
from aftersit.insight.segments import rewarded, segment_means, steps_in
from aftersit.insight.settings import InsightSettings
from aftersit.insight.survival import median_s
from aftersit.protocol import Condition
from aftersit.record import BlockResult, BlockSeconds, Bout, BoutEnd, ConditionInBlock, ReplayResult
from aftersit.replay import logic
from aftersit.replay.baseline import Threshold
from aftersit.replay.run import is_scored, rows_of
from aftersit.replay.timeline import BAD, GATED, NO_REWARD, REWARD, UNKNOWN, WARM_UP, Timeline

LEAD_IN, TAIL = -1, -2
"""Pieces of a block without any decision: before its first, and after the recording's end."""

_ENDS: dict[int, BoutEnd] = {NO_REWARD: "lapse", BAD: "bad", UNKNOWN: "unknown", GATED: "gated"}


@dataclass(frozen=True)
class Pieces:
    """The states that tile a block: `states[i]` from `edges_s[i]` to `edges_s[i + 1]`."""

    edges_s: np.ndarray
    states: np.ndarray

    @property
    def lengths_s(self) -> np.ndarray:
        return np.diff(self.edges_s)

    def seconds(self, state: int) -> float:
        return float(self.lengths_s[self.states == state].sum())

    def runs(self) -> list[tuple[int, float, float]]:
        """Unbroken runs as (state, start_s, stop_s)."""
        limits = logic.runs(self.states)
        return [(int(self.states[a]), self.edges_s[a], self.edges_s[b]) for a, b in limits]


def pieces_of(timeline: Timeline, block: Block) -> Pieces:
    """Cut a block into the pieces between decisions."""
    rows = rows_of(block, timeline.times_s)
    edges, states = list(timeline.times_s[rows]), list(timeline.state[rows])
    if not edges or edges[0] > block.start_s + 1e-9:
        edges, states = [block.start_s, *edges], [LEAD_IN, *states]
    else:
        edges[0] = block.start_s
    if edges[-1] < timeline.duration_s < block.stop_s - 1e-9:
        edges, states = [*edges, timeline.duration_s], [*states, TAIL]
    return Pieces(np.array([*edges, block.stop_s]), np.array(states, dtype=int))


def bouts_of(pieces: Pieces, block: Block) -> list[Bout]:
    """Rewarded runs and what ended them."""
    found = pieces.runs()
    following = [state for state, _, _ in found[1:]] + [TAIL]
    return [
        Bout(
            block=block.index,
            start_s=float(start),
            stop_s=float(stop),
            ended_by=_ENDS.get(after, "block-end"),
        )
        for (state, start, stop), after in zip(found, following, strict=True)
        if state == REWARD
    ]


def lapses(pieces: Pieces) -> tuple[np.ndarray, np.ndarray]:
    """Lengths in seconds of the times without reward after a bout, and whether a bout ended them.

    What ended otherwise, by bad or unknown time or by the block's end, was cut short.
    """
    found = [*pieces.runs(), (TAIL, 0.0, 0.0)]
    after_bout = [
        (stop - start, after[0] == REWARD)
        for before, (state, start, stop), after in zip(found, found[1:], found[2:], strict=False)
        if (before[0], state) == (REWARD, NO_REWARD)
    ]
    lengths, ended = zip(*after_bout, strict=True) if after_bout else ((), ())
    return np.array(lengths, dtype=float), np.array(ended, dtype=bool)


def block_result(
    timeline: Timeline,
    block: Block,
    conditions: Sequence[Condition],
    thresholds: list[Threshold] | None,
    settings: InsightSettings,
) -> tuple[BlockResult, list[Bout]]:
    """Everything the record keeps of one block."""
    scored = is_scored(thresholds)
    pieces = pieces_of(timeline, block)
    bouts = bouts_of(pieces, block) if scored else []
    lengths = [b.stop_s - b.start_s for b in bouts]
    result = BlockResult(
        index=block.index,
        kind=block.kind,
        start_s=block.start_s,
        stop_s=block.stop_s,
        eyes=block.eyes,
        scored=scored,
        seconds=_seconds(pieces, scored),
        in_target_share=in_target(pieces) if scored else None,
        **(_interval(timeline, block, settings) if scored else {}),
        bouts=len(bouts),
        longest_bout_s=max(lengths, default=None),
        median_bout_s=_median(lengths),
        first_bout_after_s=bouts[0].start_s - block.start_s if bouts else None,
        median_lapse_s=median_s(*lapses(pieces)) if scored else None,
        several_failing_share=_several_failing(timeline, block) if scored else None,
        all_failing_share=_all_failing(timeline, block) if scored else None,
        conditions=_in_block(timeline, block, conditions) if scored else (),
    )
    return result, bouts


def _seconds(pieces: Pieces, scored: bool) -> BlockSeconds:
    if not scored:
        whole = float(pieces.edges_s[-1] - pieces.edges_s[0])
        return BlockSeconds(reward_s=0, no_reward_s=0, unknown_s=0, bad_s=0, not_scored_s=whole)
    return BlockSeconds(
        reward_s=pieces.seconds(REWARD),
        no_reward_s=pieces.seconds(NO_REWARD),
        unknown_s=pieces.seconds(UNKNOWN),
        bad_s=pieces.seconds(BAD),
        warm_up_s=pieces.seconds(WARM_UP),
        gated_s=pieces.seconds(GATED),
        lead_in_s=pieces.seconds(LEAD_IN),
        tail_s=pieces.seconds(TAIL),
        not_scored_s=0,
    )


def in_target(pieces: Pieces) -> float | None:
    """Reward time over known time."""
    return _share(pieces.seconds(REWARD), pieces.seconds(REWARD) + pieces.seconds(NO_REWARD))


def _interval(timeline: Timeline, block: Block, settings: InsightSettings) -> dict[str, float]:
    """Interval of the time in target, where the block has enough segments for one."""
    length = steps_in(settings.segment_s, timeline)
    shares = segment_means(rewarded(timeline, block), length, settings.segment_known)
    if len(shares) < max(settings.segments_min, settings.share_cosines + 1):
        return {}
    low, high = share_interval(shares, settings.share_cosines)
    return {"in_target_low": low, "in_target_high": high}


def _share(part: float, whole: float) -> float | None:
    return float(part / whole) if whole > 0 else None


def _median(values: Sequence[float]) -> float | None:
    return float(np.median(values)) if len(values) else None


def _several_failing(timeline: Timeline, block: Block) -> float | None:
    rows = rows_of(block, timeline.times_s)
    unrewarded = timeline.unrewarded[rows]
    short = timeline.needed - timeline.met[:, rows].sum(axis=0)
    return _share(((short > 1) & unrewarded).sum(), unrewarded.sum())


def _all_failing(timeline: Timeline, block: Block) -> float | None:
    rows = rows_of(block, timeline.times_s)
    unrewarded = timeline.unrewarded[rows]
    return _share((~timeline.met[:, rows].any(axis=0) & unrewarded).sum(), unrewarded.sum())


def _in_block(
    timeline: Timeline, block: Block, conditions: Sequence[Condition]
) -> tuple[ConditionInBlock, ...]:
    rows = rows_of(block, timeline.times_s)
    in_the_way = timeline.in_the_way[:, rows]
    divided = in_the_way / np.maximum(in_the_way.sum(axis=0), 1)
    shares = [_share(d.sum(), timeline.unrewarded[rows].sum()) for d in divided]
    return tuple(
        _condition(timeline, i, condition, rows, shares[i])
        for i, condition in enumerate(conditions)
    )


def _condition(
    timeline: Timeline, i: int, condition: Condition, rows: slice, deciding_share: float | None
) -> ConditionInBlock:
    known = timeline.known[rows]
    value, limit = timeline.value[i, rows][known], timeline.threshold[i, rows][known]
    db = logic.distance_db(value, limit, condition.direction)
    highest = int(np.argmax(db)) if len(db) else None
    limits = timeline.threshold[i, rows]
    return ConditionInBlock(
        name=condition.name,
        met_share=_share(timeline.met[i, rows][known].sum(), known.sum()),
        median_db=_finite(np.median(db)) if len(db) else None,
        highest_db=None if highest is None else _finite(db[highest]),
        highest_at_s=None if highest is None else float(timeline.times_s[rows][known][highest]),
        deciding_share=deciding_share,
        threshold=float(limits[0]) if len(limits) else None,
        threshold_end=float(limits[-1]) if condition.is_adaptive and len(limits) else None,
    )


def _finite(value: float) -> float | None:
    """None for the decibels of no power at all, which no file format of ours can hold."""
    return float(value) if np.isfinite(value) else None


def replay_result(
    timeline: Timeline,
    blocks: Sequence[Block],
    conditions: Sequence[Condition],
    thresholds: dict[int, list[Threshold]],
    settings: InsightSettings,
) -> ReplayResult:
    """One replay as the record keeps it."""
    results, bouts = [], []
    for block in blocks:
        result, found = block_result(
            timeline, block, conditions, thresholds.get(block.index), settings
        )
        results.append(result)
        bouts += found
    rewarded = sum(r.seconds.reward_s for r in results)
    known = rewarded + sum(r.seconds.no_reward_s for r in results)
    scored = [t for _, t in sorted(thresholds.items()) if is_scored(t)]
    last = scored[-1] if scored else [Threshold(None, None, None)] * len(conditions)
    names = [c.name for c in conditions]
    return ReplayResult(
        thresholds=_thresholds(results, names),
        baselines={n: t.level for n, t in zip(names, last, strict=True)},
        blocks=tuple(results),
        bouts=tuple(bouts),
        in_target_share=_share(rewarded, known),
        bouts_total=len(bouts),
        longest_bout_s=max((b.stop_s - b.start_s for b in bouts), default=None),
    )


def _thresholds(results: Sequence[BlockResult], names: Sequence[str]) -> dict[str, float | None]:
    """Threshold of each condition at the end of the last scored block."""
    inside = next((r.conditions for r in reversed(results) if r.scored), ())
    reached = {c.name: c.threshold_end or c.threshold for c in inside}
    return {name: reached.get(name) for name in names}


def removed_share(uncleaned: Timeline, cleaned: Timeline) -> float | None:
    """Part of the uncleaned reward that the cleaned replay does not give, where both score."""
    rows, lost = cleaned.lost_rows(uncleaned)
    seconds = uncleaned.row_s[rows]
    return _share(seconds[lost].sum(), seconds.sum())
