"""What a timeline says about each block: seconds by state, bouts, lapses, conditions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.protocol import Condition
from aftersit.record import BlockResult, BlockSeconds, Bout, ConditionInBlock, ReplayResult
from aftersit.replay import logic
from aftersit.replay.baseline import Threshold
from aftersit.replay.run import is_scored, rows_of
from aftersit.replay.timeline import BAD, NO_REWARD, OUTSIDE, REWARD, UNKNOWN, Timeline


@dataclass(frozen=True)
class Pieces:
    """The states that tile a block: `states[i]` from `edges_s[i]` to `edges_s[i + 1]`.

    Before the first decision inside the block, and after the recording's end,
    the state is unknown.
    """

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
        edges, states = [block.start_s, *edges], [UNKNOWN, *states]
    else:
        edges[0] = block.start_s
    if edges[-1] < timeline.duration_s < block.stop_s - 1e-9:
        edges, states = [*edges, timeline.duration_s], [*states, UNKNOWN]
    return Pieces(np.array([*edges, block.stop_s]), np.array(states, dtype=int))


def bouts_of(pieces: Pieces, block: Block) -> list[Bout]:
    """Rewarded runs; one is cut when a bad span follows at once."""
    found = pieces.runs()
    following = [state for state, _, _ in found[1:]] + [OUTSIDE]
    return [
        Bout(
            block=block.index,
            start_s=float(start),
            stop_s=float(stop),
            cut_by_bad_span=after == BAD,
        )
        for (state, start, stop), after in zip(found, following, strict=True)
        if state == REWARD
    ]


def lapses_s(pieces: Pieces) -> list[float]:
    """Lengths of the times between two bouts; not those that hold bad or unknown time."""
    found = pieces.runs()
    return [
        float(stop - start)
        for before, (state, start, stop), after in zip(found, found[1:], found[2:], strict=False)
        if (before[0], state, after[0]) == (REWARD, NO_REWARD, REWARD)
    ]


def block_result(
    timeline: Timeline,
    block: Block,
    conditions: Sequence[Condition],
    thresholds: list[Threshold] | None,
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
        bouts=len(bouts),
        longest_bout_s=max(lengths, default=None),
        median_bout_s=_median(lengths),
        first_bout_after_s=bouts[0].start_s - block.start_s if bouts else None,
        median_lapse_s=_median(lapses_s(pieces)) if scored else None,
        several_failing_share=_several_failing(timeline, block) if scored else None,
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
        not_scored_s=0,
    )


def in_target(pieces: Pieces) -> float | None:
    """Reward time over known time."""
    return _share(pieces.seconds(REWARD), pieces.seconds(REWARD) + pieces.seconds(NO_REWARD))


def _share(part: float, whole: float) -> float | None:
    return float(part / whole) if whole > 0 else None


def _median(values: Sequence[float]) -> float | None:
    return float(np.median(values)) if len(values) else None


def _several_failing(timeline: Timeline, block: Block) -> float | None:
    rows = rows_of(block, timeline.times_s)
    unrewarded = timeline.state[rows] == NO_REWARD
    several = (~timeline.met[:, rows]).sum(axis=0) > 1
    return _share((several & unrewarded).sum(), unrewarded.sum())


def _in_block(
    timeline: Timeline, block: Block, conditions: Sequence[Condition]
) -> tuple[ConditionInBlock, ...]:
    rows = rows_of(block, timeline.times_s)
    state, met = timeline.state[rows], timeline.met[:, rows]
    unrewarded = state == NO_REWARD
    known = unrewarded | (state == REWARD)
    alone = logic.deciding(met, len(met)) & ~logic.gate(met, len(met))
    results = []
    for i, condition in enumerate(conditions):
        value, limit = timeline.value[i, rows][known], timeline.threshold[i, rows][known]
        db = logic.distance_db(value, limit, condition.direction)
        results.append(
            ConditionInBlock(
                name=condition.name,
                met_share=_share(met[i][known].sum(), known.sum()),
                median_db=_finite(np.median(db)) if len(db) else None,
                highest_db=_finite(db.max()) if len(db) else None,
                deciding_share=_share((alone[i] & unrewarded).sum(), unrewarded.sum()),
                threshold=float(limit[0]) if len(limit) else None,
            )
        )
    return tuple(results)


def _finite(value: float) -> float | None:
    """None for the decibels of no power at all, which no file format of ours can hold."""
    return float(value) if np.isfinite(value) else None


def replay_result(
    timeline: Timeline,
    blocks: Sequence[Block],
    conditions: Sequence[Condition],
    thresholds: dict[int, list[Threshold]],
) -> ReplayResult:
    """One replay as the record keeps it."""
    results, bouts = [], []
    for block in blocks:
        result, found = block_result(timeline, block, conditions, thresholds.get(block.index))
        results.append(result)
        bouts += found
    rewarded = sum(r.seconds.reward_s for r in results)
    known = rewarded + sum(r.seconds.no_reward_s for r in results)
    scored = [t for _, t in sorted(thresholds.items()) if is_scored(t)]
    last = scored[-1] if scored else [Threshold(None, None, None)] * len(conditions)
    names = [c.name for c in conditions]
    return ReplayResult(
        thresholds={n: t.value for n, t in zip(names, last, strict=True)},
        baselines={n: t.level for n, t in zip(names, last, strict=True)},
        blocks=tuple(results),
        bouts=tuple(bouts),
        in_target_share=_share(rewarded, known),
        bouts_total=len(bouts),
        longest_bout_s=max((b.stop_s - b.start_s for b in bouts), default=None),
    )


def removed_share(uncleaned: Timeline, cleaned: Timeline) -> float | None:
    """Part of the uncleaned reward time that the cleaned replay does not reward."""
    n = min(len(uncleaned.state), len(cleaned.state))
    rewarded = uncleaned.state[:n] == REWARD
    seconds = uncleaned.row_s[:n]
    kept = cleaned.state[:n] == REWARD
    return _share(seconds[rewarded & ~kept].sum(), seconds[rewarded].sum())
