"""Thresholds of each practice block, from the last baseline block before it.

The level is the mean of the smoothed power (a percentile rule takes the
percentile beside it) over the decisions whose whole smoothing window lies inside
the baseline block and which are known, neither in a bad span nor with a swing that
shuts the artefact gate. Only a block that
has ended before the practice begins counts, so that a threshold never rests on
later samples.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.protocol import Condition
from aftersit.protocol_rules import FixedRule, PercentileThreshold
from aftersit.replay.settings import ReplaySettings
from aftersit.sheet import Kind

_SLACK_S = 1e-9


@dataclass(frozen=True)
class Threshold:
    """A condition's threshold in one block, or where it starts; None when it has none."""

    level: float | None
    value: float | None
    usable_s: float | None
    """Seconds of baseline behind it; None for absolute thresholds."""


def baseline_for(blocks: Sequence[Block], practice: Block) -> Block | None:
    """The last baseline block that ends before a practice block starts."""
    earlier = [
        b for b in blocks if b.kind is Kind.BASELINE and b.stop_s <= practice.start_s + _SLACK_S
    ]
    return max(earlier, key=lambda b: b.stop_s, default=None)


def threshold(
    condition: Condition,
    value: np.ndarray,
    times_s: np.ndarray,
    base: Block | None,
    smoothing_s: float,
    settings: ReplaySettings,
) -> Threshold:
    """Threshold of a condition in a block whose baseline is `base`.

    Parameters
    ----------
    value : ndarray, shape (n_rows,)
        Smoothed measure at each decision, NaN where it is not known or not to be used.
    times_s : ndarray, shape (n_rows,)
        Times of the decisions, evenly spaced.
    """
    if not condition.rests_on_baseline:
        return Threshold(None, condition.start_rule.absolute, None)
    usable = _usable(value, times_s, base, smoothing_s)
    usable_s = len(usable) * float(times_s[1] - times_s[0]) if len(usable) else 0.0
    level = float(usable.mean()) if usable_s >= settings.baseline_min_s else 0.0
    if not level > 0:
        return Threshold(None, None, usable_s)
    return Threshold(level, _limit(condition.start_rule, level, usable), usable_s)


def _limit(rule: FixedRule, level: float, usable: np.ndarray) -> float:
    if isinstance(rule, PercentileThreshold):
        return float(np.percentile(usable, rule.percentile_of_baseline))
    return level * 10 ** (rule.db_over_baseline / 10)


def inside_baseline(times_s: np.ndarray, base: Block, smoothing_s: float) -> np.ndarray:
    """Decisions whose whole smoothing window lies inside a block; ndarray of bool."""
    return (times_s - smoothing_s >= base.start_s - _SLACK_S) & (times_s <= base.stop_s + _SLACK_S)


def _usable(
    value: np.ndarray, times_s: np.ndarray, base: Block | None, smoothing_s: float
) -> np.ndarray:
    if base is None:
        return np.empty(0)
    return value[inside_baseline(times_s, base, smoothing_s) & ~np.isnan(value)]
