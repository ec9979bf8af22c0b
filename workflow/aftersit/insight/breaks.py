"""What changed over a break: means of segments before and after. A change, not a cause.

The practice blocks on either side of the break are cut into segments from their
start; a segment counts when enough of it is known. How sure a difference of their
means is, see `aftersit.insight.longrun`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from scipy.stats import false_discovery_control

from aftersit.blocks import Block
from aftersit.findings import BreakResult, Change, Elsewhere, ShareChange
from aftersit.insight.longrun import Comparison, compare, compare_shares
from aftersit.insight.segments import known_db, rewarded, segment_means, steps_in
from aftersit.insight.settings import InsightSettings
from aftersit.record import BlockResult
from aftersit.replay.timeline import Timeline
from aftersit.sheet import Kind


@dataclass(frozen=True)
class Break:
    """A break and the scored practice blocks next to it.

    Of several in a row `block` has the first one's index and the last one's end.
    """

    block: Block
    before: Block
    after: Block


def breaks_of(blocks: Sequence[Block], results: Sequence[BlockResult]) -> list[Break]:
    """Every break with a scored practice block on both sides; breaks in a row are one."""
    scored = {r.index for r in results if r.scored}
    runs = [list(run) for _, run in groupby(blocks, key=lambda b: b.kind is Kind.BREAK)]
    return [
        Break(replace(between[0], stop_s=between[-1].stop_s), before[-1], after[0])
        for before, between, after in zip(runs, runs[1:], runs[2:], strict=False)
        if between[0].kind is Kind.BREAK and {before[-1].index, after[0].index} <= scored
    ]


def break_result(
    around: Break,
    timeline: Timeline,
    results: Sequence[BlockResult],
    elsewhere: Elsewhere | None,
    settings: InsightSettings,
) -> BreakResult:
    """What changed over one break, by the cleaned replay."""
    shares = {r.index: r.in_target_share for r in results}
    names = list(enumerate(timeline.names))
    return BreakResult(
        block=around.block.index,
        start_s=around.block.start_s,
        stop_s=around.block.stop_s,
        before_block=around.before.index,
        after_block=around.after.index,
        in_target=_in_target(around, timeline, shares, settings),
        changes=tuple(_measure(around, timeline, i, name, settings) for i, name in names),
        distances=tuple(_distance(around, timeline, i, name, settings) for i, name in names),
        elsewhere=elsewhere,
    )


def change(
    name: str, before: np.ndarray, after: np.ndarray, settings: InsightSettings, sign: float = 1.0
) -> Change:
    """Compare segment means in dB; the interval needs enough segments on both sides."""
    before, after = sign * before, sign * after
    both = len(before) and len(after)
    found = _compared(before, after, settings)
    return Change(
        condition=name,
        before_db=float(before.mean()) if len(before) else None,
        after_db=float(after.mean()) if len(after) else None,
        change_db=float(after.mean() - before.mean()) if both else None,
        low_db=found and float(found.low),
        high_db=found and float(found.high),
        p=found and float(found.p),
    )


def _compared(
    before: np.ndarray, after: np.ndarray, settings: InsightSettings
) -> Comparison | None:
    """None where there is too little, or nothing that varies, to say how sure a difference is."""
    if not _enough((before, after), settings):
        return None
    found = compare(before, after, settings.change_cosines)
    return found if np.isfinite(found.low) else None


def _enough(sides: Sequence[np.ndarray], settings: InsightSettings) -> bool:
    return min(map(len, sides)) >= settings.segments_min


def _measure(
    around: Break, timeline: Timeline, i: int, name: str, settings: InsightSettings
) -> Change:
    """Over the threshold at the start of the block before, on both sides."""
    before = known_db(timeline, i, around.before, None)
    at = np.searchsorted(timeline.times_s, around.before.start_s - 1e-9)
    over = float(timeline.threshold[i, at]) if len(before) else 1.0
    sides = [known_db(timeline, i, b, over) for b in (around.before, around.after)]
    return change(name, *_means(sides, timeline, settings), settings)


def _distance(
    around: Break, timeline: Timeline, i: int, name: str, settings: InsightSettings
) -> Change:
    sides = [known_db(timeline, i, b, None) for b in (around.before, around.after)]
    sign = 1.0 if timeline.directions[i] == "above" else -1.0
    return change(name, *_means(sides, timeline, settings), settings, sign)


def _in_target(
    around: Break,
    timeline: Timeline,
    shares: dict[int, float | None],
    settings: InsightSettings,
) -> ShareChange:
    """All from the same segments; where they are too few, the blocks' shares alone."""
    sides = [rewarded(timeline, b) for b in (around.before, around.after)]
    means = _means(sides, timeline, settings)
    if not _enough(means, settings):
        before, after = shares[around.before.index], shares[around.after.index]
        change = None if before is None or after is None else after - before
        return ShareChange(before=before, after=after, change=change, low=None, high=None)
    found = compare_shares(*means, settings.change_cosines)
    return ShareChange(
        before=float(means[0].mean()),
        after=float(means[1].mean()),
        change=found.change,
        low=found.low,
        high=found.high,
        p=found.p,
    )


def _means(
    sides: Sequence[np.ndarray], timeline: Timeline, settings: InsightSettings
) -> list[np.ndarray]:
    length = steps_in(settings.segment_s, timeline)
    return [segment_means(side, length, settings.segment_known) for side in sides]


def break_results(
    timeline: Timeline,
    blocks: Sequence[Block],
    results: Sequence[BlockResult],
    elsewhere: Callable[[Break], Elsewhere | None],
    settings: InsightSettings,
) -> tuple[BreakResult, ...]:
    """All breaks of a sitting; `elsewhere` says what all regions did over one."""
    found = [
        break_result(around, timeline, results, elsewhere(around), settings)
        for around in breaks_of(blocks, results)
    ]
    rate = settings.false_discovery_rate
    held = (
        clear_ones([getattr(b, part) for b in found], rate) for part in ("changes", "distances")
    )
    return tuple(
        b.model_copy(update={"changes": changes, "distances": distances})
        for b, changes, distances in zip(found, *held, strict=True)
    )


def clear_ones(
    breaks: Sequence[Sequence[Change]], false_discovery_rate: float
) -> list[tuple[Change, ...]]:
    """Changes of each break, marked where they hold the rate over all of them.

    Benjamini & Hochberg 1995, J R Stat Soc B 57:289: the more is looked at, the more is
    asked for. Without it one of six comparisons says 'changed' in a fifth of all sittings
    in which nothing did.
    """
    p = [c.p for changes in breaks for c in changes if c.p is not None]
    limit = _largest_held(np.array(p), false_discovery_rate)
    return [
        tuple(c.model_copy(update={"clear": c.p is not None and c.p <= limit}) for c in changes)
        for changes in breaks
    ]


def _largest_held(p: np.ndarray, rate: float) -> float:
    """The largest p that holds the rate, below 0 where none does."""
    held = p[false_discovery_control(p) <= rate] if p.size else p
    return float(held.max(initial=-1.0))
