"""From a sitting's patterns and its protocol to bursts with known times and levels."""

from dataclasses import dataclass

import numpy as np

from aftersit.clock import seconds
from aftersit.protocol import Condition, ElectrodePlace, Protocol
from aftersit.protocol_rules import BaselineThreshold
from demo_clinic.bursts import level_for_rise
from demo_clinic.noise import generator
from demo_clinic.sitting import Block, Pattern, Sitting
from demo_clinic.sources import Sources
from demo_clinic.spans import Span, alternating, complement, intersection

JITTER_S = 0.8
"""Conditions that share a pattern start and stop this far apart at most."""
RISE_WITHOUT_BASELINE_DB = 4.0
"""Rise over the background where a threshold is a plain number."""

LEAST_RISE_DB = 0.3


@dataclass(frozen=True)
class Burst:
    """Activity for one condition in one stretch of the sitting.

    `met` are the times at which the condition is meant to hold, `active` those
    at which its region carries extra activity: the same for a condition that
    asks for more, the rest of the time for one that asks for less.
    """

    condition: str
    region: str
    hemisphere: str
    band_hz: tuple[float, float]
    eyes: str
    met: tuple[Span, ...]
    active: tuple[Span, ...]
    rise_db: float
    reached: bool


def block_span(block: Block) -> Span:
    """Start and end in seconds."""
    return seconds(block.start), seconds(block.end)


def place_of(condition: Condition, sources: Sources) -> tuple[str, str]:
    """Region and side that will burst; for electrodes, the region that they hear most alone."""
    if isinstance(condition.where, ElectrodePlace):
        return sources.region_heard_at(condition.where.electrodes), "both"
    return condition.where.region, condition.where.hemisphere


def rise_of(condition: Condition, pattern: Pattern) -> float:
    """How far extra activity lifts the band over the background, in dB.

    A condition that asks for more than the baseline is lifted past its
    threshold by the pattern's margin. One that asks for less rests on activity
    that goes away.
    """
    if not isinstance(condition.threshold, BaselineThreshold):
        return RISE_WITHOUT_BASELINE_DB
    threshold = condition.threshold.db_over_baseline
    further = -threshold if is_release(condition) else threshold
    return max(further + pattern.margin_db, LEAST_RISE_DB)


def _jittered(rng: np.random.Generator, spans: list[Span]) -> list[Span]:
    moves = rng.uniform(0, JITTER_S, (len(spans), 2))
    return [
        (round(a - early, 3), round(b + late, 3))
        for (a, b), (early, late) in zip(spans, moves, strict=True)
    ]


def _pattern(block: Block, index: int) -> Pattern | None:
    """A condition's pattern: its own, or the last one, which the others share."""
    return block.patterns[min(index, len(block.patterns) - 1)]


def met_spans(
    sitting: Sitting, number: int, block: Block, n_conditions: int, seed: int
) -> list[list[Span] | None]:
    """For each condition of a block when it is meant to hold; None without a pattern."""
    out: list[list[Span] | None] = []
    for index in range(n_conditions):
        own = min(index, len(block.patterns) - 1)
        pattern = block.patterns[own]
        rng = generator(seed, sitting.upload, f"block {number} pattern {own}")
        spans = pattern and alternating(rng, block_span(block), pattern.on_s, pattern.off_s, 2.0)
        jitter = generator(seed, sitting.upload, f"block {number} condition {index}")
        out.append(None if spans is None else _jittered(jitter, spans))
    return out


def bursts_of(sitting: Sitting, protocol: Protocol, sources: Sources, seed: int) -> list[Burst]:
    """All bursts of a sitting, block by block and condition by condition."""
    found = []
    for number, block in enumerate(sitting.blocks, 1):
        conditions = protocol.conditions
        met = met_spans(sitting, number, block, len(conditions), seed)
        for index, condition in enumerate(conditions):
            pattern = _pattern(block, index)
            found.append(_burst(sitting, block, condition, pattern, met[index], sources))
    return [burst for burst in found if burst.active]


def is_guard(condition: Condition) -> bool:
    """Whether a condition only forbids too much: it holds unless something comes on top.

    Such as quiet temples: what breaks it is jaw muscle, not the brain, so the
    brain does nothing for it.
    """
    return condition.direction == "below" and not is_release(condition)


def is_release(condition: Condition) -> bool:
    """Whether a condition asks for less than the baseline, so that activity must go away."""
    threshold = condition.threshold
    return (
        condition.direction == "below"
        and isinstance(threshold, BaselineThreshold)
        and threshold.db_over_baseline < 0
    )


def is_reached(pattern: Pattern | None) -> bool:
    """Whether a condition with this pattern ever gets past its threshold."""
    return pattern is not None and pattern.margin_db > 0


def _burst(
    sitting: Sitting,
    block: Block,
    condition: Condition,
    pattern: Pattern | None,
    met: list[Span] | None,
    sources: Sources,
) -> Burst:
    region, hemisphere = place_of(condition, sources)
    active = met or []
    if is_release(condition):
        active = complement(met or [], block_span(block))
    return Burst(
        condition=condition.name,
        region=region,
        hemisphere=hemisphere,
        band_hz=condition.band_hz,
        eyes=block.eyes or sitting.eyes,
        met=tuple(met or []) if is_reached(pattern) else (),
        active=() if is_guard(condition) else tuple(active),
        rise_db=rise_of(condition, pattern or Pattern(1, 1)),
        reached=is_reached(pattern),
    )


def level_of(burst: Burst) -> float:
    """Level in dB over the background; see `bursts.level_for_rise`."""
    return level_for_rise(burst.rise_db)


def target_spans(sitting: Sitting, protocol: Protocol, seed: int) -> list[tuple[int, list[Span]]]:
    """For each practice block (number from 1) when the brain meets all conditions together.

    Guards are left out: what breaks them stands in the truth as muscle.
    """
    practice = [(n, b) for n, b in enumerate(sitting.blocks, 1) if b.kind == "practice"]
    return [
        (number, _together(sitting, number, block, protocol, seed)) for number, block in practice
    ]


def _together(
    sitting: Sitting, number: int, block: Block, protocol: Protocol, seed: int
) -> list[Span]:
    spans = [block_span(block)]
    met = met_spans(sitting, number, block, len(protocol.conditions), seed)
    for index, condition in enumerate(protocol.conditions):
        if not is_guard(condition):
            own = met[index] if is_reached(_pattern(block, index)) else []
            spans = intersection(spans, own)
    return spans


def tiles(spans: list[Span], within: Span) -> list[dict]:
    """`within` cut without gaps into stretches in and out of the target."""
    marked = [(a, b, True) for a, b in spans]
    marked += [(a, b, False) for a, b in complement(spans, within)]
    return [{"start_s": a, "stop_s": b, "in_target": t} for a, b, t in sorted(marked)]
