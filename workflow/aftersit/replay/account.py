"""The cleaning account in short, as the record keeps it."""

from collections import Counter
from collections.abc import Sequence

from aftersit.blocks import Block
from aftersit.quality import Quality
from aftersit.record import QualitySummary
from aftersit.replay.spans import merged, overlap_s


def quality_summary(quality: Quality, blocks: Sequence[Block]) -> QualitySummary:
    """Figures of the cleaning account that pages and comparisons need."""
    spans = merged(quality.bad_spans)
    removed = Counter(c.label for c in quality.components if c.removed)
    return QualitySummary(
        rate_hz=quality.rate_hz,
        duration_s=quality.duration_s,
        usable_s=quality.usable_s,
        mains_hz=quality.mains_hz,
        carried_low_hz=quality.carried.low_hz,
        carried_high_hz=quality.carried.high_hz,
        good_electrodes=tuple(quality.good),
        bad_electrodes={e.name: e.reasons for e in quality.electrodes if not e.good},
        components_removed=dict(sorted(removed.items())),
        bad_seconds=_seconds_by_reason(quality),
        bad_seconds_by_block={str(b.index): overlap_s(spans, b.start_s, b.stop_s) for b in blocks},
    )


def _seconds_by_reason(quality: Quality) -> dict[str, float]:
    reasons = sorted({s.reason for s in quality.bad_spans})
    return {
        reason: sum(b - a for a, b in merged([s for s in quality.bad_spans if s.reason == reason]))
        for reason in reasons
    }
