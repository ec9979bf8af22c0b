"""Rows of the clinician's tables on changes, chance, what-if and advice."""

from aftersit.clock import clock
from aftersit.pages import reasons
from aftersit.pages.format import (
    MINUS,
    NONE,
    band,
    count,
    db,
    interval_db,
    interval_percent,
    join,
    length,
    number,
    percent,
    probability,
    region,
    significant,
    unit,
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


def reward_off(replay: Replayed) -> Rows:
    """What was higher while the reward stayed off, bands that no condition hears first."""
    found = replay.record.insight.reward_off
    higher = [c for c in found.found if c.higher_db > 0] if found else []
    ranked = sorted(higher, key=lambda c: bool(c.heard_by))  # else as they are, the surest first
    rows = [
        (
            region(c.place),
            f"{c.band} {band(c.band_hz)}",
            db(c.higher_db),
            interval_db(c.low_db, c.high_db),
            probability(c.q),
            join(list(c.heard_by)) or NONE,
        )
        for c in ranked[:MOST_ROWS]
    ]
    if len(ranked) > MOST_ROWS:
        rows.append((f"and {len(ranked) - MOST_ROWS} more", *[NONE] * 5))
    return rows


def by_chance(replay: Replayed) -> Rows:
    """What was, and what chance would have given."""
    found = replay.record.insight.chance
    rows = [
        (
            "as it was",
            percent(found.together_share),
            percent(found.reward_share),
            length(found.longest_bout_s),
            NONE,
        )
    ]
    for words, expected in (
        ("if unrelated", found.unrelated),
        ("by leakage alone", found.only_leakage),
    ):
        if expected:
            between = interval_percent(expected.together_low, expected.together_high)
            rows.append(
                (
                    words,
                    f"{percent(expected.together_share)} ({between})",
                    percent(expected.reward_share),
                    length(expected.longest_bout_s),
                    probability(expected.p),
                )
            )
    if base := found.baseline:
        longest = length(base.longest_bout_s)
        rows.append(("in the baseline", NONE, percent(base.reward_share), longest, NONE))
    return rows


STEPS_DB = (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0)
"""Moves that the page prints; the record has more."""


def what_if_heads() -> list[str]:
    """The moves of the what-if table."""
    return ["as it was" if step == 0 else db(step) for step in STEPS_DB]


def what_if(replay: Replayed) -> Rows:
    """Time in target with one threshold moved."""
    rows = []
    for found in replay.record.insight.what_if:
        rates = dict(zip(found.stricter_db, found.reward_share, strict=True))
        rows.append((found.condition, *(percent(rates.get(step)) for step in STEPS_DB)))
    return rows


def not_moved(replay: Replayed) -> str:
    """Which thresholds no what-if moves, and why."""
    own = [c.name for c in replay.record.conditions if c.rule == "adaptive" and not c.refused]
    if not own:
        return ""
    return (
        f"Left out: {join(own)}. A threshold that sets itself takes another path when it starts "
        "elsewhere, which no shift of this one tells."
    )


def what_if_both(replay: Replayed) -> tuple[list[str], Rows]:
    """Time in target with two thresholds moved: heads, and a row for each move of the first."""
    found = replay.record.insight.what_if_both
    if found is None:
        return [], []
    first, second = found.conditions
    shown = [found.stricter_db.index(s) for s in STEPS_DB if s in found.stricter_db]
    moves = [db(found.stricter_db[i]) for i in shown]
    rows = [
        (f"{first} {move}", *(percent(found.reward_share[i][j]) for j in shown))
        for i, move in zip(shown, moves, strict=True)
    ]
    return ["Thresholds", *(f"{second} {move}" for move in moves)], rows


def advised(replay: Replayed) -> Rows:
    """Thresholds that would have given the target rate."""
    conditions = replay.conditions
    return [
        (
            t.condition,
            f"{db(t.stricter_db)}{', held back' if t.limited else ''}",
            db(t.db_over_baseline),
            interval_db(t.low_db, t.high_db),
            f"{significant(t.value)} {unit(conditions[t.condition].unit)}",
            percent(t.met_share),
        )
        for t in replay.record.insight.advice.thresholds
    ]


def survival(replay: Replayed) -> Rows:
    """Share of bouts that go on beyond a length."""
    found = replay.record.insight.survival
    return [
        (length(s.length_s), percent(s.share), interval_percent(s.low, s.high))
        for s in (found.still_on if found else ())
    ]


def survival_caption(replay: Replayed) -> str:
    """How many bouts there were, and how many were cut short."""
    found = replay.record.insight.survival
    if found is None:
        return ""
    median = f"; half last longer than {length(found.median_s)}" if found.median_s else ""
    return (
        f"How long bouts go on ({count(found.bouts, 'bout')}, {found.cut} of them cut short and "
        f"counted as lasting at least so long{median})"
    )


def lost(replay: Replayed) -> Rows:
    """Uncleaned reward that went, by what took it."""
    found = replay.record.insight.lost.by_reason_s
    ranked = sorted(found.items(), key=lambda item: -item[1])
    return [(reasons.plain(reasons.LOST, code), length(seconds)) for code, seconds in ranked]


def room(replay: Replayed) -> Rows:
    """Both replays against the room's log."""
    return [
        (
            a.replay,
            percent(a.replayed_share),
            percent(a.logged_share),
            number(a.kappa, 2),
            length(a.lag_s) if a.lag_s is None or a.lag_s >= 0 else f"{MINUS}{length(-a.lag_s)}",
            number(a.kappa_at_lag, 2),
            f"{a.missed_bouts} of {a.logged_bouts}",
            f"{a.extra_bouts} of {a.replayed_bouts}",
        )
        for a in replay.record.insight.agreement
    ]
