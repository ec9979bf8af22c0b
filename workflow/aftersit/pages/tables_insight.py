"""Rows of the clinician's tables on changes, chance, what-if and advice."""

from aftersit.clock import clock
from aftersit.pages.format import (
    NONE,
    band,
    db,
    interval_db,
    interval_percent,
    percent,
    probability,
    region,
)
from aftersit.pages.inputs import Replayed

Rows = list[tuple[str, ...]]

MOST_ROWS = 12
"""Of a long list the page prints the surest; the record has all."""


def target_changes(replay: Replayed) -> Rows:
    """Time in target before and after each break."""
    return [
        (
            clock(b.start_s),
            f"{percent(b.in_target.before)} (block {b.before_block})",
            f"{percent(b.in_target.after)} (block {b.after_block})",
            interval_percent(b.in_target.low, b.in_target.high, signed=True),
            probability(b.in_target.p),
        )
        for b in replay.record.breaks
    ]


def elsewhere(replay: Replayed) -> Rows:
    """What else rose or fell over each break, the surest first."""
    rows = []
    for b in replay.record.breaks:
        found = b.elsewhere.found if b.elsewhere else ()
        rows += [
            (
                clock(b.start_s),
                region(c.place),
                f"{c.band} {band(c.band_hz)}",
                db(c.change_db),
                interval_db(c.low_db, c.high_db),
                probability(c.q),
            )
            for c in found[:MOST_ROWS]
        ]
        if len(found) > MOST_ROWS:
            more = f"and {len(found) - MOST_ROWS} more"
            rows.append((clock(b.start_s), more, NONE, NONE, NONE, NONE))
    return rows
