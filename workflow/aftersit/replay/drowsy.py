"""The rule that joins signs which often go with drowsiness, into spans and a verdict a block.

A step is suspect when, against the person's own level in this sitting and eyes state,

- eyes closed: alpha is out and theta is up, together by `together_db`; or
- eyes closed: the eyes roll slowly, and alpha is out or theta is up; or
- eyes open: the eyes roll slowly and theta is up (alpha is low then anyway).

No sign counts by itself: practice may raise theta, a protocol may reward it, and alpha
falls with many things. Suspicion is neither sleep nor a stage of it.
"""

from collections.abc import Sequence

from aftersit.blocks import Block
from aftersit.quality import DrowsySigns
from aftersit.record import (
    Bout,
    Drowsiness,
    DrowsyBlock,
    DrowsyReason,
    DrowsySpan,
    DrowsyVerdict,
)
from aftersit.replay import logic
from aftersit.replay.drowsy_steps import Steps, judge_steps
from aftersit.replay.settings import DrowsySettings
from aftersit.replay.spans import overlap_s

ROLLING_LIMITS: tuple[DrowsyReason, ...] = ("no-eye-electrodes", "slow-waves-not-recorded")


def drowsiness(
    signs: DrowsySigns,
    blocks: Sequence[Block],
    bouts: Sequence[Bout],
    settings: DrowsySettings,
) -> Drowsiness:
    """Judge a sitting.

    Parameters
    ----------
    signs : DrowsySigns
        What cleaning measured.
    blocks : sequence of Block
        All blocks; what lies outside of them is not judged.
    bouts : sequence of Bout
        Of the cleaned replay; empty where nothing was scored.
    """
    steps = judge_steps(signs, blocks, settings)
    spans = _spans(steps, settings)
    limits = [(s.start_s, s.stop_s) for s in spans]
    return Drowsiness(
        spans=spans,
        blocks=tuple(_block(b, steps, limits, bouts, settings) for b in blocks),
        reward_share=_share_inside(bouts, limits),
    )


def _spans(steps: Steps, settings: DrowsySettings) -> tuple[DrowsySpan, ...]:
    """Runs of suspect steps, near ones joined, short ones left out."""
    held = steps.suspect.copy()
    for start, stop in logic.runs(held):
        inside = start > 0 and stop < held.size
        if not held[start] and inside and (stop - start) * steps.step_s <= settings.bridge_s:
            held[start:stop] = True
    return tuple(
        DrowsySpan(
            start_s=round(start * steps.step_s, 6),
            stop_s=round(stop * steps.step_s, 6),
            signs=tuple(name for name, at in steps.signs.items() if at[start:stop].mean() >= 0.5),
        )
        for start, stop in logic.runs(held)
        if held[start] and (stop - start) * steps.step_s >= settings.shortest_s
    )


def _block(
    block: Block,
    steps: Steps,
    limits: list[tuple[float, float]],
    bouts: Sequence[Bout],
    settings: DrowsySettings,
) -> DrowsyBlock:
    own = [bout for bout in bouts if bout.block == block.index]
    looked_s = float(steps.looked[steps.inside(block)].sum() * steps.step_s)
    suspected_s = overlap_s(limits, block.start_s, block.stop_s)
    verdict, reasons = _verdict(block, steps, looked_s, suspected_s, settings)
    return DrowsyBlock(
        index=block.index,
        verdict=verdict,
        reasons=reasons,
        looked_s=looked_s,
        suspected_s=suspected_s,
        reward_share=_share_inside(own, limits),
    )


def _verdict(
    block: Block, steps: Steps, looked_s: float, suspected_s: float, settings: DrowsySettings
) -> tuple[DrowsyVerdict, tuple[DrowsyReason, ...]]:
    without = steps.without[block.eyes]
    rolling = tuple(code for code in without if code in ROLLING_LIMITS)
    # Half: a span may lie across the border of two blocks.
    if suspected_s >= settings.shortest_s / 2:
        return "suspect", rolling
    length_s = block.stop_s - block.start_s
    if looked_s < max(settings.looked_min_s, settings.looked_min_share * length_s):
        return "cant-tell", without or ("too-few-seconds",)
    if any(code not in ROLLING_LIMITS for code in without):
        return "cant-tell", without
    return "no-sign-found", rolling


def _share_inside(bouts: Sequence[Bout], limits: Sequence[tuple[float, float]]) -> float | None:
    """Part of the bouts' time inside spans; None without bouts."""
    total_s = sum(bout.stop_s - bout.start_s for bout in bouts)
    inside_s = sum(overlap_s(limits, bout.start_s, bout.stop_s) for bout in bouts)
    return inside_s / total_s if total_s > 0 else None
