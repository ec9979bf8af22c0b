"""Rows of the progress page's tables."""

from aftersit.pages import reasons
from aftersit.pages.answers_muscle import findings_of
from aftersit.pages.format import (
    NONE,
    day,
    db,
    interval_db,
    interval_percent,
    join,
    length,
    percent,
)
from aftersit.pages.progress_inputs import ProgressInputs, Sitting
from aftersit.pages.rules import threshold_words
from aftersit.record import Record

Rows = list[tuple[str, ...]]


def yardstick_heads(inputs: ProgressInputs) -> list[str]:
    """Heads of the table of what the yardstick shows."""
    levels = [f"{c.name} over baseline" for c in inputs.used.conditions]
    return ["Sitting", "Date", "In target (95 %)", "Longest", "Bouts", "Known", *levels, "Compared"]


def on_yardstick(inputs: ProgressInputs) -> Rows:
    """Each sitting on the yardstick."""
    return [_on_yardstick(s, inputs) for s in inputs.sittings]


def _on_yardstick(sitting: Sitting, inputs: ProgressInputs) -> tuple[str, ...]:
    found = sitting.measured
    date = day(sitting.date, inputs.clinic.language)
    why = "yes" if sitting.counts else reasons.plain(reasons.NOT_COUNTED, sitting.why_not)
    if found is None:
        gaps = [NONE] * (4 + len(inputs.used.conditions))
        return (sitting.label, date, *gaps, why)
    interval = interval_percent(found.low, found.high)
    share = percent(found.share) + ("" if interval == NONE else f" ({interval})")
    levels = [_level(found.levels[c.name]) for c in inputs.used.conditions]
    bouts = str(found.bouts)
    return (
        sitting.label,
        date,
        share,
        length(found.longest_s),
        bouts,
        length(found.known_s),
        *levels,
        why,
    )


def _level(level) -> str:
    interval = interval_db(level.low_db, level.high_db)
    return db(level.db) + ("" if interval == NONE else f" ({interval})")


def as_set(inputs: ProgressInputs) -> Rows:
    """Each sitting with its own protocol and thresholds, and how good it was."""
    return [
        (
            s.label,
            s.practice.value.replace("-", " "),
            f"{r.protocol.name} v{r.protocol.version}",
            "; ".join(f"{c.name} {c.direction} {threshold_words(c)}" for c in r.conditions),
            percent(r.cleaned.in_target_share) if r.cleaned else NONE,
            _usable(r),
            join(sorted(r.quality.bad_electrodes)) or "none",
            _signs(r),
        )
        for s in inputs.sittings
        for r in s.own
    ]


def _usable(record: Record) -> str:
    quality = record.quality
    return f"{percent(quality.usable_s / quality.duration_s)} of {length(quality.duration_s)}"


def _signs(record: Record) -> str:
    muscle = any(f.finding.verdict == "suspect" for f in findings_of(record))
    drowsy = any(b.verdict == "suspect" for b in record.drowsiness.blocks)
    found = ["muscle"] * muscle + ["drowsiness"] * drowsy
    return join(found) or "no sign found"
