"""Rules that keep clinician's report, handout and digest from reading too much into a record.

Every limit is our own choice; none has a source.
"""

from aftersit.record import Record

MOSTLY_REMOVED = 0.5
"""Share of the uncleaned reward gone after cleaning from which little can be said."""
FAR_APART = 0.2
"""Difference in time in target, cleaned and uncleaned, that is told in the first sentence."""
RARE = 0.1
"""Time in target below which short bouts are no more than crossings."""
CROSSING_WINDOWS = 2.0
"""A bout of up to this many moving means is a crossing: a signal that hovers under its
threshold makes such bouts by itself."""
DROWSY_REWARD = 0.2
"""Share of the reward inside suspected drowsy spans from which the goal time is told with care."""


def mostly_removed(record: Record) -> bool:
    """Whether cleaning took most of the reward."""
    share = record.removed_reward_share
    return share is not None and share >= MOSTLY_REMOVED


def only_crossings(record: Record) -> bool:
    """Whether the reward was rare and never lasted longer than smoothing alone explains."""
    result = record.cleaned
    windows = [2 * c.smoothing_delay_s for c in record.conditions if c.smoothing_delay_s]
    if result is None or not windows or not result.in_target_share or not result.longest_bout_s:
        return False
    short = result.longest_bout_s <= CROSSING_WINDOWS * max(windows)
    return short and result.in_target_share < RARE


def gained_by_cleaning(record: Record) -> float | None:
    """Share of known time in target after cleaning less that without; None when not known."""
    shares = [r.in_target_share if r else None for r in (record.cleaned, record.uncleaned)]
    return None if None in shares else shares[0] - shares[1]


def far_apart(record: Record) -> bool:
    """Whether cleaned and uncleaned signal tell different stories."""
    gained = gained_by_cleaning(record)
    return gained is not None and abs(gained) >= FAR_APART


def eyes_differ(record: Record) -> bool:
    """Whether a threshold rests on a baseline with the eyes the other way."""
    return any("baseline-eyes-differ" in c.cautions for c in record.conditions)
