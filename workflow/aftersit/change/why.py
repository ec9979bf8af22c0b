"""Why a sitting's result differs between two records: codes with their numbers.

Conditions go by how far they came towards being met in all, the farthest first.

The distance of a condition to its threshold moves because the threshold did, or because
the measure did (another band or region, other cleaning). Both are told in dB.
"""

from dataclasses import dataclass

import numpy as np

from aftersit.change.figures_of import distances_db, scored_blocks
from aftersit.record import ConditionResult, Record

_SMALL_DB = 0.05
_SMALL_S = 1.0


@dataclass(frozen=True)
class Why:
    """One reason.

    Attributes
    ----------
    code : str
        `status`, `threshold`, `measure`, `condition-added`, `condition-gone`, `together`,
        `usable`, `electrodes` or `timing`.
    what : str
        Condition, electrodes or status that it is about; empty where it is about none.
    amount : float or None
        dB towards being met for `threshold` and `measure`, seconds for `usable`.
    """

    code: str
    what: str = ""
    amount: float | None = None


def reasons(a: Record, b: Record, timing_differs: bool = False) -> tuple[Why, ...]:
    """Why B is not A.

    Parameters
    ----------
    timing_differs : bool
        Whether the two protocols time or gate the reward differently.
    """
    found = []
    if a.status != b.status:
        found.append(Why("status", b.status))
    found += _conditions(a, b)
    if _needed(a) != _needed(b) and len(a.conditions) == len(b.conditions):
        found.append(Why("together", str(_needed(b))))
    found += [Why("timing")] if timing_differs else []
    usable_s = b.quality.usable_s - a.quality.usable_s
    if abs(usable_s) >= _SMALL_S:
        found.append(Why("usable", "", usable_s))
    if set(a.quality.good_electrodes) != set(b.quality.good_electrodes):
        other = set(a.quality.good_electrodes) ^ set(b.quality.good_electrodes)
        found.append(Why("electrodes", ", ".join(sorted(other))))
    return tuple(found)


def _needed(record: Record) -> int:
    return len(record.conditions) if record.needed is None else record.needed


def _conditions(a: Record, b: Record) -> list[Why]:
    one, two = ({c.name: c for c in r.conditions} for r in (a, b))
    found = [Why("condition-added", name) for name in two if name not in one]
    found += [Why("condition-gone", name) for name in one if name not in two]
    moved = [_moved(a, b, one[name], two[name]) for name in one if name in two]
    moved.sort(key=lambda parts: -abs(sum(w.amount for w in parts)))
    return found + [why for parts in moved for why in parts]


def _moved(a: Record, b: Record, one: ConditionResult, two: ConditionResult) -> list[Why]:
    """How far a condition came towards being met by its threshold, and by its measure."""
    near = [distances_db(r).get(one.name) for r in (a, b)]
    levels = [_threshold_db(r, one.name) for r in (a, b)]
    if None in near or None in levels or one.direction != two.direction:
        return []
    total = near[1] - near[0]
    sign = 1 if one.direction == "above" else -1
    by_threshold = -sign * (levels[1] - levels[0])
    if one.unit != two.unit:
        return [Why("measure", one.name, total)]
    parts = (("threshold", by_threshold), ("measure", total - by_threshold))
    return [Why(code, one.name, db) for code, db in parts if abs(db) >= _SMALL_DB]


def _threshold_db(record: Record, name: str) -> float | None:
    """Level of the thresholds that held, in dB, over blocks by their known time."""
    total, weight = 0.0, 0.0
    for block in scored_blocks(record):
        known_s = block.seconds.reward_s + block.seconds.no_reward_s
        for c in block.conditions:
            if c.name == name and c.threshold and c.threshold > 0 and known_s > 0:
                end = c.threshold_end if c.threshold_end else c.threshold
                total += known_s * 5 * float(np.log10(c.threshold) + np.log10(end))
                weight += known_s
    return total / weight if weight else None
