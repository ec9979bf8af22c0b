"""Answers of one replay: when in target, what kept the reward away, what changed."""

from collections.abc import Iterator

from aftersit.clock import clock
from aftersit.pages.format import (
    band,
    count,
    db,
    db_size,
    interval_db,
    join,
    length,
    percent,
    place,
)
from aftersit.pages.inputs import Replayed
from aftersit.record import (
    BlockResult,
    BreakResult,
    Change,
    ConditionInBlock,
    ConditionResult,
    ReplayResult,
)

RARELY = 0.05
"""Met less than this share of the time counts as 'hardly ever' (our own choice)."""

Parts = tuple[str, str, tuple[str, ...]]


def reward_answers(replay: Replayed) -> list[Parts]:
    """Question, lead and details for everything that a scored replay answers."""
    return [target(replay), obstacle(replay), reach(replay), breaks(replay)]


def scored_blocks(result: ReplayResult) -> list[BlockResult]:
    """The blocks that count."""
    return [b for b in result.blocks if b.scored]


def known_s(block: BlockResult) -> float:
    """Seconds for which the reward is known."""
    return block.seconds.reward_s + block.seconds.no_reward_s


def target(replay: Replayed) -> Parts:
    """When and for how long in target; cleaned, and beside it uncleaned."""
    cleaned, uncleaned = replay.record.cleaned, replay.record.uncleaned
    blocks = scored_blocks(cleaned)
    reward_s = sum(b.seconds.reward_s for b in blocks)
    lead = (
        f"{percent(cleaned.in_target_share)} of the time that could be scored: "
        f"{length(reward_s)} of {length(sum(map(known_s, blocks)))}, "
        f"in {count(cleaned.bouts_total, 'bout')}"
    )
    if cleaned.longest_bout_s is not None:
        lead += f", the longest {length(cleaned.longest_bout_s)}"
    details = [_block_sentence(b) for b in blocks]
    if uncleaned is not None:
        details.append(_uncleaned_sentence(uncleaned, replay.record.removed_reward_share))
    return "When was the client in the target state?", f"{lead}.", tuple(details)


def _block_sentence(block: BlockResult) -> str:
    text = f"Block {block.index} (from {clock(block.start_s)}): {percent(block.in_target_share)}"
    text += f", {count(block.bouts, 'bout')}"
    if block.bouts:
        text += f", first after {length(block.first_bout_after_s)}"
        text += f", half of them longer than {length(block.median_bout_s)}"
    if block.median_lapse_s is not None:
        text += f"; back after {length(block.median_lapse_s)} in the median"
    return f"{text}."


def _uncleaned_sentence(uncleaned: ReplayResult, removed: float | None) -> str:
    text = (
        f"From the uncleaned signal, as a live system could have run it: "
        f"{percent(uncleaned.in_target_share)} in {count(uncleaned.bouts_total, 'bout')}"
    )
    if removed is not None:
        text += f"; {percent(removed)} of that reward time is gone after cleaning"
    return f"{text}."


def obstacle(replay: Replayed) -> Parts:
    """Which condition kept the reward away."""
    question = "What kept the reward away?"
    shares = deciding_shares(replay.record.cleaned)
    if not shares:
        return question, "Nothing: no time without reward could be scored.", ()
    several = several_share(replay.record.cleaned)
    name, share = max(shares.items(), key=lambda item: item[1])
    if len(shares) == 1:
        met = met_share([(b, c) for b, c in _in_blocks(replay.record.cleaned)])
        lead = (
            f"{named(replay.conditions[name])} is the only condition; it was met for "
            f"{percent(met)} of the time."
        )
        return question, lead, ()
    if share <= several:
        lead = f"Mostly more than one condition at once ({percent(several)} of unrewarded time)."
    else:
        lead = f"Mostly {name}: alone in the way for {percent(share)} of unrewarded time."
    ranked = sorted(shares.items(), key=lambda item: -item[1])
    details = [f"{named(replay.conditions[n])}: {percent(s)} alone." for n, s in ranked]
    details.append(f"More than one condition at once: {percent(several)}.")
    return question, lead, tuple(details)


def named(condition: ConditionResult) -> str:
    """A condition by name, place and band."""
    where = place(condition.place, condition.kind)
    return f"{condition.name} ({where}, {band(condition.band_hz)}, {condition.direction})"


def deciding_shares(result: ReplayResult) -> dict[str, float]:
    """Share of all unrewarded time in which each condition alone stood in the way."""
    total = sum(b.seconds.no_reward_s for b in scored_blocks(result))
    sums: dict[str, float] = {}
    for block, condition in _in_blocks(result):
        alone_s = (condition.deciding_share or 0.0) * block.seconds.no_reward_s
        sums[condition.name] = sums.get(condition.name, 0.0) + alone_s
    return {name: value / total for name, value in sums.items()} if total else {}


def several_share(result: ReplayResult) -> float:
    """Share of all unrewarded time in which more than one condition failed."""
    blocks = scored_blocks(result)
    total = sum(b.seconds.no_reward_s for b in blocks)
    failing = sum((b.several_failing_share or 0.0) * b.seconds.no_reward_s for b in blocks)
    return failing / total if total else 0.0


def _in_blocks(result: ReplayResult) -> Iterator[tuple[BlockResult, ConditionInBlock]]:
    for block in scored_blocks(result):
        for condition in block.conditions:
            yield block, condition


def reach(replay: Replayed) -> Parts:
    """Whether a threshold was out of reach, and how near it was."""
    question = "Was a threshold out of reach?"
    verdicts = {name: _verdict(replay, name) for name in replay.conditions}
    never = [n for n, (kind, _) in verdicts.items() if kind == "never"]
    rarely = [n for n, (kind, _) in verdicts.items() if kind == "rarely"]
    if never:
        lead = f"Yes: {join(never)} {_was(never)} never met."
    elif rarely:
        lead = f"Nearly: {join(rarely)} {_was(rarely)} met in less than {percent(RARELY)}."
    else:
        lead = "No: every condition was met for part of the time."
    return question, lead, tuple(text for _, text in verdicts.values() if text)


def _was(names: list[str]) -> str:
    return "was" if len(names) == 1 else "were"


def _verdict(replay: Replayed, name: str) -> tuple[str, str]:
    rows = [(b, c) for b, c in _in_blocks(replay.record.cleaned) if c.name == name]
    reached = [c.highest_db for _, c in rows if c.highest_db is not None]
    if not reached:
        return "unknown", f"{name}: not known in any block."
    share = met_share(rows)
    nearest = max(reached)
    if nearest <= 0:
        return "never", f"{name}: its nearest point stayed {db_size(nearest)} short."
    kind = "rarely" if share is not None and share < RARELY else "reached"
    return kind, f"{name}: met {percent(share)} of the time, at most {db(nearest)} past it."


def met_share(rows: list[tuple[BlockResult, ConditionInBlock]]) -> float | None:
    """Share of known time in which a condition was met, over its blocks."""
    known = [(known_s(b), c.met_share) for b, c in rows if c.met_share is not None]
    total = sum(weight for weight, _ in known)
    return sum(weight * share for weight, share in known) / total if total else None


def breaks(replay: Replayed) -> Parts:
    """What changed after each break."""
    question = "What changed after each break?"
    found = replay.record.breaks
    if not found:
        return question, "There was no break with practice on both sides.", ()
    clear = [c.condition for b in found for c in b.changes if is_clear(c)]
    if clear:
        names = join(list(dict.fromkeys(clear)))
        lead = f"{names} changed by more than the signal varies by itself."
    else:
        lead = "No sign of a change beyond how much the signal varies by itself."
    details = [text for b in found for text in _break_sentences(b)]
    details.append("This is a change, not a cause.")
    return question, lead, tuple(details)


def is_clear(change: Change) -> bool:
    """Whether the 95 % interval of a change leaves out zero."""
    if change.low_db is None or change.high_db is None:
        return False
    return change.low_db > 0 or change.high_db < 0


def _break_sentences(found: BreakResult) -> list[str]:
    lead = (
        f"Break at {clock(found.start_s)}: in target {percent(found.in_target_before)} before, "
        f"{percent(found.in_target_after)} after."
    )
    return [lead, *[_change_sentence(c) for c in found.changes]]


def _change_sentence(change: Change) -> str:
    if change.change_db is None:
        return f"{change.condition}: not enough known time on both sides."
    interval = interval_db(change.low_db, change.high_db)
    verdict = "" if is_clear(change) else "; no clear change"
    return f"{change.condition}: {db(change.change_db)} (95 % interval {interval}){verdict}."
