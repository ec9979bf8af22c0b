"""The figures of one record that a comparison is about."""

from collections.abc import Sequence

from aftersit.record import BlockResult, Record
from aftersit.record_muscle import worst

SEVERAL = "several at once"


def scored_blocks(record: Record) -> Sequence[BlockResult]:
    """Blocks of the cleaned replay that were scored."""
    return [b for b in record.cleaned.blocks if b.scored] if record.cleaned else []


def in_target_percent(record: Record) -> float | None:
    """Reward time over known time, cleaned, in percent."""
    share = record.cleaned.in_target_share if record.cleaned else None
    return None if share is None else 100 * share


def bouts(record: Record) -> int | None:
    """How many bouts there were, cleaned."""
    return record.cleaned.bouts_total if record.cleaned else None


def longest_bout_s(record: Record) -> float | None:
    """Length of the longest bout; 0 when there was none."""
    return (record.cleaned.longest_bout_s or 0.0) if record.cleaned else None


def deciding(record: Record) -> str | None:
    """The condition that alone kept the reward away for most of the unrewarded time.

    `several at once` where that is more; None where no time was unrewarded.
    """
    totals: dict[str, float] = {}
    for block in scored_blocks(record):
        parts = {c.name: c.deciding_share for c in block.conditions}
        parts[SEVERAL] = block.several_failing_share
        for name, share in parts.items():
            totals[name] = totals.get(name, 0.0) + (share or 0.0) * block.seconds.no_reward_s
    best = max(totals, key=totals.get, default=None)
    return best if best and totals[best] > 0 else None


def distances_db(record: Record) -> dict[str, float]:
    """Condition -> its median distance to the threshold, over blocks by their known time.

    Above 0 is met.
    """
    return _by_known_time(record, "median_db")


def met_percent(record: Record) -> dict[str, float]:
    """Condition -> percent of known time in which it was met."""
    return {name: 100 * share for name, share in _by_known_time(record, "met_share").items()}


def _by_known_time(record: Record, what: str) -> dict[str, float]:
    sums: dict[str, tuple[float, float]] = {}
    for block in scored_blocks(record):
        known_s = block.seconds.reward_s + block.seconds.no_reward_s
        for condition in block.conditions:
            value = getattr(condition, what)
            if value is not None and known_s > 0:
                total, weight = sums.get(condition.name, (0.0, 0.0))
                sums[condition.name] = (total + value * known_s, weight + known_s)
    return {name: total / weight for name, (total, weight) in sums.items()}


def muscle(record: Record) -> str | None:
    """The worst muscle verdict over scored blocks; None where nothing was judged."""
    if record.muscle is None or not scored_blocks(record):
        return None
    scored = {b.index for b in scored_blocks(record)}
    found = [f.finding.verdict for f in record.muscle.blocks if f.block in scored]
    return worst(found) if found else None
