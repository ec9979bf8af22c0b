"""The figures of one sitting that a client is told, over all of its protocols."""

from collections.abc import Sequence
from dataclasses import dataclass

from aftersit.pages.cautious import only_crossings
from aftersit.record import BlockResult, Bout, Record


@dataclass(frozen=True)
class Tally:
    """Sums over the practice blocks that were scored, from the cleaned replays.

    Seconds; `scored_s` is the time with a known reward state, `removed_share`
    the largest among the protocols.
    """

    practice_s: float
    scored_s: float
    reward_s: float
    bouts: int
    longest_s: float
    removed_share: float | None
    muscle_or_eye: bool
    never_met: bool
    only_crossings: bool
    n_conditions: int
    drowsy_s: float
    drowsy_share: float
    muscle_suspect: bool
    """Seconds of the practice under suspicion of drowsiness, and the largest share of the
    reward that lies there; whether muscle is suspect in any block."""


def scored_blocks(records: Sequence[Record]) -> list[tuple[Record, BlockResult]]:
    """Scored blocks with the record each is told from: the first that scores it."""
    found: dict[int, tuple[Record, BlockResult]] = {}
    for record in records:
        for block in record.cleaned.blocks if record.cleaned else ():
            if block.scored:
                found.setdefault(block.index, (record, block))
    return [found[index] for index in sorted(found)]


def told_bouts(records: Sequence[Record]) -> list[Bout]:
    """Bouts of the scored blocks, in time order."""
    bouts = [
        bout
        for record, block in scored_blocks(records)
        for bout in record.cleaned.bouts
        if bout.block == block.index
    ]
    return sorted(bouts, key=lambda b: b.start_s)


def tally(records: Sequence[Record]) -> Tally | None:
    """Sum up a sitting; None when no protocol was scored."""
    told = scored_blocks([r for r in records if r.status == "scored"])
    if not told:
        return None
    used = list({r.protocol.name: r for r, _ in told}.values())
    bouts = told_bouts(used)
    removed = [r.removed_reward_share for r in used if r.removed_reward_share is not None]
    components = [r.quality.components_removed for r in used]
    return Tally(
        practice_s=sum(b.stop_s - b.start_s for _, b in told),
        scored_s=sum(b.seconds.reward_s + b.seconds.no_reward_s for _, b in told),
        reward_s=sum(b.seconds.reward_s for _, b in told),
        bouts=len(bouts),
        longest_s=max((b.stop_s - b.start_s for b in bouts), default=0.0),
        removed_share=max(removed, default=None),
        muscle_or_eye=any(c.get("muscle") or c.get("eye") for c in components),
        never_met=any(_never_met(r) for r in used),
        only_crossings=all(only_crossings(r) for r in used),
        n_conditions=max(len(r.conditions) for r in used),
        drowsy_s=_drowsy_s(told),
        muscle_suspect=any(
            f.finding.verdict == "suspect"
            for record, block in told
            for f in (record.muscle.earning if record.muscle else ())
            if f.block == block.index
        ),
        drowsy_share=max(r.drowsiness.reward_share or 0.0 for r in used),
    )


def _drowsy_s(told: Sequence[tuple[Record, BlockResult]]) -> float:
    return sum(
        found.suspected_s
        for record, block in told
        for found in record.drowsiness.blocks
        if found.index == block.index and found.verdict == "suspect"
    )


def _never_met(record: Record) -> bool:
    """Whether so many conditions stayed short of their thresholds that no reward was possible."""
    highest: dict[str, list[float]] = {}
    for block in record.cleaned.blocks:
        for c in block.conditions if block.scored else ():
            if c.highest_db is not None:
                highest.setdefault(c.name, []).append(c.highest_db)
    reached = sum(max(values) > 0 for values in highest.values())
    needed = len(highest) if record.needed is None else record.needed
    return bool(highest) and reached < needed
