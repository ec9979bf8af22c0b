"""Rows of the clinician's tables, already in words and units."""

from aftersit.clock import clock
from aftersit.findings import Change
from aftersit.pages import reasons
from aftersit.pages.answers_change import is_borderline, is_clear
from aftersit.pages.answers_muscle import verdict_words
from aftersit.pages.format import (
    NONE,
    db,
    interval_db,
    interval_percent,
    join,
    length,
    percent,
    place,
    significant,
    span,
    unit,
)
from aftersit.pages.inputs import Replayed, SittingInputs
from aftersit.pages.rules import band_words, combination_words, threshold_words
from aftersit.record import BlockResult, ConditionResult, DrowsyBlock
from aftersit.sheet import Kind, LiveThreshold

Rows = list[tuple[str, ...]]

AS_SHOWN = LiveThreshold.model_fields["unit"].default


def electrodes(inputs: SittingInputs) -> Rows:
    """Electrode left out, and why."""
    return [
        (e.name, join([reasons.plain(reasons.ELECTRODE, r) for r in e.reasons]) or NONE)
        for e in inputs.quality.electrodes
        if not e.good
    ]


def lost_by_reason(inputs: SittingInputs) -> Rows:
    """Reason, seconds."""
    lost = inputs.record.quality.bad_seconds
    return [(reasons.plain(reasons.SPAN, code), length(value)) for code, value in lost.items()]


def components(inputs: SittingInputs) -> Rows:
    """Label, found, removed, share of variance removed."""
    found = inputs.quality.components
    rows = []
    for label in dict.fromkeys(c.label for c in found):
        own = [c for c in found if c.label == label]
        removed = [c for c in own if c.removed]
        share = percent(sum(c.variance_share for c in removed)) if removed else NONE
        rows.append(
            (reasons.plain(reasons.COMPONENT, label), str(len(own)), str(len(removed)), share)
        )
    return rows


def blocks(inputs: SittingInputs) -> list[dict]:
    """Each block of the sitting with what was said about it and what was lost."""
    lost = inputs.record.quality.bad_seconds_by_block
    drowsy = {b.index: b for b in inputs.record.drowsiness.blocks}
    return [
        {
            "index": b.index,
            "kind": b.kind.value,
            "span": span(b.start_s, b.stop_s),
            "eyes": b.eyes,
            "lost": length(lost.get(str(b.index), 0.0)) if lost.get(str(b.index)) else NONE,
            "muscle": _muscle(inputs, b.index),
            "drowsy": _drowsy(drowsy.get(b.index)),
            "instruction": inputs.instruction(b.index) if b.kind is Kind.PRACTICE else None,
            "remark": inputs.remark(b.index),
            "live": _live(inputs, b.index),
        }
        for b in inputs.blocks
    ]


def _muscle(inputs: SittingInputs, block: int) -> str:
    """The verdict under each protocol that judged the block; one word where they agree."""
    words = [verdict_words(r.record, block) for r in inputs.replays]
    known = list(dict.fromkeys(w for w in words if w))
    return ", ".join(known) if known else NONE


def _drowsy(found: DrowsyBlock | None) -> str:
    if found is None:
        return NONE
    words = reasons.plain(reasons.VERDICT, found.verdict)
    return f"{words}, {length(found.suspected_s)}" if found.verdict == "suspect" else words


def _live(inputs: SittingInputs, index: int) -> list[str]:
    row = inputs.sheet_blocks.get(index)
    if not row:
        return []
    return [_live_threshold(t) for t in row.live_thresholds]


def _live_threshold(shown: LiveThreshold) -> str:
    """As the room showed it; without a unit where the sheet names none."""
    text = f"{shown.condition} {shown.value:g}"
    return text if shown.unit == AS_SHOWN else f"{text} {shown.unit}"


def scored(replay: Replayed) -> Rows:
    """Each scored block: both replays, bouts and lapses."""
    uncleaned = (
        {b.index: b for b in replay.record.uncleaned.blocks} if replay.record.uncleaned else {}
    )
    return [_scored(b, uncleaned.get(b.index)) for b in replay.record.cleaned.blocks if b.scored]


def _scored(block: BlockResult, uncleaned: BlockResult | None) -> tuple[str, ...]:
    return (
        str(block.index),
        span(block.start_s, block.stop_s),
        length(block.seconds.reward_s),
        _share_with_interval(block),
        percent(uncleaned.in_target_share) if uncleaned else NONE,
        str(block.bouts),
        length(block.longest_bout_s),
        length(block.median_bout_s),
        length(block.first_bout_after_s),
        length(block.median_lapse_s),
        length(block.seconds.not_known_s),
    )


def _share_with_interval(block: BlockResult) -> str:
    interval = interval_percent(block.in_target_low, block.in_target_high)
    share = percent(block.in_target_share)
    return share if interval == NONE else f"{share} ({interval})"


def condition_blocks(replay: Replayed) -> Rows:
    """Each condition in each scored block, dB relative to its threshold."""
    return [
        (
            c.name,
            str(b.index),
            _with_unit(c.threshold, replay.conditions[name].unit),
            percent(c.met_share),
            db(c.median_db),
            db(c.highest_db),
            percent(c.deciding_share),
        )
        for name in replay.conditions
        for b in replay.record.cleaned.blocks
        for c in b.conditions
        if b.scored and c.name == name
    ]


def conditions_caption(replay: Replayed) -> str:
    """What the table of conditions shows, and how they combine."""
    return (
        f"Conditions; {combination_words(replay.record)}. Threshold: of the last scored block; "
        "delay: of filter and averaging"
    )


def conditions(replay: Replayed) -> Rows:
    """Each condition as it was applied."""
    return [_condition(c, replay) for c in replay.record.conditions]


def _condition(c: ConditionResult, replay: Replayed) -> tuple[str, ...]:
    cleaned = replay.record.cleaned
    value = cleaned.thresholds.get(c.name) if cleaned else None
    state = f"refused: {reasons.why_and_what(reasons.REFUSED, c.refused)[0]}" if c.refused else ""
    notes = [reasons.plain(reasons.CAUTION, code) for code in c.cautions]
    return (
        c.name,
        place(c.place, c.kind),
        band_words(c),
        f"{c.direction} {threshold_words(c)}",
        _with_unit(value, c.unit),
        _delay(c),
        state or join(notes) or "applied",
    )


def _with_unit(value: float | None, of: str) -> str:
    return NONE if value is None else f"{significant(value)} {unit(of)}"


def _delay(c: ConditionResult) -> str:
    """How late the value is: the band's filter and the moving mean."""
    if c.filter_delay_s is None:
        return NONE
    delay_s = c.filter_delay_s + (c.smoothing_delay_s or 0.0)
    return f"{delay_s * 1000:.0f} ms"


def changes(replay: Replayed) -> Rows:
    """Before and after each break."""
    return [
        (
            clock(found.start_s),
            c.condition,
            db(c.before_db),
            db(c.after_db),
            db(c.change_db),
            interval_db(c.low_db, c.high_db),
            _reading(c),
        )
        for found in replay.record.breaks
        for c in found.changes
    ]


def _reading(change: Change) -> str:
    if change.change_db is None:
        return NONE
    if is_borderline(change):
        return "borderline"
    return "changed" if is_clear(change) else "no sign of a change"
