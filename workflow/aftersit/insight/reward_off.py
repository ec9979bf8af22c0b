"""What was higher while the reward stayed off: all regions by standard bands, within blocks.

Windows of the cleaned signal, each with the part of it that was not rewarded, in scored
practice blocks. The same windows and the same false discovery rate as over a break (see
`aftersit.insight.elsewhere`); only what changes inside a block counts, so that blocks
that differ as a whole add nothing.

The reward itself chose these moments. Pairs of region and band that a condition is made
of differ by construction and are left out; what the conditions hear, all regions hear by
leakage, so that findings in a condition's band are marked. The reward follows the
signal by its delays, so that differences come out smaller than they were.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import stats

from aftersit.blocks import Block
from aftersit.findings import HigherWhileOff, RewardOff
from aftersit.head.atlas import half_keys
from aftersit.head.bands import Band
from aftersit.head.region_set import RegionSet
from aftersit.insight.elsewhere import RegionScan
from aftersit.insight.longrun import Comparison
from aftersit.insight.segments import rewarded
from aftersit.insight.settings import InsightSettings
from aftersit.insight.within import difference_within
from aftersit.protocol import Condition, ElectrodePlace
from aftersit.replay.run import rows_of
from aftersit.replay.timeline import Timeline


def reward_off(
    scan: RegionScan,
    timeline: Timeline,
    blocks: Sequence[Block],
    conditions: Sequence[Condition],
    regions: RegionSet,
    settings: InsightSettings,
) -> RewardOff | None:
    """Compare unrewarded with rewarded time; None where that can't be told.

    Too little of either is known, or one followed the other too seldom.

    Parameters
    ----------
    scan : RegionScan
        Of the cleaned signal.
    timeline : Timeline
        Of the cleaned replay.
    blocks : sequence of Block
        Those that are scored.
    conditions : sequence of Condition
        Those that are scored.
    """
    found = compared(scan, timeline, blocks, settings)
    tested = ~_made_of(scan, conditions, regions)
    if found is None or not tested.any():
        return None
    rate = settings.false_discovery_rate
    return RewardOff(
        rewarded_s=found.rewarded_s,
        unrewarded_s=found.unrewarded_s,
        tested=int(tested.sum()),
        left_out=int((~tested).sum()),
        false_discovery_rate=rate,
        found=tuple(_found(scan, found.difference, tested, conditions, rate)),
    )


@dataclass(frozen=True)
class Compared:
    """Every difference, arrays of shape (n_regions, n_bands), and the time it rests on."""

    difference: Comparison
    rewarded_s: float
    unrewarded_s: float


def compared(
    scan: RegionScan, timeline: Timeline, blocks: Sequence[Block], settings: InsightSettings
) -> Compared | None:
    """Unrewarded less rewarded time inside blocks; None where it can't be told."""
    known = [_known(scan.levels(b), unrewarded(timeline, b, settings.window_s)) for b in blocks]
    used = [(x, p) for x, p in known if len(p) > settings.share_cosines and np.ptp(p) > 0]
    off_s = float(sum(p.sum() for _, p in used) * settings.window_s)
    on_s = float(sum((1 - p).sum() for _, p in used) * settings.window_s)
    if min(off_s, on_s) < settings.segments_min * settings.segment_s:
        return None
    if sum(turns(p) for _, p in used) < settings.off_turns_min:
        return None
    levels, parts = zip(*used, strict=True)
    return Compared(difference_within(levels, parts, settings.share_cosines), on_s, off_s)


def unrewarded(timeline: Timeline, block: Block, window_s: float) -> np.ndarray:
    """Part of each window of a block without reward, NaN where it is not known throughout."""
    off, times = 1 - rewarded(timeline, block), timeline.times_s[rows_of(block, timeline.times_s)]
    count = int((block.stop_s - block.start_s) / window_s + 1e-6)
    edges = np.searchsorted(times, block.start_s + window_s * np.arange(count + 1) - 1e-9)
    return np.array([off[a:b].mean() if b > a else np.nan for a, b in pairwise(edges)])


def turns(part: np.ndarray) -> int:
    """How often windows that are mostly rewarded follow others or are followed by them."""
    return int(np.count_nonzero(np.diff(part > 0.5)))


def _known(levels: np.ndarray, part: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Windows of which both are known; a recording may end before its last block."""
    n = min(levels.shape[-1], len(part))
    kept = np.isfinite(part[:n]) & np.isfinite(levels[..., :n]).all(axis=(0, 1))
    return levels[..., :n][..., kept], part[:n][kept]


def _made_of(scan: RegionScan, conditions: Sequence[Condition], regions: RegionSet) -> np.ndarray:
    """Pairs that lie in a condition's own region and touch its band, (n_regions, n_bands)."""
    places = {c.name: _halves(c, regions) for c in conditions}
    return np.array(
        [
            [any(key in places[c.name] for c in _hearing(band, conditions)) for key, band in row]
            for row in scan.pairs
        ],
        dtype=bool,
    )


def _halves(condition: Condition, regions: RegionSet) -> set[str]:
    """The one-sided regions of a condition's place."""
    if isinstance(condition.where, ElectrodePlace):
        return set()
    inside = regions.halves(condition.where.key)
    return {key for key, own in zip(half_keys(), inside, strict=True) if own}


def _hearing(band: Band, conditions: Iterable[Condition]) -> list[Condition]:
    """Conditions that hear a part of a band."""
    low, high = band.limits_hz
    return [c for c in conditions if any(a < high and low < b for a, b in c.bands_hz)]


def _found(
    scan: RegionScan,
    found: Comparison,
    tested: np.ndarray,
    conditions: Sequence[Condition],
    rate: float,
) -> list[HigherWhileOff]:
    """What holds the false discovery rate, the surest first."""
    q = np.ones(tested.shape)
    q[tested] = stats.false_discovery_control(found.p[tested])
    at = sorted(np.argwhere(q <= rate).tolist(), key=lambda ij: found.p[tuple(ij)])
    return [
        HigherWhileOff(
            higher_db=float(found.change[i, j]),
            heard_by=tuple(c.name for c in _hearing(scan.pairs[i][j][1], conditions)),
            **scan.told(found, q, (i, j)),
        )
        for i, j in at
    ]
