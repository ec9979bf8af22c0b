"""Which sittings of a client are compared with each other, and why others are not."""

from collections import Counter
from collections.abc import Sequence
from typing import Literal

from aftersit.pages.cautious import eyes_differ, mostly_removed
from aftersit.record import Record

LEFT_OUT_AT_MOST = 2
"""Electrodes by which a sitting may differ from the usual set and still count. A region is
seen through all electrodes at once, so that each one less changes what is heard a little; two
of 19 is our own choice, without a source."""

NotCounted = Literal[
    "not-measured", "not-scored", "eyes-differ", "mostly-removed", "electrodes-differ"
]


def usual_electrodes(records: Sequence[Record]) -> frozenset[str]:
    """The set of good electrodes that most scored sittings share; of ties the earliest."""
    sets = [frozenset(r.quality.good_electrodes) for r in records if r.status == "scored"]
    return Counter(sets).most_common(1)[0][0] if sets else frozenset()


def why_not_counted(record: Record, usual: frozenset[str]) -> NotCounted | None:
    """Why a sitting is shown but not compared; None when it is."""
    if record.status != "scored" or record.cleaned is None:
        return "not-scored"
    if eyes_differ(record):
        return "eyes-differ"
    if mostly_removed(record):
        return "mostly-removed"
    differ = usual ^ frozenset(record.quality.good_electrodes)
    return "electrodes-differ" if len(differ) > LEFT_OUT_AT_MOST else None
