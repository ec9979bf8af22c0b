"""Answers of one replay: when in target, what kept the reward away, what changed."""

from collections.abc import Iterator, Sequence

from aftersit.clock import clock
from aftersit.pages import reasons
from aftersit.pages.answers_change import breaks
from aftersit.pages.answers_drowsy import drowsy_share
from aftersit.pages.answers_insight import lost_sentence, off_sentence
from aftersit.pages.cautious import (
    eyes_differ,
    far_apart,
    gained_by_cleaning,
    only_crossings,
)
from aftersit.pages.format import (
    band,
    count,
    db,
    db_size,
    join,
    length,
    percent,
    place,
)
from aftersit.pages.inputs import Replayed
from aftersit.record import (
    BlockResult,
    ConditionInBlock,
    ConditionResult,
    Record,
    ReplayResult,
)

RARELY = 0.05
"""Met less than this share of the time counts as 'hardly ever' (our own choice)."""

FLICKER = 5
"""Bouts of a block from which their median length is judged (our own choice)."""

DROWSY_HZ = (4.0, 13.0)
"""Theta and alpha: they also change on the way to sleep."""

EYES = " With care: eyes differed between baseline and practice, which by itself moves the signal."

Parts = tuple[str, str, tuple[str, ...]]


def reward_answers(replay: Replayed) -> list[Parts]:
    """Question, lead and details for everything that a scored replay answers."""
    care = EYES if eyes_differ(replay.record) else ""
    cautious = [
        (question, f"{lead}{care}", details)
        for question, lead, details in (target(replay), obstacle(replay), reach(replay))
    ]
    return [*cautious, breaks(replay)]


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
    details += _flicker(blocks, replay)
    if uncleaned is not None:
        details.append(_uncleaned_sentence(uncleaned, replay.record))
    if replay.record.insight and (lost := lost_sentence(replay.record.insight)):
        details.append(lost)
    details += _left_out(replay.record)
    details += _drowsiness(replay.record)
    question = "When was the client in the target state?"
    return question, f"{lead}.{_room(replay.record)}", tuple(details)


def _drowsiness(record: Record) -> list[str]:
    """Where conditions hear theta or alpha, or reward lies in suspected seconds."""
    share = drowsy_share(record)
    if any(_may_be_drowsiness(c) for c in record.conditions):
        more = f": {share}" if share else "; see above for its signs"
        return [f"Theta and alpha also change with drowsiness{more}."]
    return [f"{share}."] if share else []


def _may_be_drowsiness(condition: ConditionResult) -> bool:
    low, high = condition.band_hz
    return low < DROWSY_HZ[1] and high > DROWSY_HZ[0]


def _room(record: Record) -> str:
    """What the room may have heard, where that is far from the cleaned signal's reward."""
    if not far_apart(record):
        return ""
    way = "less" if gained_by_cleaning(record) > 0 else "more"
    share = percent(record.uncleaned.in_target_share)
    return f" The uncleaned signal gives {share}: the room may have rewarded far {way}."


def _left_out(record: Record) -> list[str]:
    """The electrodes that cleaning left out, where cleaning changed the result."""
    bad = record.quality.bad_electrodes
    if not bad or not far_apart(record):
        return []
    named = [
        f"{name} ({join([reasons.plain(reasons.ELECTRODE, r) for r in why])})"
        for name, why in bad.items()
    ]
    return [f"Cleaning left out {join(named)}, which the room's system may have used."]


def _flicker(blocks: Sequence[BlockResult], replay: Replayed) -> list[str]:
    """A note on blocks whose bouts are no longer than onset and smoothing make them."""
    timing = replay.protocol.timing
    shortest_s = timing.onset_s + timing.smoothing_s
    short = [b for b in blocks if b.bouts >= FLICKER and _at_most(b.median_bout_s, shortest_s)]
    if not short:
        return []
    named = f"block{'s' if len(short) > 1 else ''} {join([str(b.index) for b in short])}"
    return [
        f"Most bouts of {named} are no longer than onset and smoothing together "
        f"({length(shortest_s)}): a signal that hovers at its threshold gives such flicker by "
        "itself, so their number says little."
    ]


def _at_most(value: float | None, most: float) -> bool:
    return value is not None and value <= most


def _block_sentence(block: BlockResult) -> str:
    text = f"Block {block.index} (from {clock(block.start_s)}): {percent(block.in_target_share)}"
    text += f", {count(block.bouts, 'bout')}"
    if block.bouts:
        text += f", first after {length(block.first_bout_after_s)}"
        text += f", half of them longer than {length(block.median_bout_s)}"
    if block.median_lapse_s is not None:
        text += f"; back after {length(block.median_lapse_s)} in the median"
    return f"{text}."


def _uncleaned_sentence(uncleaned: ReplayResult, record: Record) -> str:
    removed, gained = record.removed_reward_share, gained_by_cleaning(record)
    text = (
        f"From the uncleaned signal, as a live system could have run it: "
        f"{percent(uncleaned.in_target_share)} in {count(uncleaned.bouts_total, 'bout')}"
    )
    if removed is not None:
        text += f"; {percent(removed)} of that reward time is gone after cleaning{_aside(record)}"
        if removed and gained is not None and gained > 0:
            text += ", and more came in elsewhere"
    return f"{text}."


def _aside(record: Record) -> str:
    """Words for the uncleaned reward that can't be held against the cleaned replay."""
    cleaned, uncleaned = (
        {b.index for b in scored_blocks(found)} for found in (record.cleaned, record.uncleaned)
    )
    return "" if uncleaned <= cleaned else " (blocks not scored after it aside)"


def obstacle(replay: Replayed) -> Parts:
    """Which condition kept the reward away."""
    question, lead, details = _deciding(replay)
    found = replay.record.insight
    beside = off_sentence(found) if found else None
    return question, lead, (*details, beside) if beside else details


def _deciding(replay: Replayed) -> Parts:
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
    rest = 1 - several - sum(shares.values())
    if rest >= 0.005:
        details.append(f"All met, waiting for the onset: {percent(rest)}.")
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
    measured = [name for name, c in replay.conditions.items() if not c.refused]
    verdicts = {name: _verdict(replay, name) for name in measured}
    never = [n for n, (kind, _) in verdicts.items() if kind == "never"]
    rarely = [n for n, (kind, _) in verdicts.items() if kind == "rarely"]
    if never:
        lead = f"Yes: {join(never)} {_was(never)} never met."
    elif only_crossings(replay.record):
        longest = length(replay.record.cleaned.longest_bout_s)
        lead = (
            f"Nearly: only brief crossings, none longer than {longest}; a signal that hovers "
            "under its threshold gives these by itself."
        )
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
