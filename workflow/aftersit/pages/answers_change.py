"""The answer to 'what changed after each break?': direction, size, interval, never a cause."""

from collections import Counter
from collections.abc import Iterable

from aftersit.clock import clock
from aftersit.findings import BreakResult, Change
from aftersit.pages.format import band, db, db_size, interval_db, join, percent
from aftersit.pages.inputs import Replayed

Parts = tuple[str, str, tuple[str, ...]]


def breaks(replay: Replayed) -> Parts:
    """What changed after each break."""
    question = "What changed after each break?"
    found = replay.record.breaks
    if not found:
        return question, "There was no break with practice on both sides.", ()
    told = [text for b in found if (text := _clear_changes(b, len(found) > 1))]
    if told:
        lead = " ".join((*told, "A change, not its cause."))
    elif any(is_borderline(c) for b in found for c in b.changes):
        lead = "No clear change: what differs could come by chance among so many comparisons."
    else:
        lead = "No sign of a change beyond how much the signal varies by itself."
    return question, lead, tuple(text for b in found for text in _break_sentences(b))


def _clear_changes(found: BreakResult, several: bool) -> str:
    """Direction, size and interval of what changed over one break; empty when nothing did."""
    clear = [c for c in found.changes if is_clear(c)]
    if not clear:
        return ""
    changed = [
        f"{c.condition} {'rose' if c.change_db > 0 else 'fell'} by {db_size(c.change_db)} "
        f"({_interval(c)})"
        for c in clear
    ]
    where = f"Break at {clock(found.start_s)}: " if several else ""
    return (
        f"{where}{join(changed)}; in target {percent(found.in_target.before)} before, "
        f"{percent(found.in_target.after)} after."
    )


def _interval(change: Change) -> str:
    return f"95 % interval {interval_db(change.low_db, change.high_db)}"


def is_clear(change: Change) -> bool:
    """Whether a change holds among all that were looked for, and leaves out zero as printed."""
    return change.clear and not _ends_at_zero(change)


def is_borderline(change: Change) -> bool:
    """Whether the 95 % interval leaves out zero, but not clearly so.

    It would not hold among all that were looked for, or prints as ending at zero.
    """
    return leaves_out_zero(change) and not is_clear(change)


def leaves_out_zero(change: Change) -> bool:
    """Whether the 95 % interval of a change leaves out zero."""
    if change.low_db is None or change.high_db is None:
        return False
    return change.low_db > 0 or change.high_db < 0


def _ends_at_zero(change: Change) -> bool:
    return 0 in (round(change.low_db, 1), round(change.high_db, 1))


def _break_sentences(found: BreakResult) -> list[str]:
    lead = (
        f"Break at {clock(found.start_s)}: in target {percent(found.in_target.before)} before, "
        f"{percent(found.in_target.after)} after."
    )
    return [lead, *[_change_sentence(c) for c in found.changes], *_elsewhere(found)]


def _elsewhere(found: BreakResult) -> list[str]:
    """How many of all regions and bands changed, and in which bands."""
    scan = found.elsewhere
    if scan is None:
        return []
    tested = f"Of {scan.tested} pairs of region and band"
    if not scan.found:
        return [f"{tested}, none changed beyond what so many tests give by chance."]
    named = counted(
        f"{'up' if c.change_db > 0 else 'down'} in {c.band} ({band(c.band_hz)})" for c in scan.found
    )
    return [
        f"{tested}, {len(scan.found)} changed: {named}. Regions hear each other, so that one "
        "change shows in several; fast bands may be muscle."
    ]


def counted(words: Iterable[str]) -> str:
    """How often each of these stands there, the most frequent first."""
    return join([f"{n} {word}" for word, n in Counter(words).most_common()])


def _change_sentence(change: Change) -> str:
    if change.change_db is None:
        return f"{change.condition}: not enough known time on both sides."
    verdict = "" if is_clear(change) else "; no clear change"
    verdict = "; borderline" if is_borderline(change) else verdict
    return f"{change.condition}: {db(change.change_db)} ({_interval(change)}){verdict}."
